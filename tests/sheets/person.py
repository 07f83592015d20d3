"""Somebody who knows the shop answers what is asked about a sheet, and what was loaded is held against the truth."""

from dataclasses import dataclass, field

from inventory.codes.queries import names_of
from inventory.containers.models import Container
from inventory.ledger.accounts import AccountClass
from inventory.ledger.models import Movement
from inventory.reference.kinds import KINDS
from jobs.drafts.models import Job
from shopledger.sheet_meaning.plan import Plan, Pointed, plan_of
from shopledger.sheet_pages.actions import SheetRefused, load_plan
from shopledger.sheet_pages.queries import known_now
from shopledger.sheets.book import open_book


@dataclass
class Outcome:
    """asked: questions that were answered. stuck: those that nobody could answer. refused: why it did not load."""

    plan: Plan | None = None
    asked: dict = field(default_factory=dict)
    stuck: list = field(default_factory=list)
    refused: str = ""
    faults: list = field(default_factory=list)
    loaded: bool = False
    wrong: list = field(default_factory=list)


def bring_in(made, limit=6) -> Outcome:
    """Answer all that is asked, load it, and compare."""
    outcome = Outcome()
    book, known = open_book(made.body, made.name), known_now(made.kind)
    for _ in range(limit):
        outcome.plan = plan_of(book, made.kind, known, outcome.asked, Pointed())
        if not outcome.plan.questions:
            break
        for question in outcome.plan.questions:
            answer = made.answer(question)
            if answer is None:
                outcome.stuck.append((question.id, question.called, question.where))
            else:
                outcome.asked[question.id] = answer
        if outcome.stuck:
            return outcome
    before = set(Container.objects.values_list("pk", flat=True))
    try:
        load_plan(outcome.plan)
    except SheetRefused as refused:
        outcome.refused, outcome.faults = str(refused), [str(fault) for fault in refused.faults]
        return outcome
    outcome.loaded = True
    found = {"jobs": jobs_found, "counts": counts_found}.get(made.kind, containers_found)(before)
    _by_truth(made, found)
    right = {"jobs": jobs_true, "counts": counts_true}.get(made.kind, containers_true)(made)
    outcome.wrong = [("missing", one) for one in _without(right, found)] + [
        ("not true", one) for one in _without(found, right)
    ]
    return outcome


def _by_truth(made, found):
    """Names as they are in truth, where each is one: a name that stands in the sheet only misspelled is loaded so."""
    for what in ("location", "customer", "supplier"):
        spelled = {}
        for record in found:
            if what not in record:
                continue
            said = record[what]
            true = made.names.get("".join(c for c in said.casefold() if c.isalnum()), said)
            if spelled.setdefault(true, said) == said:
                record[what] = true if said else said


def _without(some, others):
    left = list(others)
    gone = []
    for one in some:
        match = next((other for other in left if _same(one, other)), None)
        if match is None:
            gone.append(one)
        else:
            left.remove(match)
    return gone


def _same(one, other):
    """A code of None is any: of a container that the sheet gives none."""
    return all(one[name] == other[name] or (name == "code" and None in (one[name], other[name])) for name in one)


def containers_true(made):
    return [
        {
            "code": record["code"] or None,
            "kind": record["kind"],
            "substance": record["substance"],
            "net": record["net"],
            "tare": record["tare"],
            "location": record["location"],
            "day": record["day"],
            "supplier": record.get("supplier", ""),
        }
        for record in made.truth
        for _ in range(record["count"])
    ]


def containers_found(before):
    rows = Container.objects.exclude(pk__in=before).select_related("substance", "account", "location", "arrival")
    moves = Movement.objects.filter(
        voucher__in={row.arrival_id for row in rows}, source__cls=AccountClass.SUPPLIER.value
    )
    from_whom = dict(moves.values_list("voucher_id", "source__name"))
    names = names_of(from_whom.values())
    return [
        {
            "code": None if any(row.code.startswith(f"{kind.prefix}-") for kind in KINDS.values()) else row.code,
            "kind": row.kind,
            "substance": row.substance.code,
            "net": row.content,
            "tare": row.tare_mg,
            "location": row.location.name if row.location else "",
            "day": row.arrived_on,
            "supplier": names.get(from_whom.get(row.arrival_id), ""),
        }
        for row in rows
    ]


def jobs_true(made):
    return [
        {
            "code": record["job"] or None,
            "day": record["day"],
            "technician": record["technician"],
            "customer": record["customer"],
            "unit": record["unit"],
            "substance": record["substance"],
            "charged": record["charged"],
            "recovered": record["recovered"],
            "from": {record["from"]},
        }
        for record in made.truth
    ]


def jobs_found(before):
    jobs = Job.objects.filter(loaded=True).select_related("unit__customer", "technician")
    jobs = jobs.prefetch_related("lines__container")
    return [
        {
            "code": job.number if job.number.startswith("W") else None,
            "day": job.day,
            "technician": job.technician.username,
            "customer": job.unit.customer.name if job.unit.customer else "",
            "unit": job.unit.name,
            "substance": job.substance or job.unit.refrigerant,
            "charged": job.charged_mg,
            "recovered": job.recovered_mg,
            "from": {line.container.code for line in job.lines.all() if line.action == "charge"},
        }
        for job in jobs
    ]


def counts_true(made):
    return [{"code": r["code"], "day": r["day"], "gross": r["gross"]} for r in made.truth]


def counts_found(before):
    rows = Container.objects.filter(last_gross__isnull=False)
    return [{"code": row.code, "day": row.last_weighed_on, "gross": row.last_gross} for row in rows]
