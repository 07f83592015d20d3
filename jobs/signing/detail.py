"""What a job's voucher says beside its movements and weighings. Pure: no Django here."""

from collections.abc import Sequence

from jobs.lines.posting import Line


def job_detail(
    *,
    job: str,
    revision: int,
    technician: str,
    certificate: str,
    customer: str,
    unit: str,
    unit_said: str,
    vin: str,
    substance: str,
    charge_min_mg: int | None,
    charge_max_mg: int | None,
    lines: Sequence[Line],
    more: dict[str, object] | None = None,
) -> dict[str, object]:
    """The detail of a job's voucher. unit: its reference; unit_said: how people call it. more: what else was
    recorded on the job; values that are None or blank are left out."""
    said = {
        "job": job, "revision": revision, "technician": technician, "certificate": certificate, "customer": customer,
        "unit": unit, "unit_said": unit_said, "vin": vin, "substance": substance, "charge_min_mg": charge_min_mg,
        "charge_max_mg": charge_max_mg, "lines": [line_said(line) for line in lines], **(more or {}),
    }  # fmt: skip
    return {name: value for name, value in said.items() if value not in (None, "", [], {})}


def unit_about(title: str, plate: str, make_model: str) -> str:
    """A unit in one line, e.g. `Truck 4, TST-1, 2016 Quillon Arbour`; nothing is said twice."""
    return ", ".join(dict.fromkeys(part for part in (title, plate, make_model) if part))


def line_said(line: Line) -> dict[str, object]:
    said = {
        "action": line.action, "container": line.container, "before": line.before, "after": line.after,
        "quantity": line.quantity, "scale": line.scale.code if line.scale else "",
    }  # fmt: skip
    return {name: value for name, value in said.items() if value not in (None, "")}
