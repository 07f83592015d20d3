"""The fields of which the forms of a job are made."""

import re
from collections.abc import Sequence

from django import forms
from django.utils.html import format_html

from inventory.measures.number_fields import NumberField
from inventory.measures.numbers import read_number


def note_field(label: str, help_text: str = "") -> forms.CharField:
    widget = forms.Textarea(attrs={"rows": 3, "autocomplete": "off"})
    return forms.CharField(label=label, required=False, max_length=2000, help_text=help_text, widget=widget)


def text_field(label: str, most: int, help_text: str = "", **attrs: str) -> forms.CharField:
    widget = forms.TextInput(attrs={"autocomplete": "off", **attrs})
    return forms.CharField(label=label, required=False, max_length=most, help_text=help_text, widget=widget)


def number_field(label: str, least: float, most: float, unit: str) -> NumberField:
    return NumberField(
        label=f"{label}, {unit}", required=False, least=least, most=most, places=3, unit=unit, as_float=True
    )


class ReadingInput(forms.TextInput):
    """A reading with its unit to choose beside it, which counts for a bare number. assumed: the unit that a bare number
    has anyway; without one nothing is chosen, until the browser knows which was used last (reading.js). That script
    also asks for a phone's number keys, and shows the button that turns the sign, for they have no minus."""

    def __init__(self, units: Sequence[str], assumed: str = "", signed: bool = False):
        super().__init__({"inputmode": "text", "autocomplete": "off"})
        self.units, self.assumed, self.signed = units, assumed, signed

    def render(self, name, value, attrs=None, renderer=None):
        beside = {"aria-label": "Unit", "class": "unit-beside used-last"}
        if attrs and "id" in attrs:
            beside["id"] = f"{attrs['id']}-unit"
        choices = [(unit, unit) for unit in self.units]
        if not self.assumed:
            choices.insert(0, ("", "unit"))
        select = forms.Select(beside, choices).render(f"{name}-unit", self.assumed, renderer=renderer)
        return format_html(SIGNED if self.signed else BESIDE, super().render(name, value, attrs, renderer), select)

    def value_from_datadict(self, data, files, name):
        """As typed; a bare number with the unit that was chosen, where it is not the one assumed."""
        value = super().value_from_datadict(data, files, name)
        unit = data.get(f"{name}-unit")
        bare = isinstance(value, str) and value.strip()[-1:].isdigit()
        return f"{value.strip()} {unit}" if bare and unit in self.units and unit != self.assumed else value


BESIDE = '<span class="with-unit">{}{}</span>'
TURN = '<button type="button" class="quiet sign" aria-label="Below or above zero" hidden>±</button>'
SIGNED = BESIDE.replace("{}", TURN + "{}", 1)

# What gauges show, by the kind of a job's field.
GAUGE_UNITS = {"pressure": ("bar", "psi", "kPa", "MPa"), "vacuum": ("micron", "mbar", "Pa", "inHg")}


def gauge_field(label: str, most: int, help_text: str, kind: str) -> forms.CharField:
    widget = ReadingInput(GAUGE_UNITS[kind])
    return forms.CharField(label=label, required=False, max_length=most, help_text=help_text, widget=widget)


class TemperatureField(NumberField):
    """Degrees Celsius; a number that says °F is read in those, to a tenth of a degree Celsius."""

    inputmode = "text"

    def read(self, text: str) -> float:
        number = FAHRENHEIT.fullmatch(text.strip())
        if number is None:
            return super().read(re.sub(r"\s*°? ?[cC]$", "", text.strip()))
        degrees = read_number(number[1], self.style, signed=True)
        return super().read(str(round((degrees - 32) * 5 / 9, 1)))


FAHRENHEIT = re.compile(r"(.*\d)\s*°? ?[fF]")


# Beyond what air or a unit can be at: what is typed for degrees Fahrenheit is asked about (readings.py), not refused.
READ_FROM, READ_TO = -90, 200


def temperature_field(label: str) -> TemperatureField:
    return TemperatureField(
        label=label,
        required=False,
        least=READ_FROM,
        most=READ_TO,
        places=3,
        unit="°C",
        as_float=True,
        widget=ReadingInput(("°C", "°F"), assumed="°C", signed=True),
    )


def moment_field(label: str) -> forms.DateTimeField:
    return forms.DateTimeField(
        label=label,
        required=False,
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        input_formats=["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M"],
        error_messages={"invalid": "Write day and time as 2026-03-02T09:30."},
    )


class Asking:
    """A form whose readings may be asked about (readings.py). doubts: those that are; sure_given: those that were, and
    are right as they were typed."""

    doubts = ()

    @property
    def sure_given(self) -> list[str]:
        return self.data.getlist("sure") if hasattr(self.data, "getlist") else []
