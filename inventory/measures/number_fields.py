"""Form fields for numbers that are no quantities: counts, percentages, temperatures, prices.

Each is a text input, for a browser's own number field drops a comma unseen and makes 980 of 9,80. What is typed is
read by inventory.measures.numbers and shown again as typed when the form comes back.
"""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db import models
from django.utils.text import capfirst

from inventory.measures.money import parse_money, plain_money
from inventory.measures.numbers import ENGLISH, Ambiguous, Style, read_number, written
from inventory.text.refusal import Refused


class TypedNumberField(forms.Field):
    """A number as text. style: how whoever types it writes numbers."""

    style: Style = ENGLISH
    inputmode = "decimal"

    def __init__(self, **kwargs: Any):
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": self.inputmode, "autocomplete": "off"}))
        super().__init__(**kwargs)

    def read(self, text: str) -> Any:
        """What the text says. Raises Refused."""
        raise NotImplementedError

    def to_python(self, value: Any) -> Any:
        if value is None or not isinstance(value, str):  # an initial value, of a disabled field
            return value
        if not value.strip():
            return None
        try:
            return self.read(value)
        except Refused as refusal:
            raise ValidationError(refusal.message, code="refused") from refusal


class NumberField(TypedNumberField):
    """A number from `least` to `most`, cleaned to a Decimal; to an int where it has no `places`.

    places: how many decimals are taken. unit: as it is named in a refusal. as_float: for a column of measurements
    that are kept as floats.
    """

    def __init__(
        self, *, least: float, most: float, places: int = 0, unit: str = "", as_float: bool = False, **kwargs: Any
    ):
        self.least, self.most = Decimal(str(least)), Decimal(str(most))
        self.places, self.unit, self.as_float = places, unit, as_float
        # A phone's keys for numbers have no minus.
        self.inputmode = "text" if least < 0 else "decimal" if places else "numeric"
        sentence = kwargs.pop("sentence", "") or self._sentence()
        self.sentence = sentence
        kwargs["error_messages"] = {"required": sentence} | (kwargs.get("error_messages") or {})
        super().__init__(**kwargs)

    def _sentence(self) -> str:
        least, most = (written(limit, self.style) for limit in (self.least, self.most))
        number = "a number" if self.places else "a whole number"
        return f"Write {number} from {least} to {most}{' ' if self.unit else ''}{self.unit}."

    def read(self, text: str) -> Decimal | int | float:
        try:
            value = read_number(text, self.style, signed=True)  # under the least is refused with the bounds
        except Ambiguous:
            raise
        except Refused as refused:
            worded = any(character.isdigit() for character in text)
            raise Refused(f"{refused.message} {self.sentence}" if worded else self.sentence) from None
        if not self.least <= value <= self.most:
            raise Refused(self.sentence)
        shown = written(value)
        if len(shown.partition(".")[2]) > self.places:
            decimals = f"{self.places} decimals at most" if self.places else "no decimals"
            raise Refused(f'"{" ".join(text.split())}" has more decimals than are taken, {decimals}. {self.sentence}')
        if not self.places:
            return int(value)
        return float(value) if self.as_float else value

    def prepare_value(self, value: Any) -> Any:
        """What stands in the input: a kept number exactly and no longer than it need be."""
        if isinstance(value, (Decimal, int, float)) and not isinstance(value, bool):
            return written(Decimal(str(value)), self.style)
        return value


class MoneyField(TypedNumberField):
    """An amount in the shop's currency, cleaned to its minor units.

    currency: what answers its code; asked only where there is an amount. The form that knows sets it.
    """

    currency: Callable[[], str]

    def read(self, text: str) -> int:
        return parse_money(text, self.currency(), self.style)

    def prepare_value(self, value: Any) -> Any:
        """A kept amount, in minor units, with all its decimals."""
        return plain_money(value, self.currency()) if type(value) is int else value


def number_of(model: type[models.Model], name: str, **kwargs: Any) -> NumberField:
    """The field of a column of whole numbers: its label and its help are the column's."""
    field = model._meta.get_field(name)
    said = {"label": capfirst(field.verbose_name), "help_text": field.help_text, "required": not field.blank}
    return NumberField(**(said | kwargs))
