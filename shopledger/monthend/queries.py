"""What stands between now and a closed month: each step with what is open in it. A fixed number of questions."""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from django.db.models import Count as Counted
from django.db.models import Model, OuterRef, QuerySet, Subquery
from django.urls import reverse

from inventory.containers.models import Container, Weighing
from inventory.containers.tables import UNSETTLED_HERE
from inventory.counting.models import Count
from inventory.counting.queries import not_weighed_since, without_reason
from inventory.measures.days import said_day
from inventory.receiving.queries import without_paper
from inventory.scales.models import ScaleCheck
from inventory.scales.queries import overdue
from jobs.drafts.models import Job
from shopledger.monthend.models import LeftOpen

SHOWN = 12
DRAFT, COUNT, WEIGH, DIFFERENCE, SETTLE, SCALE, PAPER = (
    "draft",
    "count",
    "weigh",
    "difference",
    "settle",
    "scale",
    "paper",
)
STEPS = (DRAFT, COUNT, WEIGH, DIFFERENCE, SETTLE, SCALE, PAPER)
NAMED_BY = {WEIGH: "code", SETTLE: "code", SCALE: "code", PAPER: "number"}  # else the row's own number


@dataclass
class Row:
    """One thing that is open. thing: its code or number, under which it is left open. of: its row in the database."""

    words: str
    address: str
    thing: str
    of: Model


@dataclass
class Step:
    """rows: of what is open, the first ones; count: of all. left: what is left open with a reason. whose: blank, or
    customers, whose things are in no figure of the shop's."""

    kind: str
    title: str
    why: str
    count: int
    link: str
    rows: list[Row] = field(default_factory=list)
    left: Sequence[LeftOpen] = ()
    whose: str = ""

    @property
    def has_more(self) -> bool:
        return self.count > len(self.rows)

    @property
    def slug(self) -> str:
        return f"{self.kind}-{self.whose}" if self.whose else self.kind


class Walk:
    """The steps of the days from first to last, what is left open in the last one's month set aside."""

    def __init__(self, first: dt.date, last: dt.date, weighed_since: dt.date):
        self.first, self.last, self.since = first, last, weighed_since
        self.left: dict[str, list[LeftOpen]] = {}
        for one in LeftOpen.objects.filter(month=last.replace(day=1)):
            self.left.setdefault(one.step, []).append(one)

    def step(self, kind: str, said: tuple[str, str], found: QuerySet, link: str, words: Callable, **more) -> Step:
        """said: its title, and why it is one. words: of one of those found, what the page says and where it leads."""
        named, left = NAMED_BY.get(kind, "pk"), self.left.get(kind, [])
        if left:
            these = {f"{named}__in": [one.thing for one in left]}
            if not more:  # what is left of customers' is among the same
                called = {str(getattr(one, named)): words(one)[0] for one in found.filter(**these)}
                for one in left:
                    one.words = called.get(one.thing, one.called)
            found = found.exclude(**these)
        rows = [Row(*words(one), str(getattr(one, named)), one) for one in found[:SHOWN]]
        count = len(rows) if len(rows) < SHOWN else found.count()
        return Step(kind, *said, count, link, rows, [] if more else left, **more)


def steps(first: dt.date, last: dt.date, weighed_since: dt.date | None = None) -> list[Step]:
    """What is open in the days from first to last. weighed_since: from when on each container is to have been weighed,
    where that is not the first day."""
    walk = Walk(first, last, weighed_since or first)
    return [*_unfinished(walk), *_unknown(walk), *_of_customers(walk), *_missing(walk)]


def _unfinished(walk: Walk) -> list[Step]:
    drafts = Job.objects.filter(state="draft", day__lte=walk.last).select_related("unit", "technician")
    drafts = drafts.annotate(entered=Counted("lines")).order_by("day", "id")
    counts = Count.objects.filter(state="open").select_related("location").annotate(read=Counted("entries"))
    return [
        walk.step(
            DRAFT,
            ("Drafts to sign or give up", "a draft has moved nothing; its grams are still in the cans by the book"),
            drafts,
            reverse("jobs") + "?state=draft",
            lambda job: (f"{job.number}, {job.unit.title}, {job.technician}", reverse("job", args=[job.pk])),
        ),
        walk.step(
            COUNT,
            ("Counts under way", "what was read and not posted changes nothing"),
            counts,
            reverse("counting"),
            lambda one: (f"{one.location}, since {said_day(one.day)}", reverse("count", args=[one.pk])),
        ),
    ]


