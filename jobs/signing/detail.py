"""What a job's voucher says beside its movements and weighings. Pure: no Django here."""

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Protocol

from jobs.lines.posting import Line

BLANK = (None, "", [], {})


class ServedCustomer(Protocol):
    code: str


class ServedUnit(Protocol):
    """code: its reference; title: how people call it."""

    code: str
    title: str
    vin: str
    plate: str
    make_model: str
    customer: ServedCustomer | None


def job_detail(
    *, unit: ServedUnit, entered: Mapping[str, object], lines: Sequence[Line], **said: object
) -> dict[str, object]:
    """The detail of a job's voucher. entered: the job's fields, by their names. said: what else it says, such as
    number, revision and people. What is None or blank is left out.

    Unit and people are called as they are called now: a car is sold and a habit changes, the paper of this job stays
    as it was. The customer stands by the code of whoever owned the unit then, so that a name may change."""
    whole = {
        **said,
        "unit": unit.code,
        "unit_said": unit.title,
        "unit_about": unit_about(unit.title, unit.plate, unit.make_model),
        "vin": unit.vin,
        "customer": unit.customer.code if unit.customer else "",
        "entered": entered_said(entered),
        "lines": [line_said(line) for line in lines],
    }
    return {name: value for name, value in whole.items() if value not in BLANK}


def entered_said(entered: Mapping[str, object]) -> dict[str, object]:
    """A job's fields as a digest can stand for them: days and moments (UTC) as ISO text, a float by the shortest
    digits that give it back."""
    return {name: _plain(value) for name, value in entered.items() if value not in BLANK}


def _plain(value: object) -> object:
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).isoformat()
    if isinstance(value, dt.date):
        return value.isoformat()
    return repr(value) if isinstance(value, float) else value


def unit_about(title: str, plate: str, make_model: str) -> str:
    """A unit in one line, e.g. `Truck 4, TST-1, 2016 Quillon Arbour`; nothing is said twice."""
    return ", ".join(dict.fromkeys(part for part in (title, plate, make_model) if part))


def line_said(line: Line) -> dict[str, object]:
    said = {
        "action": line.action,
        "container": line.container,
        "before": line.before,
        "after": line.after,
        "quantity": line.quantity,
        "scale": line.scale.code if line.scale else "",
    }
    return {name: value for name, value in said.items() if value not in BLANK}
