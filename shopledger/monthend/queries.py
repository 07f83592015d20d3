"""What stands between now and a closed month: each step with what is open in it. A fixed number of questions."""

import datetime as dt
from dataclasses import dataclass, field

from django.urls import reverse

from inventory.containers.models import Container, Weighing
from inventory.containers.tables import UNSETTLED_HERE
from inventory.counting.models import Count
from inventory.counting.queries import not_weighed_since, without_reason
from inventory.measures.days import said_day
from inventory.receiving.queries import without_paper
from inventory.scales.queries import overdue
from jobs.drafts.models import Job

SHOWN = 12


@dataclass
class Step:
    """rows: (words, address) of what is open, the first ones; count: of all."""

    title: str
    why: str
    count: int
    link: str
    rows: list[tuple[str, str]] = field(default_factory=list)

    @property
    def has_more(self) -> bool:
        return self.count > len(self.rows)


def steps(first: dt.date, last: dt.date, weighed_since: dt.date | None = None) -> list[Step]:
    """What is open in the days from first to last. weighed_since: from when on each container is to have been weighed,
    where that is not the first day."""
    return [*_unfinished(last), *_unknown(first, last, weighed_since or first), *_missing(first, last)]


def _step(title, why, found, link, words) -> Step:
    """words: of one of those found, what the page says and where it leads."""
    rows = [words(one) for one in found[:SHOWN]]
    return Step(title, why, len(rows) if len(rows) < SHOWN else found.count(), link, rows)


def _unfinished(last) -> list[Step]:
    drafts = Job.objects.filter(state="draft", day__lte=last).select_related("unit", "technician").order_by("day", "id")
    counts = Count.objects.filter(state="open").select_related("location")
    return [
        _step(
            "Drafts to sign or give up",
            "a draft has moved nothing; its grams are still in the cans by the book",
            drafts,
            reverse("jobs") + "?state=draft",
            lambda job: (f"{job.number}, {job.unit.title}, {job.technician}", reverse("job", args=[job.pk])),
        ),
        _step(
            "Counts under way",
            "what was read and not posted changes nothing",
            counts,
            reverse("counting"),
            lambda one: (f"{one.location}, since {one.day}", reverse("count", args=[one.pk])),
        ),
    ]


def _unknown(first, last, weighed_since) -> list[Step]:
    recovered = (
        Container.objects.filter(UNSETTLED_HERE, retired_on=None, void=False)
        .select_related("substance")
        .order_by("code")
    )
    return [
        _step(
            "Containers not weighed in the month",
            "a leak shows at the next weighing only",
            not_weighed_since(weighed_since).filter(arrived_on__lte=last),
            reverse("stock") + f"?unweighed={weighed_since}",
            _weigh,
        ),
        _step(
            "Differences without a reason",
            "an inspector asks where the grams went",
            without_reason(first, last),
            reverse("differences") + f"?first={first}&last={last}&open=1",
            _difference,
        ),
        _step(
            "Recovered refrigerant without a destination, and found that nobody identified yet",
            "it is recycled, or sent to a reclaimer or destruction; what was found is identified first",
            recovered,
            reverse("stock") + "?grade=unsettled",
            lambda one: (_waiting(one), reverse("container", args=[one.code])),
        ),
        *_of_customers(first, last, weighed_since),
    ]


def _weigh(one: Container) -> tuple[str, str]:
    last = f"last on {one.last_weighed_on}" if one.last_weighed_on else "never"
    return f"{one.code}, {last}", reverse("weigh", args=[one.code])


def _difference(one: Weighing) -> tuple[str, str]:
    return f"{one.container.code} on {one.day}", reverse("difference", args=[one.pk])


def _of_customers(first: dt.date, last: dt.date, weighed_since: dt.date) -> list[Step]:
    """The same of customers' gas, in no figure of the shop's; no step where nothing is open in it."""
    found = [
        _step(
            "Customers' cylinders not weighed in the month",
            "what is lost of it is asked for by its owner",
            not_weighed_since(weighed_since, theirs=True).filter(arrived_on__lte=last),
            reverse("stock") + f"?unweighed={weighed_since}&whose=customers",
            _weigh,
        ),
        _step(
            "Customers' cylinders with a difference without a reason",
            "their owners ask where the grams went",
            without_reason(first, last, theirs=True),
            reverse("differences") + f"?first={first}&last={last}&open=1&whose=customers",
            _difference,
        ),
    ]
    return [step for step in found if step.count]


def _waiting(one: Container) -> str:
    if one.unknown:
        return f"{one.code}, found, held until known since {said_day(one.arrived_on)}"
    return f"{one.code}, {one.grade} {one.substance}"


def _missing(first, last) -> list[Step]:
    return [
        _step(
            "Scale checks due",
            "weights rest on a scale that is known to be right",
            overdue(last),
            reverse("scales"),
            lambda one: (one.code, reverse("scale", args=[one.pk])),
        ),
        _step(
            "Deliveries without their paper",
            "the invoice shows where it came from",
            without_paper(first, last),
            reverse("receiving"),
            lambda one: (
                f"voucher {one.number}, {one.document or 'no document'}",
                reverse("voucher", args=[one.number]),
            ),
        ),
    ]
