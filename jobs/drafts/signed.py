"""A signed job as its record has it: what its page and its sheet are drawn from."""

import copy
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from inventory.containers.models import Container
from inventory.ledger.models import Voucher
from inventory.ledger.records import record_kinds
from inventory.ledger.stated_rows import Stated, parts_as_stated, revived, stated, stated_of
from jobs.drafts.models import Job, JobHand, JobLine, JobStep
from jobs.people.models import Person
from jobs.units.models import Unit


@dataclass(frozen=True)
class Signed:
    """A job with its lines, in their order, its steps, and who worked on it beside its technician. unit, technician,
    signer: as they were when it was signed, called by their codes where their words were erased since; of a draft
    as they are. customer: its code, blank where nobody is known. erased: the voucher that erased words of the job,
    where one did."""

    job: Job
    lines: list[JobLine]
    steps: list[JobStep]
    unit: Unit
    technician: Person
    signer: Person | None
    customer: str
    erased: bool = False
    hands: list[JobHand] = field(default_factory=list)

    @property
    def voucher(self) -> Voucher | None:
        return self.job.voucher

    @property
    def others(self) -> list[str]:
        """The names of those who worked on it beside its technician: who still did at the end, or wrote something."""
        wrote = {pk for line in self.lines for pk in (line.entered_by_id, line.changed_by_id)}
        wrote |= {one.by_id for one in self.steps}
        worked = [one.person for one in self.hands if one.ended is None or one.person_id in wrote]
        return list(dict.fromkeys(one.name for one in worked if one.pk != self.technician.pk))


def signed(job: Job) -> Signed:
    """A job as it was signed; a draft as it stands. Needs unit, technician and voucher loaded. Each line gets
    `scale_said`: the scale of its weights as it was posted, the usual one too."""
    kind = record_kinds[Job]
    found = stated(kind.name, kind.key_of(job)) if job.voucher_id else None
    if found is None:
        return _draft(job)
    known = {(Person, job.technician.username): job.technician} | _containers(found)
    shown = revived(kind.table, copy.copy(job), found.said, known)
    lines, steps, hands = (parts_as_stated(part, found, known) for part in kind.parts)
    _name_scales(lines, json.loads(job.voucher.detail).get("lines", []))
    people = [shown.technician, *filter(None, [shown.signed_by]), *(one.person for one in hands)]
    then = _Then([shown.unit, *people], job.voucher_id)
    customer = then.said(shown.unit).get("customer", "")
    signer = then.row(shown.signed_by) if shown.signed_by else None
    unit, technician = then.row(shown.unit), then.row(shown.technician)
    for one in hands:
        one.person = then.row(one.person)
    return Signed(shown, _ordered(lines), steps, unit, technician, signer, customer, found.erased, hands)


def _draft(job: Job) -> Signed:
    lines = list(job.lines.select_related("container__substance", "scale", "entered_by", "changed_by"))
    _name_scales(lines, [])
    customer = job.unit.customer.code if job.unit.customer else ""
    steps, hands = list(job.steps.select_related("by")), list(job.hands.select_related("person"))
    return Signed(job, lines, steps, job.unit, job.technician, job.signed_by, customer, hands=hands)


class _Then:
    """Rows as they were stated up to a voucher; what was stated only later, as of a log, as it was stated first."""

    def __init__(self, rows: Sequence[Unit | Person], by: int):
        things = {self._thing(row) for row in rows}
        self.stated = stated_of(things, by)
        later = things - self.stated.keys()
        if later:
            self.stated |= stated_of(later, first=True)

    def said(self, row: Unit | Person) -> Mapping[str, object]:
        """What its document says, without its words."""
        found = self.stated.get(self._thing(row))
        return found.body if found else {}

    def row(self, row: Unit | Person) -> Unit | Person:
        found, kind = self.stated.get(self._thing(row)), record_kinds[type(row)]
        if found is None:
            return row
        said = {**json.loads(kind.words_erased(kind.key_of(row))), **found.body} if found.erased else found.said
        return revived(kind.table, copy.copy(row), said)

    @staticmethod
    def _thing(row: Unit | Person) -> tuple[str, str]:
        kind = record_kinds[type(row)]
        return kind.name, kind.key_of(row)


def _name_scales(lines: list[JobLine], posted: list[dict]) -> None:
    for number, line in enumerate(_ordered(lines)):
        said = posted[number].get("scale", "") if number < len(posted) else ""
        line.scale_said = said or (line.scale.code if line.scale else "")


def _containers(found: Stated) -> dict:
    """The containers that the lines of a job's document name, each with its substance."""
    codes = {said["container"] for said in found.body.get("lines", ()) if "container" in said}
    rows = Container.objects.select_related("substance").filter(code__in=codes)
    return {(Container, row.code): row for row in rows}


def _ordered(lines: list[JobLine]) -> list[JobLine]:
    return sorted(lines, key=lambda line: (line.position, line.pk))
