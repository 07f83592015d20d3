"""The forms of a scale: its check, what is known of it, and what it sends."""

from collections.abc import Mapping

from django import forms

from inventory.asking.asked import Asks, confirmed
from inventory.containers.models import CONNECTS, PARITIES
from inventory.measures.fields import MassFormField
from inventory.measures.number_fields import NumberField
from inventory.plausible.expected import Known
from inventory.plausible.references import Shown
from inventory.scales.sending import BAUDS
from inventory.scales.strings import Guess
from inventory.scales.taking import LONGEST
from inventory.shop.forms import DayField, DueField, OnceForm, text


class CheckForm(Asks, OnceForm):
    day = DayField(label="Day")
    reference_mg = MassFormField(label="Reference mass", allow_zero=False, help_text="e.g. 5 kg")
    as_found_mg = MassFormField(label="The scale showed, as found")
    as_left_mg = MassFormField(
        label="After adjusting, as left", required=False, help_text="blank where nothing was adjusted"
    )
    reference = text("Which reference mass", 100, help_text="its number or certificate")
    next_due = DueField(label="Next check due", required=False)
    note = text("Note", 300)

    def known(self, data: dict) -> Mapping[str, Known | None]:
        shown = Shown(data["reference_mg"])
        return {"as_found_mg": shown, "as_left_mg": shown}

    @property
    def told(self) -> str:
        """The note, with what was asked about and is right."""
        sure = (f"{label}: {said}, as it was read." for label, said in confirmed(self).items())
        return " ".join([self.cleaned_data["note"], *sure]).strip()


class ScaleForm(forms.Form):
    code = text("Code", 40, required=True)
    readability_mg = MassFormField(label="Smallest step", help_text="e.g. 1 g", allow_zero=False)
    capacity_mg = MassFormField(label="Capacity", required=False)
    checked_until = DueField(label="Next check due", required=False)
    span_ppm = NumberField(
        label="Limit of its span error, millionths",
        least=1,
        most=50_000,
        required=False,
        help_text="as its maker claims: 500 is 0.05 %, and what is taken where this is blank",
    )
    usual = forms.BooleanField(label="The usual scale, where none is named", required=False)


def _of(label: str, values: tuple) -> forms.TypedChoiceField:
    return forms.TypedChoiceField(label=label, choices=[(one, one) for one in values], coerce=type(values[0]))


class ConnectionForm(forms.Form):
    """How a scale's lines come into a page."""

    connects = forms.ChoiceField(
        label="It sends", required=False, choices=[("", "nothing: its display is read and typed"), *CONNECTS]
    )
    baud = _of("Baud", BAUDS)
    data_bits = _of("Data bits", (8, 7))
    parity = _of("Parity", PARITIES)
    stop_bits = _of("Stop bits", (1, 2))
    service = text("Bluetooth service", 36, help_text="of lines of text, e.g. ffe0", autocapitalize="off")
    characteristic = text("Its characteristic", 36, help_text="that notifies of them, e.g. ffe1", autocapitalize="off")


class LineForm(forms.Form):
    """A line that a scale sent, to see what it can mean."""

    line = forms.CharField(
        label="What it sent",
        strip=False,
        max_length=LONGEST,
        help_text="Blanks count. A ticket is several lines.",
        error_messages={"required": "Read the scale, or type the line that it sent."},
        widget=forms.Textarea(
            attrs={"rows": 2, "autocomplete": "off", "autocapitalize": "off", "spellcheck": "false", "class": "code"}
        ),
    )


class MeaningForm(forms.Form):
    """Which form a line is of, and what the display showed when it was sent."""

    line = forms.CharField(widget=forms.HiddenInput, strip=False, max_length=LONGEST)
    meaning = forms.TypedChoiceField(
        label="It means",
        coerce=int,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose which of these the display showed."},
    )
    shown_mg = MassFormField(
        label="The display showed",
        signed=True,
        help_text="figure and unit, e.g. 0.412 kg",
        error_messages={"required": "Type the figure on the display, with its unit."},
    )

    def __init__(self, *args, guesses: list[Guess], **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["meaning"].choices = [(number, words(guess)) for number, guess in enumerate(guesses)]


def words(guess: Guess) -> str:
    """What a line means in a form, for somebody who compares it with the display."""
    reading = guess.reading
    said = [reading.figure, reading.basis or "gross or net not sent"]
    said.append("stable" if reading.stable else "does not send whether it stands still")
    if not reading.unit_sent:
        said.append(f"sends no unit, always {reading.unit}")
    return f"{', '.join(said)} (form {guess.form.form})"
