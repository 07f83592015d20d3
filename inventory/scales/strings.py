"""A weight out of what a scale sends, or the reason that none is taken. Pure: no Django here.

Only a line that is complete, says that it is stable or comes of a form that cannot say it, and has a unit, is read; its
form was confirmed once against the scale's display. Nothing is guessed after that. Of a form without a state
(WITHOUT_STATE) the print key says it, or two lines that agree (`two_agree`).
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from inventory.measures.numbers import SCALE
from inventory.measures.quantity import parse
from inventory.measures.units import MASS, POUNDS_AND_OUNCES
from inventory.scales.no_reading import (
    COARSE,
    COUNT,
    ERROR,
    GROSS_SENT,
    INCOMPLETE,
    NET_SENT,
    NO_UNIT,
    NO_WEIGHT,
    OTHER_FORM,
    OVERLOAD,
    PERCENT,
    TARE,
    TICKET,
    TWO_DECIMAL_SIGNS,
    UNDERLOAD,
    UNIT_NOT_SET,
    UNIT_NOT_TAKEN,
    UNSTABLE,
    ZERO_OFF,
    NoReading,
    shortly,
)
from inventory.scales.string_forms import (
    ALIKE,
    FORMS,
    GROSS,
    MEASUREMENT_FORM,
    MEASUREMENT_STEPS_MG,
    NET,
    NOT_SAID,
    PRESET_TARE,
    STABLE,
    TAKEN_MARKS,
    TICKET_FORM,
    TYPED_FORMS,
    USUAL_LETTERS,
    WITHOUT_UNIT,
    Sent,
    sent,
    ticket,
)
from inventory.scales.string_lines import ENDS, LINE_LIMIT, TAB
from inventory.text.refusal import Refused

UNITS = ("g", "kg", "lb", "oz")  # that a scale's line is taken in, beside pounds and ounces as two numbers
LETTERS_MEAN = (GROSS, NET, STABLE, UNSTABLE, OVERLOAD, UNDERLOAD, ERROR, TARE)
TICKET_LIMIT = 20 * LINE_LIMIT  # characters


@dataclass(frozen=True)
class ScaleForm:
    """How a scale sends its weights, as somebody confirmed it once against its display.

    form: a number of FORMS. division_mg: the scale's smallest step. unit: one of UNITS, where the form sends none
    (WITHOUT_UNIT); "" until somebody says it. expects: GROSS or NET, what its weights are taken as; of a ticket, which.
    letters: what single letters of forms 5, 6 and 7 mean with this scale where that is not the usual: one of
    LETTERS_MEAN. What usually speaks against a weight cannot be made to speak for it. Raises ValueError.
    """

    form: int
    division_mg: int
    unit: str = ""
    expects: str = GROSS
    letters: Mapping[str, str] = field(default_factory=dict, hash=False)

    def __post_init__(self):
        if self.form not in FORMS:
            raise ValueError(f"there is no form {self.form!r}: they are 1 to {len(FORMS)}")
        if self.division_mg <= 0:
            raise ValueError(f"a division is over 0 mg, and {self.division_mg} is not")
        if self.unit and self.unit not in UNITS:
            raise ValueError(f"{self.unit!r} is no unit of a scale: use one of {', '.join(UNITS)}")
        if self.expects not in {GROSS, NET}:
            raise ValueError(f"a scale's weights are {GROSS} or {NET}, not {self.expects!r}")
        if self.letters and self.form not in USUAL_LETTERS:
            raise ValueError(f"form {self.form} has no letters that differ from scale to scale")
        for letter, meaning in self.letters.items():
            usual = USUAL_LETTERS[self.form].get(letter, STABLE)
            if len(letter) != 1 or letter != letter.upper() or meaning not in LETTERS_MEAN:
                raise ValueError(f"{letter!r} cannot mean {meaning!r}: a capital letter or sign means a known state")
            if meaning in TAKEN_MARKS and usual not in TAKEN_MARKS:
                raise ValueError(f"{letter!r} usually says {usual}, and cannot mean {meaning}")


@dataclass(frozen=True)
class ScaleReading:
    """A weight that a scale sent.

    mg: whole, half to even. figure: as the display has it, `0.412 kg`. unit: one of UNITS or `lb oz`; unit_sent: false
    where it is the set-up's. stable: True, or None where the form cannot say it. basis: GROSS, NET, or NOT_SAID.
    raw: what came, as it came (`visible` writes it out to be kept). tare_mg: of a ticket; preset_tare: whether that was
    typed and not weighed.
    """

    mg: int
    figure: str
    unit: str
    unit_sent: bool
    stable: bool | None
    basis: str
    raw: str
    tare_mg: int | None = None
    preset_tare: bool = False


@dataclass(frozen=True)
class Guess:
    """What a line is in one form: a reading to be compared with the display, or why that form takes none from it."""

    form: ScaleForm
    reading: ScaleReading | None = None
    refusal: NoReading | None = None


def read(raw: str, scale: ScaleForm) -> ScaleReading:
    """The weight that one complete line says, or the lines of a ticket, with their ends. Untrimmed: blanks count.

    Raises NoReading with a sentence that says why there is none and what to do.
    """
    text = _without_end(raw, scale.form)
    if len(raw) > (TICKET_LIMIT if scale.form == TICKET_FORM else LINE_LIMIT):
        raise NoReading(OTHER_FORM, raw=shortly(text))
    if scale.form == TICKET_FORM:
        return _from_ticket(text, raw, scale)
    said = sent(scale.form, text, scale.letters)
    if scale.form == MEASUREMENT_FORM and scale.division_mg < MEASUREMENT_STEPS_MG[said.unit]:
        raise NoReading(COARSE, step="5 g" if said.unit == "kg" else "0.01 lb")
    mg, unit, figure = _weighed(said, text, scale)
    _fits_expected(said.basis, mg, figure, scale)
    return ScaleReading(mg, figure, unit, bool(said.unit), said.stable or None, said.basis, raw)


def forms_that_read(raw: str, division_mg: int) -> list[Guess]:
    """Every form, with unit and meaning, that a complete line can be in, for somebody to confirm one at the display.

    Where a form knows the line and takes no weight from it, the guess says why. A line without unit is guessed in each;
    a letter with two meanings in both. Raises NoReading for a line that is not complete.
    """
    _without_end(raw, TYPED_FORMS[0])
    found: dict[tuple, Guess] = {}
    for scale in _set_ups(division_mg):
        try:
            reading = read(raw, scale)
        except NoReading as refusal:
            if refusal.why not in _SAYS_NOTHING_OF_A_FORM:
                found.setdefault((scale.form, refusal.why), Guess(scale, refusal=refusal))
        else:
            found.setdefault((scale.form, reading), Guess(scale, reading=reading))
    return list(found.values())


def two_agree(a: ScaleReading, b: ScaleReading, division_mg: int) -> bool:
    """Whether two lines sent one after the other say the same weight, within one division: the load stood still."""
    same = (a.unit, a.basis) == (b.unit, b.basis)
    return same and abs(a.mg - b.mg) <= division_mg + 1  # each is rounded to a whole milligram


_SAYS_NOTHING_OF_A_FORM = {OTHER_FORM, INCOMPLETE, NO_UNIT, GROSS_SENT, NET_SENT}
_OTHERS_FOR_U = {5: UNDERLOAD, 6: UNSTABLE, 7: UNSTABLE}


def _set_ups(division_mg: int) -> Iterator[ScaleForm]:
    for form in (form for form in FORMS if form not in ALIKE):
        for unit in UNITS if form in WITHOUT_UNIT else ("",):
            for expects in (GROSS, NET):
                yield ScaleForm(form, division_mg, unit, expects)
        if form in _OTHERS_FOR_U:
            yield ScaleForm(form, division_mg, UNITS[0], letters={"U": _OTHERS_FOR_U[form]})


def _without_end(raw: str, form: int) -> str:
    """The text of a complete line or ticket. Raises NoReading for one that is not complete."""
    ends = ENDS + TAB if form in TYPED_FORMS else ENDS
    body = raw.strip(ends)
    if not body.strip(" "):
        raise NoReading(INCOMPLETE, raw=shortly(raw), missing="its weight")
    if raw[-1] not in ends:
        raise NoReading(INCOMPLETE, raw=shortly(raw), missing="the end of the line")
    return body


# One weight

_MEANS = {
    "G": ", which can be gram or gross,",
    "N": ", which can be newton or net,",
    "t": " (tonne or ton)",
    "mg": " (milligram)",
    "ozt": " (ounce of precious metals)",
    "lb:oz": " before one number alone",
}


def _weighed(said: Sent, text: str, scale: ScaleForm) -> tuple[int, str, str]:
    """Milligrams, unit, and the figure as the display has it."""
    symbol = _symbol(said, text, scale)
    figure = f"{said.sign.strip('+')}{_display(said.number)} {symbol}"
    if said.ounces:
        figure += f" {_display(said.ounces)} oz"
    try:
        mg = parse(figure, MASS, signed=True, style=SCALE)
    except Refused as refused:  # more than a scale carries, pounds that are not whole, sixteen ounces
        raise NoReading(NO_WEIGHT, raw=shortly(text)) from refused
    return mg, POUNDS_AND_OUNCES if said.ounces else symbol, figure


def _symbol(said: Sent, text: str, scale: ScaleForm) -> str:
    unit = said.unit
    if not unit:
        if scale.form not in WITHOUT_UNIT:
            raise NoReading(NO_UNIT, raw=shortly(text))
        if not scale.unit:
            raise NoReading(UNIT_NOT_SET, raw=shortly(text))
        return scale.unit
    symbol = "lb" if said.ounces else unit.lower()
    if symbol in {"pc", "pcs"}:
        raise NoReading(COUNT)
    if symbol == "%":
        raise NoReading(PERCENT)
    if symbol not in UNITS or (unit == "G" and not said.placed):
        raise NoReading(UNIT_NOT_TAKEN, unit=shortly(unit), means=_MEANS.get(unit) or _MEANS.get(symbol, ""))
    return symbol


def _display(number: str) -> str:
    """Without the zeros that fill a line in front. Raises NoReading for two decimal signs."""
    if len(re.findall("[.,]", number)) > 1:
        raise NoReading(TWO_DECIMAL_SIGNS, number=shortly(number))
    return re.sub(r"^0+(?=[0-9])", "", number)


def _fits_expected(basis: str, mg: int, figure: str, scale: ScaleForm) -> None:
    """A weight of which nothing is said is what is expected of the scale. A gross one is not under zero."""
    if basis not in {NOT_SAID, scale.expects}:
        raise NoReading(NET_SENT if basis == NET else GROSS_SENT)
    if scale.expects == GROSS and mg < -scale.division_mg:
        raise NoReading(ZERO_OFF, figure=figure)


def _from_ticket(text: str, raw: str, scale: ScaleForm) -> ScaleReading:
    """Gross or net of a ticket, whichever is expected, where its three weights agree within one division."""
    lines = [line for line in re.split(f"[{ENDS}]", text) if line.strip(" ")]
    if max(map(len, lines)) > LINE_LIMIT:
        raise NoReading(OTHER_FORM, raw=shortly(text))
    said = ticket(lines)
    tare = PRESET_TARE if PRESET_TARE in said else TARE
    for name in (GROSS, tare, NET):
        if name not in said:
            raise NoReading(INCOMPLETE, raw=shortly(text), missing=f"its line for {name}")
    weights = {name: _weighed(one, text, scale) for name, one in said.items()}
    figures = {name: figure for name, (_, _, figure) in weights.items()}
    if len({unit for _, unit, _ in weights.values()}) > 1:
        raise NoReading(TICKET, wrong=f"its units differ ({', '.join(figures.values())})")
    gross, tare_mg, net = (weights[name][0] for name in (GROSS, tare, NET))
    if abs(gross - tare_mg - net) > scale.division_mg + 2:  # each is rounded to a whole milligram
        wrong = f"gross {figures[GROSS]} less tare {figures[tare]} is not net {figures[NET]}"
        raise NoReading(TICKET, wrong=wrong)
    if gross < -scale.division_mg:
        raise NoReading(ZERO_OFF, figure=figures[GROSS])
    mg, unit, figure = weights[scale.expects]
    return ScaleReading(mg, figure, unit, True, None, scale.expects, raw, tare_mg, tare == PRESET_TARE)
