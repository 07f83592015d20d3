"""Jobs of a log: a row of jobs.csv with its rows of job_lines.csv is one event."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING
from uuid import uuid4

from inventory.containers.entries import moment
from inventory.containers.recorder import Recorder
from inventory.ledger.stating import state_rows
from jobs.drafts.models import Job, JobLine
from jobs.lines.posting import ACTIONS, OIL_ACTIONS, Line, LineRefused, check_shape, post_lines
from jobs.people.models import Person
from jobs.signing.detail import job_detail
from jobs.units.models import Unit
from shopledger.logbook.cells import Cells
from shopledger.logbook.folder import Row
from shopledger.logbook.judging import AT_ONCE, CONTENT, Part, RowRefused, Trial, refusing
from shopledger.logbook.plain_fields import read_fields
from shopledger.logbook.rows import insert
from shopledger.logbook.wider import JOB

if TYPE_CHECKING:
    from shopledger.logbook.events import Event, Events


@dataclass
class Read:
    """A job as its row says. technician, unit: None where the row, or the one that they stand in, is at fault."""

    row: Row
    when: dt.datetime
    technician: Person | None
    unit: Unit | None
    substance: str
    least: int | None
    most: int | None
    more: dict[str, object]
    whole: bool


class JobRows:
    """Reads jobs and their lines; keeps what is to be written as jobs once their vouchers are."""

    def __init__(self, reader: Events):
        self.reader = reader
        self.lines: dict[str, list[Row]] = defaultdict(list)
        self.jobs: list[dict] = []  # columns of jobs_job
        self.job_lines: list[tuple[dict, int, Row, Line]] = []
        self.blanks = self._blanks()

    def _blanks(self) -> dict[str, object]:
        """What a job says in each further column of this log where its cell is blank."""
        there = {column for row in self.reader.folder.of("jobs.csv")[:1] for column in row.cells}
        fields = {name: Job._meta.get_field(name) for name in ("certificate", *JOB) if name in there}
        return {name: field.get_default() for name, field in fields.items()}

    def _sort(self) -> Iterator[Event]:
        """Each line to its job; one whose job cannot be read is no part of one."""
        reader = self.reader
        numbers = {row["job"] for row in reader.folder.of("jobs.csv")}
        all_told = reader.folder.tells_all("jobs.csv", "job")
        for row in reader.folder.of("job_lines.csv"):
            number = row["job"]
            if number in numbers and number:
                self.lines[number].append(row)
                continue
            if row.words:
                yield reader.unreadable(row)
                continue
            if all_told or not number:
                said = f"{number[:60]!r} is not in jobs.csv; add the job, or mend its number."
                reader.cells(row).fault("job", said)
            else:
                reader.leaning.add((row.file, row.line))
            self._line(row)
            yield reader.spoiling(row, None, frozenset({row["container"]}) - {""})

    def events(self) -> Iterator[Event]:
        from shopledger.logbook.events import Event

        yield from self._sort()
        kept, seen = set(Job.objects.values_list("number", flat=True)), set()
        for row in self.reader.folder.of("jobs.csv"):
            if row.words:
                yield self.reader.unreadable(row)
                continue
            cells = self.reader.cells(row)
            number = cells.text("job", needed=True, most=60)
            again = number in seen
            if again or number in kept:
                cells.fault("job", f"there is a job {number} already; give each job a number of its own.")
            seen.add(number)
            job = self._read(cells)
            if again:
                continue  # the lines of that number are those of the first
            rows = self.lines.get(number, [])
            lines = {line_row.number: self._line(line_row) for line_row in rows}
            parts = [
                Part(line_row, frozenset({line_row["container"]}) - {""}, lines[line_row.number] is not None)
                for line_row in rows
            ]
            if job.when is None:
                parts = [part._replace(able=False) for part in parts]
                self.reader.leaning |= {(part.row.file, part.row.line) for part in parts}
                yield Event(AT_ONCE, row, None, parts)
                continue
            by = cells.said("technician")
            head = self.reader.head("job", job.when, by=by, document=cells.said("job"))
            codes = {code for part in parts for code in part.codes} if "substance" in cells.bad else ()
            yield Event(job.when, row, head, parts, self._acting(job, by, lines), {code: {CONTENT} for code in codes})

    def _read(self, cells: Cells) -> Read:
        when = cells.when()
        technician = self.reader.names.person(cells, "technician", needed=True)
        substance, is_oil = cells.substance()
        if is_oil:
            cells.fault("substance", f"{substance} is an oil; name the refrigerant of the unit.")
            substance = ""
        least, most = cells.quantity("charge_min"), cells.quantity("charge_max")
        if least is not None and most is not None and least > most:
            cells.fault("charge_min", "the least charge is more than the most; turn the two round.")
        unit = self.reader.names.unit(cells, substance, least, most)
        more = read_fields(cells, Job, ("certificate", *JOB))
        whole = cells.whole and technician is not None and unit is not None
        return Read(cells.row, when, technician, unit, substance, least, most, more, whole)

    def _line(self, row: Row) -> Line | None:
        """None where what it does to its container cannot be read."""
        cells = self.reader.cells(row)
        action = cells.one_of("action", ACTIONS)
        code = self.reader.container(cells, needed=False)
        scale = self.reader.names.scale(cells)
        cells.text("note", most=300)
        given = self.reader.weights(cells, oil=action in OIL_ACTIONS if action else None)
        if not cells.known("action", "container", *given):
            return None
        time = cells.when("time") if cells.said("time") else None
        at = moment(time.replace(tzinfo=self.reader.zone)) if time else ""
        line = Line(action, code, **given, at=at)
        try:
            with refusing(row):
                check_shape(line)
        except RowRefused as refused:
            cells.fault(refused.column, refused.message)
            return None
        return replace(line, scale=scale or None)

    def _acting(self, job: Read, by: str, lines: dict[int, Line | None]):
        def act(recorder: Recorder | Trial, parts: list[Part]) -> dict:
            seen, rows = [], [part.row for part in parts]
            for row in rows:
                line = lines[row.number]
                with refusing(row):
                    scale = None if line.before is None else recorder.scale(line.scale or "")
                seen.append(replace(line, scale=scale))
            unit = job.unit or Unit()
            recorder.holdings.customer = unit.customer.code if unit.customer else ""
            try:
                totals = post_lines(recorder.holdings, seen, unit.code, job.substance)
            except LineRefused as refused:
                row = rows[refused.line]
                column = refused.field if refused.field in row.cells else "container"
                raise RowRefused(row, column, refused.message) from None
            finally:
                recorder.holdings.customer = ""
            detail = job_detail(unit=unit, lines=seen, job=job.row["job"], revision=1, technician=by)

            def then(number: int) -> None:
                if job.whole:
                    self._keep({**self._columns(job), **totals.columns(), "voucher_id": number}, rows, seen)

            return {"detail": detail, "then": then}

        return act

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
            "substance": job.substance,
            "charge_min_mg": job.least,
            "charge_max_mg": job.most,
            "signed_at": at,
            "signed_by_id": job.technician.pk,
            "loaded": True,
            **{name: job.more.get(name, blank) for name, blank in self.blanks.items()},
            "started_at": job.more.get("started_at", at),
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
