"""What a job's voucher says beside its movements and weighings. Pure: no Django here."""

from collections.abc import Sequence
from typing import Protocol

from jobs.lines.posting import Line

BLANK = (None, "", [], {})


class ServedCustomer(Protocol):
    code: str


class ServedUnit(Protocol):
    """code: its reference."""

    code: str
    customer: ServedCustomer | None


def job_detail(*, unit: ServedUnit, lines: Sequence[Line], **said: object) -> dict[str, object]:
    """The detail of a job's voucher. said: what else it says, such as number, revision and technician. What is None or
    blank is left out.

    It speaks in codes and figures: what people wrote, and how unit and people were called, stands in records."""
    whole = {
        **said,
        "unit": unit.code,
        "customer": unit.customer.code if unit.customer else "",
        "lines": [line_said(line) for line in lines],
    }
    return {name: value for name, value in whole.items() if value not in BLANK}


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
