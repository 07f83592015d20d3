"""Signed jobs that stand, as rows of a log."""

from collections.abc import Iterator

from inventory.correcting.again import Said
from inventory.measures.quantity import exact
from jobs.drafts.models import Job, JobLine
from jobs.lines.posting import OIL_ACTIONS
from shopledger.exporting.stock import Row, Stock
from shopledger.logbook.plain_fields import cells_of
from shopledger.logbook.wider import JOB

WEIGHED = ("before", "after", "quantity")


class Jobs:
    """Writes the rows of a job. stock: what writes those of other acts."""

    def __init__(self, stock: Stock):
        self.stock = stock
        found = Job.objects.filter(state="signed").select_related("unit__customer", "technician")
        self.by_voucher = {one.voucher_id: one for one in found}
        lines = JobLine.objects.filter(job__state="signed").select_related("container", "scale")
        self.lines: dict[int, list[JobLine]] = {}
        for one in lines.order_by("job_id", "position", "id"):
            self.lines.setdefault(one.job_id, []).append(one)

    def of(self, act: Said) -> Iterator[Row]:
        number, event = act.voucher.number, act.event
        job = self.by_voucher[number]
        moments = self.stock.moments
        yield (
            "jobs.csv",
            {
                "job": job.number,
                "date": moments.of(number, event.at),
                "technician": job.technician.username,
                "customer": job.unit.customer.code if job.unit.customer else "",
                "unit": job.unit.code,
                "substance": job.substance,
                "charge_min": "" if job.charge_min_mg is None else exact(job.charge_min_mg, "g"),
                "charge_max": "" if job.charge_max_mg is None else exact(job.charge_max_mg, "g"),
                **cells_of(Job, job, ("certificate", *JOB)),
            },
        )
        for op in act.ops("regrade"):
            before = {"date": moments.before(number, op.at or event.at), "by": act.voucher.done_by}
            yield "regrades.csv", {**before, "container": op.code, "grade": op.grade}
        yield from self._lines(job, act)

    def _lines(self, job: Job, act: Said) -> Iterator[Row]:
        said = iter(act.ops("draw", "fill"))
        for line in self.lines.get(job.pk, []):
            op = next(said) if line.action in {"charge", "recover", "oil-add"} else None
            unit = "mL" if line.action in OIL_ACTIONS else "g"
            weights = {name: getattr(line, name) for name in WEIGHED}
            yield (
                "job_lines.csv",
                {
                    "job": job.number,
                    "action": line.action,
                    "container": line.container.code if line.container else "",
                    "scale": (op.scale if op else "") or (line.scale.code if line.scale else ""),
                    **{name: "" if value is None else exact(value, unit) for name, value in weights.items()},
                    "note": line.note,
                    "time": self.stock.at(act, op) if op else "",
                },
            )
