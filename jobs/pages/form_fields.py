"""The fields of which the forms of a job are made."""

import re

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


class TemperatureInput(forms.TextInput):
    """A number with degrees Celsius or Fahrenheit to choose beside it. A phone's keys for numbers have no minus: the
    button that turns the sign, and those keys, come by script (degrees.js)."""

    units = ("°C", "°F")

    def render(self, name, value, attrs=None, renderer=None):
        beside = {"aria-label": "Degrees", "class": "unit-beside degrees"}
        if attrs and "id" in attrs:
            beside["id"] = f"{attrs['id']}-unit"
        choices = [(unit, unit) for unit in self.units]
        select = forms.Select(beside, choices).render(f"{name}-unit", "°C", renderer=renderer)
        return format_html(TURNED, super().render(name, value, attrs, renderer), select)

    def value_from_datadict(self, data, files, name):
        """As typed; a bare number with the degrees that were chosen, where they are not Celsius."""
        value = super().value_from_datadict(data, files, name)
        bare = isinstance(value, str) and value.strip()[-1:].isdigit()
        return f"{value} °F" if bare and data.get(f"{name}-unit") == "°F" else value


TURNED = (
    '<span class="with-unit">'
    '<button type="button" class="quiet sign" aria-label="Below or above zero" hidden>±</button>{}{}</span>'
)


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
        widget=TemperatureInput(attrs={"inputmode": "text", "autocomplete": "off"}),
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