def _unknown(walk: Walk) -> list[Step]:
    recovered = Container.objects.filter(UNSETTLED_HERE, retired_on=None, void=False, arrived_on__lte=walk.last)
    return [
        walk.step(
            WEIGH,
            ("Containers not weighed in the month", "a leak shows at the next weighing only"),
            not_weighed_since(walk.since).filter(arrived_on__lte=walk.last),
            reverse("stock") + f"?unweighed={walk.since}",
            _weigh,
        ),
        walk.step(
            DIFFERENCE,
            ("Differences without a reason", "an inspector asks where the grams went"),
            without_reason(walk.first, walk.last),
            reverse("differences") + f"?first={walk.first}&last={walk.last}&open=1",
            _difference,
        ),
        walk.step(
            SETTLE,
            (
                "Recovered refrigerant without a destination, and found that nobody identified yet",
                "it is recycled, or sent to a reclaimer or destruction; what was found is identified first",
            ),
            recovered.select_related("substance", "account", "location").order_by("code"),
            reverse("stock") + "?grade=unsettled",
            lambda one: (_waiting(one), reverse("container", args=[one.code])),
        ),
    ]


def _weigh(one: Container) -> tuple[str, str]:
    last = f"last on {said_day(one.last_weighed_on)}" if one.last_weighed_on else "never"
    seen = f", seen on {said_day(one.seen_on)}" if one.seen_on and one.seen_on != one.last_weighed_on else ""
    return f"{_at(one)}, {last}{seen}", reverse("weigh", args=[one.code])


def _difference(one: Weighing) -> tuple[str, str]:
    return f"{one.container.code} on {said_day(one.day)}", reverse("difference", args=[one.pk])


def _of_customers(walk: Walk) -> list[Step]:
    """The same of customers' gas, in no figure of the shop's; no step where nothing is open in it."""
    found = [
        walk.step(
            WEIGH,
            ("Customers' cylinders not weighed in the month", "what is lost of it is asked for by its owner"),
            not_weighed_since(walk.since, theirs=True).filter(arrived_on__lte=walk.last),
            reverse("stock") + f"?unweighed={walk.since}&whose=customers",
            _weigh,
            whose="customers",
        ),
        walk.step(
            DIFFERENCE,
            ("Customers' cylinders with a difference without a reason", "their owners ask where the grams went"),
            without_reason(walk.first, walk.last, theirs=True),
            reverse("differences") + f"?first={walk.first}&last={walk.last}&open=1&whose=customers",
            _difference,
            whose="customers",
        ),
    ]
    return [step for step in found if step.count]


def _waiting(one: Container) -> str:
    if one.unknown:
        return f"{_at(one)}, found, held until known since {said_day(one.arrived_on)}"
    return f"{_at(one)}, {one.grade} {one.substance}"


def _at(one: Container) -> str:
    """Its code and where it stands: whoever does something about it goes there."""
    return f"{one.code} at {one.location.name}" if one.location else one.code


def _missing(walk: Walk) -> list[Step]:
    check = ScaleCheck.objects.filter(scale=OuterRef("pk")).order_by("-day", "-id")
    seen = {name: Subquery(check.values(column)[:1]) for name, column in LAST_CHECK.items()}
    return [
        walk.step(
            SCALE,
            ("Scale checks due", "weights rest on a scale that is known to be right"),
            overdue(walk.last).annotate(**seen),
            reverse("scales"),
            lambda one: (one.code, reverse("scale", args=[one.pk])),
        ),
        walk.step(
            PAPER,
            ("Deliveries without their paper", "the invoice shows where it came from"),
            without_paper(walk.first, walk.last),
            reverse("receiving"),
            lambda one: (
                f"voucher {one.number}, {one.document or 'no document'}",
                reverse("voucher", args=[one.number]),
            ),
        ),
    ]


LAST_CHECK = {"check_day": "day", "check_mass": "reference_mg", "check_name": "reference"}


def open_rows(found: Sequence[Step]) -> Mapping[str, list[str]]:
    """The things that each kind of step shows as open."""
    said: dict[str, list[str]] = {}
    for step in found:
        said.setdefault(step.kind, []).extend(row.thing for row in step.rows)
    return said
