"""Columns of models as cells of a log, and back: a quantity with its unit, `yes` for what holds, ISO days and moments.

A cell that was written here is read again as the same value.
"""

import datetime as dt
import json
from collections.abc import Iterable, Mapping

from django.db import models

from inventory.measures.fields import MassField, VolumeField
from inventory.measures.numbers import read_number
from inventory.measures.quantity import exact, parse_mass, parse_volume
from inventory.text.refusal import Refused
from shopledger.logbook.cells import Cells

YES = "yes"


def written(field: models.Field, value: object) -> str:
    """What a cell says of a column's value; blank for nothing."""
    if value in (None, "", [], {}) or value is False:
        return ""
    if value is True:
        return YES
    if isinstance(field, MassField):
        return exact(value, "g")
    if isinstance(field, VolumeField):
        return exact(value, "mL")
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).isoformat()
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(field, models.JSONField):
        return json.dumps(value, ensure_ascii=False, sort_keys=True)
    if isinstance(field, models.FloatField):
        return repr(value)
    return str(value).replace("\r\n", "\n")


def read_fields(cells: Cells, model: type[models.Model], names: Iterable[str]) -> dict[str, object]:
    """What the cells of these columns say, by name; blank ones are left out. What cannot be read is a fault."""
    found: dict[str, object] = {}
    for name in names:
        text = cells.text(name, most=10_000)
        if not text or name in cells.bad:
            continue
        field = model._meta.get_field(name)
        try:
            value = _read(field, text)
        except (Refused, ValueError) as error:
            cells.fault(name, getattr(error, "message", "") or f"{text[:60]!r} cannot be read here.")
            continue
        choices = {choice for choice, _ in field.choices or ()}
        if choices and value not in choices:
            cells.fault(name, f"{text[:60]!r} is none of {', '.join(map(str, sorted(choices)))}; write one of these.")
        elif getattr(field, "max_length", None) and isinstance(value, str) and len(value) > field.max_length:
            cells.fault(name, f"this is {len(value)} characters long; {field.max_length} are the most.")
        else:
            found[name] = value
    return found


def _read(field: models.Field, text: str) -> object:
    if isinstance(field, MassField):
        return parse_mass(text)
    if isinstance(field, VolumeField):
        return parse_volume(text)
    if isinstance(field, models.BooleanField):
        if text != YES:
            raise ValueError
        return True
    if isinstance(field, models.DateTimeField):
        value = dt.datetime.fromisoformat(text)
        if value.tzinfo is None:
            raise ValueError
        return value
    if isinstance(field, models.DateField):
        return dt.date.fromisoformat(text)
    if isinstance(field, models.JSONField):
        value = json.loads(text)
        if type(value) is not type(field.get_default()):
            raise ValueError
        return value
    if isinstance(field, models.FloatField):
        return float(read_number(text, signed=True))
    if isinstance(field, models.IntegerField):
        return int(text)
    return text


def cells_of(model: type[models.Model], row: models.Model, names: Iterable[str]) -> Mapping[str, str]:
    """The cells of some columns of a row."""
    return {name: written(model._meta.get_field(name), getattr(row, name)) for name in names}
