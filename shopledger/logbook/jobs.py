"""Jobs of a log: a row of jobs.csv with its rows of job_lines.csv is one event."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING
from uuid import uuid4

from inventory.containers.actions import not_before_arrival
from inventory.containers.recorder import Recorder
from inventory.ledger.stating import state_rows
from jobs.drafts.models import Job, JobLine
from jobs.lines.posting import ACTIONS, OIL_ACTIONS, Line, LineRefused, check_shape, post_lines
from jobs.people.models import Person
from jobs.signing.detail import job_detail
from jobs.units.models import Unit
from shopledger.logbook.folder import Row
from shopledger.logbook.rows import insert

if TYPE_CHECKING:
    from shopledger.logbook.events import Events


@dataclass
class Read:
    """A job as its row says."""

    row: Row
    when: dt.datetime
    technician: Person
    unit: Unit
    substance: str
    least: int | None
    most: int | None


class JobRows:
    """Reads jobs and their lines; keeps what is to be written as jobs once their vouchers are."""

    def __init__(self, reader: Events):
        self.reader = reader
        self.lines: dict[str, list[Row]] = defaultdict(list)
        self.jobs: list[dict] = []  # columns of jobs_job
        self.job_lines: list[tuple[dict, int, Row, Line]] = []
        numbers = {row["job"] for row in reader.folder.of("jobs.csv")}
        for row in reader.folder.of("job_lines.csv"):
            self.lines[row["job"]].append(row)
            if row["job"] not in numbers:
                said = f"{row['job'][:60]!r} is not in jobs.csv; add the job, or mend its number."
                reader.faults.add("job_lines.csv", row.line, "job", said)

    def events(self) -> Iterator:
        from shopledger.logbook.events import Event

        seen = set(Job.objects.values_list("number", flat=True))
        for row in self.reader.folder.of("jobs.csv"):
            cells = self.reader.cells(row)
            number = cells.text("job", needed=True, most=60)
            if number in seen:
                cells.fault("job", f"there is a job {number} already; give each job a number of its own.")
            seen.add(number)
            job = self._read(cells)
            rows = self.lines.get(number, [])
            lines = [self._line(line_row) for line_row in rows]
            codes = {line_row["container"] for line_row in rows} - {""}
            if job is None or None in lines:
                self.reader.doubtful |= codes
            else:
                yield Event(job.when, row, codes, self._running(job, rows, lines), rows)

    def _read(self, cells) -> Read | None:
        when = cells.when()
        technician = self.reader.names.person(cells, "technician", needed=True)
        substance, is_oil = cells.substance()
        if is_oil:
            cells.fault("substance", f"{substance} is an oil; name the refrigerant of the unit.")
        least, most = cells.quantity("charge_min"), cells.quantity("charge_max")
        if least is not None and most is not None and least > most:
            cells.fault("charge_min", "the least charge is more than the most; turn the two round.")
        unit = self.reader.names.unit(cells, substance, least, most)
        if not cells.whole or unit is None or technician is None or when is None:
            return None
        return Read(cells.row, when, technician, unit, substance, least, most)

    def _line(self, row: Row) -> Line | None:
        cells = self.reader.cells(row)
        action = cells.one_of("action", ACTIONS)
        code = self.reader.container(cells, needed=False)
        scale = self.reader.names.scale(cells)
        cells.text("note", most=300)
        given = self.reader.weights(cells, oil=action in OIL_ACTIONS)
        if not cells.whole:
            return None
        line = Line(action, code, **given)
        from shopledger.logbook.events import RowRefused, refusing

        try:
            with refusing(row):
                check_shape(line)
        except RowRefused as refused:
            cells.fault(refused.column, refused.message)
            return None
        return Line(action, code, **given, scale=scale or None)

    def _running(self, job: Read, rows: list[Row], lines: list[Line]):
        from shopledger.logbook.events import RowRefused, refusing

        def run(recorder: Recorder) -> None:
            seen = []
            for row, line in zip(rows, lines, strict=True):
                with refusing(row):
                    scale = None if line.before is None else recorder.scale(line.scale or "")
                seen.append(Line(line.action, line.container, line.before, line.after, line.quantity, scale))
            head = self.reader.head("job", job.when, by=job.technician.username, document=job.row["job"])
            codes = {line.container for line in seen if line.container}
            with refusing(job.row):
                recorder.load(codes)
                not_before_arrival(recorder, codes, head.day)
                recorder.open(head, codes)
            try:
                totals = post_lines(recorder.holdings, seen, job.unit.code, job.substance)
            except LineRefused as refused:
                row = rows[refused.line]
                column = refused.field if refused.field in row.cells else "container"
                raise RowRefused(row, column, refused.message) from None
            kept = self._columns(job)
            detail = job_detail(
                unit=job.unit, lines=seen, job=job.row["job"], revision=1, technician=job.technician.username
            )
            with refusing(job.row):
                number = recorder.post(head, detail)
            self._keep({**kept, **totals.columns(), "voucher_id": number}, rows, seen)

        return run

    def _columns(self, job: Read) -> dict[str, object]:
        """What the row says of the job, by its columns."""
        at = job.when.replace(tzinfo=self.reader.zone)
        return {
            "number": job.row["job"],
            "state": "signed",
            "key": uuid4(),
            "unit_id": job.unit.pk,
            "technician_id": job.technician.pk,
            "day": job.when.date(),
            "started_at": at,
            "substance": job.substance,
            "charge_min_mg": job.least,
            "charge_max_mg": job.most,
            "signed_at": at,
            "signed_by_id": job.technician.pk,
            "loaded": True,
        }

    def _keep(self, kept: dict[str, object], rows: list[Row], lines: list[Line]) -> None:
        self.jobs.append(kept)
        self.job_lines += ((kept, n, row, line) for n, (row, line) in enumerate(zip(rows, lines, strict=True), 1))

    def write(self, recorder: Recorder) -> None:
        """Write the jobs of the vouchers that were flushed."""
        insert(Job, self.jobs)
        containers = recorder.rows.by_code
        insert(
            JobLine,
            (
                {
                    "job_id": job["voucher_id"],
                    "position": position,
                    "action": line.action,
                    "note": row["note"],
                    "before": line.before,
                    "after": line.after,
                    "quantity": line.quantity,
                    "key": uuid4(),
                    "entered_at": job["started_at"],
                    "entered_by_id": job["technician_id"],
                    "container_id": containers[line.container].pk if line.container in containers else None,
                    "scale_id": recorder.rows.scales[line.scale.code].pk if line.scale and row["scale"] else None,
                }
                for job, position, row, line in self.job_lines
            ),
            {"job_id": "(SELECT id FROM jobs_job WHERE voucher_id = %s)"},
        )
        if self.jobs:
            state_rows(Job.objects.filter(loaded=True, voucher__gte=self.jobs[0]["voucher_id"]))
        self.jobs.clear()
        self.job_lines.clear()
