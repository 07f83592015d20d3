"""A weight taken out of what a scale sent, and how that is kept beside the weighing. Pure: no Django here.

What was sent travels and is kept as `visible` writes it out: one text, whatever its line ends are.
"""

from dataclasses import dataclass

from inventory.scales.no_reading import NOT_STILL, NoReading, heard, visible
from inventory.scales.string_forms import TICKET_FORM, TYPED_FORMS
from inventory.scales.string_lines import ENDS, TYPED_ENDS, LineBuffer
from inventory.scales.strings import Guess, ScaleForm, ScaleReading, forms_that_read, read, two_agree

STABLE, TWO_AGREE, PRINT_KEY = "stable", "state not sent, two lines agree", "state not sent, sent by its key"
LONGEST = 1000  # characters of what is kept: a line has some thirty, a ticket some hundred
SAYS = " | "  # between what was sent and what was understood of it


@dataclass(frozen=True)
class Taken:
    """A weight that may be taken. steady: STABLE, TWO_AGREE or PRINT_KEY. value: as a field for weights reads it."""

    reading: ScaleReading
    steady: str
    sent: str

    @property
    def value(self) -> str:
        return self.reading.figure.replace(",", ".")

    @property
    def said(self) -> str:
        return f"{self.reading.basis or 'gross or net not sent'}, {self.steady}"

    @property
    def kept(self) -> str:
        """What is kept with the weighing: the line as it came, and what was understood of it then."""
        unit = "" if self.reading.unit_sent else f", unit {self.reading.unit} by its set-up"
        return f"{self.sent}{SAYS}{self.said}{unit}"


def take(sent: str, scale: ScaleForm) -> Taken:
    """The weight of the last line in `sent` (written out as `visible` does it), or of the ticket that it is. Of a form
    without a state, two lines must agree; one alone came by the scale's print key, as whoever takes it says.

    Raises NoReading.
    """
    raw = heard(sent)
    if scale.form == TICKET_FORM:
        return Taken(read(raw, scale), PRINT_KEY, visible(raw))
    buffer = LineBuffer(from_start=True, ends=TYPED_ENDS if scale.form in TYPED_FORMS else ENDS)
    lines = buffer.feed(raw)
    last = buffer.waiting or (lines[-1] if lines else raw)  # whatever is no whole line, `read` says of it
    reading = read(last, scale)
    if reading.stable:
        return Taken(reading, STABLE, visible(last))
    if len(lines) < 2:
        return Taken(reading, PRINT_KEY, visible(last))
    if not two_agree(read(lines[-2], scale), reading, scale.division_mg):
        raise NoReading(NOT_STILL)
    return Taken(reading, TWO_AGREE, visible(lines[-2] + last))


def shown(kept: str) -> str:
    """What was kept, as pages and papers show it: without the ends of lines that everybody's scale sends."""
    sent, _, said = kept.partition(SAYS)
    for end in ("<CR>", "<LF>", "<TAB>"):
        sent = sent.replace(end, " ")
    return f"{sent.strip()} ({said})" if said else sent.strip()


def typed(text: str) -> str:
    """What somebody typed, or a keyboard-like scale, as a complete line or ticket. Blanks in front say something, so
    nothing is cut off but line ends at the end; where there is none, Enter was the end."""
    raw = heard(text.replace("\r\n", "\r")).rstrip("\r\n")
    return raw if raw.endswith("\x03") else f"{raw}\r"


def meanings(text: str, division_mg: int) -> list[Guess]:
    """What a typed line or ticket can mean, in each form that knows it. Raises NoReading for one that is not whole."""
    raw = typed(text)
    guesses = forms_that_read(raw, division_mg)
    if "\r" in raw[:-1] or "\n" in raw[:-1]:  # several lines are a ticket, or one line and another
        return [guess for guess in guesses if guess.form.form == TICKET_FORM]
    return guesses
