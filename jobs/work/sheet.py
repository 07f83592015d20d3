"""The job sheet: one page for a normal job, that a customer understands and an inspector accepts.

It is made from what the job and its voucher keep, so that the same job gives the same bytes: the moment on it
is the signature's, and the digest that of the job's own voucher.
"""

import io

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Spacer, Table

from inventory.ledger.models import Voucher
from inventory.measures.quantity import show
from inventory.paper.document import MARGIN, PLAIN, QrCode, build, facts_table, rows_table, text
from inventory.paper.foot import foot
from inventory.shop.models import Shop
from jobs.work import bay
from jobs.work.models import Job, JobLine

WIDTH = A4[0] - 2 * MARGIN


def job_sheet(job: Job) -> bytes:
    """The PDF of a job. A draft says on it that nothing is posted. Needs unit, technician and voucher loaded."""
    shop = Shop.current()
    lines = list(job.lines.select_related("container__substance", "scale"))
    voucher = job.voucher
    story = [*_head(job, voucher), *_unit(job, shop), *_before(job), *_entries(job, lines), *_totals(job, lines)]
    story += [*_vacuum(job, shop), *_after(job), *_signature(job, voucher)]
    at = (voucher.number, voucher.digest) if voucher else None
    out = io.BytesIO()
    build(
        out,
        story,
        foot(
            f"Job {job.title}", made_by=job.signed_by.name if job.signed_by else job.technician.name,
            made_at=job.signed_at or job.started_at, place="job", substance=job.substance or None,
            draft=not job.voucher_id, at=at,
        ),
    )  # fmt: skip
    return out.getvalue()


def _units(job: Job):
    """Masses in the technician's unit, with grams beside it where that is another."""

    def said(milligrams: int | None) -> str:
        if milligrams is None:
            return ""
        shown = show(milligrams, job.technician.mass_unit)
        return shown if job.technician.mass_unit in {"g", "kg"} else f"{shown} ({show(milligrams, 'g')})"

    return said


def _head(job: Job, voucher: Voucher | None) -> list[Flowable]:
    lines = [text(f"Job sheet {job.title}", "title")]
    if job.corrects:
        lines.append(text(f"Corrects revision {job.corrects.revision}: {job.correction_note}"))
    if job.state == "corrected":
        lines.append(text("This revision was corrected; a later one stands in its place.", "strong"))
    if job.loaded:
        lines.append(text("From the shop's earlier log."))
    code = QrCode(voucher.digest) if voucher else Spacer(18 * mm, 18 * mm)
    return [Table([[lines, code]], colWidths=[WIDTH - 20 * mm, 20 * mm], style=PLAIN)]


def _unit(job: Job, shop: Shop) -> list[Flowable]:
    unit = job.unit
    pairs = [
        ("Day", job.day.isoformat()),
        ("Technician", f"{job.technician.name}{', ' + job.certificate if job.certificate else ''}"),
        ("Customer", unit.customer.name if unit.customer else "not named"),
        (
            "Unit",
            ", ".join(filter(None, [unit.title, unit.plate if unit.plate != unit.title else "", unit.make_model])),
        ),
        ("VIN", unit.vin or "not recorded"),
        ("Refrigerant", job.substance or "not recorded"),
    ]
    return [Spacer(0, 2 * mm), facts_table(pairs, WIDTH)]


def _section(title: str, pairs: list[tuple[str, object]]) -> list[Flowable]:
    pairs = [(label, value) for label, value in pairs if value not in (None, "")]
    return [text(title, "heading"), facts_table(pairs, WIDTH)] if pairs else []


def _before(job: Job) -> list[Flowable]:
    purity = f"{job.purity_percent:g} %" if job.purity_percent is not None else ""
    opened = "yes" if job.system_opened else "no"
    leak = ", ".join(filter(None, [job.leak_result, job.leak_method, job.leak_detector]))
    return _section(
        "Found and repaired",
        [
            ("Customer says", job.complaint), ("Identified as", job.identified_as),
            ("Identified how", job.identified_how), ("Purity", purity),
            ("System opened", opened), ("Leak check", leak), ("Repairs", job.repairs),
        ],
    )  # fmt: skip


