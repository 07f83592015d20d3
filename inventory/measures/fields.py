"""Model and form fields for quantities: whole milligrams (mass) and microlitres (volume).

A form field is one text input. What is typed is read by inventory.measures.quantity, and shown again as typed
when the form comes back; what is kept is shown exactly, so a form sent unchanged changes nothing.
"""

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db import models
from django.utils.html import format_html

from inventory.measures.quantity import exact, exact_number, parse
from inventory.measures.units import DIMENSIONS, MASS, POUNDS_AND_OUNCES, VOLUME, WATER
from inventory.text.refusal import Refused


class TypedText(str):
    """The text typed into a field, with the unit that stood beside the field when the page was made."""

    unit_beside: str | None = None


class QuantityInput(forms.TextInput):
    """A text input that carries its unit as data-unit.

    Where a bare number is read in the unit beside the field, the page also sends that unit: a page opened
    before its reader chose other units must not be read in the new ones.
    """

    sends_unit: str | None = None
    units: tuple[str, ...] = ()  # to choose from beside the field, where its reader may weigh in any of them

    def render(self, name, value, attrs=None, renderer=None):
        field = super().render(name, value, attrs, renderer)
        if self.sends_unit is None:
            return field
        if self.units:
            choices = [(unit, unit) for unit in self.units]
            beside = {"aria-label": "Unit", "class": "unit-beside"}
            select = forms.Select(beside, choices).render(f"{name}-unit", self.sends_unit, renderer=renderer)
            return format_html('<span class="with-unit">{}{}</span>', field, select)
        return format_html('{}<input type="hidden" name="{}-unit" value="{}">', field, name, self.sends_unit)

    def value_from_datadict(self, data, files, name):
        value = data.get(name)
        if isinstance(value, str):
            value = TypedText(value)
            value.unit_beside = data.get(f"{name}-unit")
        return value


class QuantityFormField(forms.Field):
    """A quantity as text, cleaned to an int in mg (mass, water) or uL (volume), or to None where blank.

    dimension: MASS, VOLUME or WATER. unit: what values are shown in, a unit or `lb oz`; it may be set
    again after the form is made (form.fields["net"].unit = "oz").
    assume_unit: a bare number is read in that unit. Only for fields beside which the unit stands in sight.
    signed: a minus sign is taken. allow_zero: whether 0 is a quantity here.
    """

    widget = QuantityInput

    def __init__(
        self,
        *,
        dimension: str,
        unit: str | None = None,
        assume_unit: bool = False,
        signed: bool = False,
        allow_zero: bool = True,
        **kwargs: Any,
    ):
        self.dimension = dimension
        self.kind = DIMENSIONS[dimension]
        self.assume_unit, self.signed, self.allow_zero = assume_unit, signed, allow_zero
        messages = {"required": f"The quantity is blank. Type a quantity, e.g. {self.kind.example}."}
        kwargs["error_messages"] = messages | (kwargs.get("error_messages") or {})
        super().__init__(**kwargs)
        self.unit = unit or self.kind.default_unit

    @property
    def unit(self) -> str:
        return self._unit

    @unit.setter
    def unit(self, unit: str) -> None:
        if unit not in self.kind.styles:
            raise ValueError(f"{unit!r} is no unit of {self.dimension}")
        self._unit = unit
        bare = self.assume_unit and unit != POUNDS_AND_OUNCES
        # A phone's decimal keys have no letters, so they are asked for only where no unit need be typed.
        self.widget.attrs |= {
            "data-unit": unit,
            "inputmode": "decimal" if bare else "text",
            "autocomplete": "off",
            "autocapitalize": "off",
            "spellcheck": "false",
        }
        self.widget.sends_unit = unit if bare else None

    def to_python(self, value: Any) -> int | None:
        if value is None or type(value) is int:  # an initial value, of a disabled field
            return value
        if not value.strip():
            return None
        try:
            return parse(value, self.dimension, signed=self.signed, assume=self._assumed(value))
        except Refused as refusal:
            raise ValidationError(refusal.message, code="refused") from refusal

    def validate(self, value: int | None) -> None:
        super().validate(value)
        if value == 0 and not self.allow_zero:
            raise ValidationError(
                f"The quantity is 0, and it must be more. Type a quantity, e.g. {self.kind.example}.",
                code="zero",
            )

    def prepare_value(self, value: Any) -> Any:
        """What stands in the input: a kept value exactly, a typed text as typed.

        A bare number typed beside another unit than is now shown gets that unit, so that it means the same.
        """
        if type(value) is int:
            return exact_number(value, self.unit) if self.widget.sends_unit else exact(value, self.unit)
        beside = self._assumed(value) if isinstance(value, TypedText) else None
        if beside and beside != self.unit and _BARE_NUMBER.fullmatch(value):
            return f"{value} {beside}"
        return value

    def _assumed(self, value: str) -> str | None:
        if not self.assume_unit:
            return None
        beside = getattr(value, "unit_beside", None)
        return beside if beside in self.kind.units else self.unit


_BARE_NUMBER = re.compile(r"[0-9.,+\- ]*[0-9]")


class MassFormField(QuantityFormField):
    """A mass; cleaned to milligrams. Arguments as for QuantityFormField."""

    def __init__(self, **kwargs: Any):
        super().__init__(dimension=MASS, **kwargs)


class VolumeFormField(QuantityFormField):
    """A volume of oil; cleaned to microlitres. Arguments as for QuantityFormField."""

    def __init__(self, **kwargs: Any):
        super().__init__(dimension=VOLUME, **kwargs)


class WaterCapacityFormField(QuantityFormField):
    """A water capacity, typed as a mass or a volume; cleaned to milligrams of water."""

    def __init__(self, **kwargs: Any):
        super().__init__(dimension=WATER, **kwargs)


class WholeQuantityField(models.BigIntegerField):
    """A column of whole mg or uL. It takes int alone: Django's own integer columns make 1.9 a 1 unsaid."""

    default_error_messages = {"invalid": "%(value)r is no whole number of the smallest unit kept."}
    form_field: type[QuantityFormField]

    def to_python(self, value: Any) -> int | None:
        """Also reads the digits that a serialized fixture holds. Raises ValidationError for anything else."""
        if value is None or type(value) is int:
            return value
        if isinstance(value, str) and _INTEGER.fullmatch(value):
            return int(value)
        raise ValidationError(self.error_messages["invalid"], code="invalid", params={"value": value})

    def get_prep_value(self, value: Any) -> Any:
        """The value for the database. Raises TypeError for anything but int, None and expressions."""
        value = models.Field.get_prep_value(self, value)  # resolves lazy values, and no more
        if value is None or type(value) is int or hasattr(value, "resolve_expression"):
            return value
        raise TypeError(f"{self.name or 'a quantity'} takes a whole number (int), not {value!r}")

    def formfield(self, **kwargs: Any) -> forms.Field | None:
        return models.Field.formfield(self, **{"form_class": self.form_field, **kwargs})


_INTEGER = re.compile(r"-?[0-9]{1,19}")


class MassField(WholeQuantityField):
    """A mass in whole milligrams."""

    description = "Mass in whole milligrams"
    form_field = MassFormField


class VolumeField(WholeQuantityField):
    """A volume of oil in whole microlitres."""

    description = "Volume in whole microlitres"
    form_field = VolumeFormField
