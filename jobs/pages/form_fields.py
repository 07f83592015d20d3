"""The fields of which the forms of a job are made."""

import re

from django import forms

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
        label=f"{label}, °C", required=False, least=READ_FROM, most=READ_TO, places=3, unit="°C", as_float=True
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