def _entries(job: Job, lines: list[JobLine]) -> list[Flowable]:
    if not lines:
        return []
    said = _units(job)
    rows = []
    for line in lines:
        container = line.container
        substance = container.substance.code if container and container.substance else ""
        amount = line.amount
        if amount is None:
            shown = "not weighed"
        else:
            shown = show(amount, job.technician.volume_unit) if line.is_oil else said(amount)
        rows.append(
            [
                line.get_action_display(), container.code if container else "", substance, said(line.before),
                said(line.after), line.scale.code if line.scale else "", shown, line.note,
            ]
        )  # fmt: skip
    header = ["Entry", "Container", "Substance", "Before", "After", "Scale", "Amount", "Note"]
    widths = [share * WIDTH for share in (0.12, 0.15, 0.12, 0.14, 0.14, 0.09, 0.13, 0.11)]
    numeric = [False, False, False, True, True, False, True, False]
    return [text("Containers and weights", "heading"), *rows_table(header, rows, widths, numeric)]


def _totals(job: Job, lines: list[JobLine]) -> list[Flowable]:
    said = _units(job)

    def total(action: str) -> int:
        return sum(line.amount or 0 for line in lines if line.action == action)

    lost, charged = total("line-loss"), total("charge") - total("line-loss")
    least, most = job.charge_min_mg, job.charge_max_mg
    label = " to ".join(dict.fromkeys(said(value) for value in (least, most) if value is not None)) or "not recorded"
    verdict = ""
    if charged and (least is not None or most is not None):
        under = least is not None and charged < least
        over = most is not None and charged > most
        verdict = "under the label" if under else "over the label" if over else "within the label"
    pairs = [
        ("Charged", f"{said(charged)}{', ' + verdict if verdict else ''}"), ("Label", label),
        ("Recovered", said(total("recover"))), ("Line loss", said(lost)),
        ("Oil added", show(total("oil-add"), job.technician.volume_unit)),
        ("Oil drained", show(total("oil-drain"), job.technician.volume_unit)),
    ]  # fmt: skip
    return _section("Totals", pairs)


def _vacuum(job: Job, shop: Shop) -> list[Flowable]:
    found = bay.vacuum(job, shop)

    def span(start, end) -> str:
        if not start:
            return ""
        first = start.astimezone(shop.zone).strftime("%Y-%m-%d %H:%M")
        return f"{first} to {end.astimezone(shop.zone):%H:%M}" if end else f"from {first}"

    reached = job.vacuum_said
    if job.vacuum_pa is not None:
        reached += f" ({job.vacuum_pa:.0f} Pa absolute)"
    hold = span(job.hold_started, job.hold_ended)
    if job.hold_start_said or job.hold_end_said:
        hold += f"; {job.hold_start_said} to {job.hold_end_said}"
    return _section(
        "Evacuation and hold",
        [
            ("Pump", span(job.evacuation_started, job.evacuation_ended)),
            ("Vacuum reached", reached), ("Hold", hold.strip("; ")),
            ("Verdict", found.hold.sentence if found.hold else ""),
        ],
    )  # fmt: skip


def _after(job: Job) -> list[Flowable]:
    def number(value: float | None, unit: str) -> str:
        return "" if value is None else f"{value:g} {unit}"

    found = _section(
        "Performance",
        [
            ("Ambient", number(job.ambient_c, "°C")), ("Vent", number(job.vent_c, "°C")),
            ("Humidity", number(job.humidity_percent, "%")), ("Low side", job.low_side_said),
            ("High side", job.high_side_said),
        ],
    )  # fmt: skip
    found += _section("Reasons given", [(key, reason) for key, reason in job.reasons.items()])
    return found + _section("Note", [("", job.note)])


def _signature(job: Job, voucher: Voucher | None) -> list[Flowable]:
    if voucher is None:
        return [Spacer(0, 4 * mm), text("A draft: it is not signed, and nothing is posted.", "strong")]
    zone = Shop.current().zone
    pairs = [
        ("Signed", f"{job.signed_at.astimezone(zone):%Y-%m-%d %H:%M} by {(job.signed_by or job.technician).name}"),
        ("Voucher", f"{voucher.number}, revision {job.revision}"),
        ("Digest", voucher.digest),
    ]
    return [text("Signature", "heading"), facts_table(pairs, WIDTH, columns=1)]
