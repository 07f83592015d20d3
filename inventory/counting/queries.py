"""Questions about counts and differences. Each is about the shop's own, or apart from it (theirs) about what is kept
for customers: neither counts in the other."""

import datetime as dt
import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from django.db import connection
from django.db.models import Count as Counted
from django.db.models import Exists, F, OuterRef, Q, QuerySet, Subquery, Sum

from inventory.containers.models import Container, ContainerEntry, Location, Weighing
from inventory.containers.queries import OURS, THEIRS_HERE, held_until_known, in_stock
from inventory.counting.causes import Seen
from inventory.counting.models import Count, CountEntry, Explanation
from inventory.counting.whose import THEIRS, whose
from inventory.ledger.accounts import HOLDING_SQL, AccountClass
from inventory.ledger.models import Substance, Voucher, stands
from inventory.ledger.queries import totals_between
from inventory.measures.balance_uncertainty import Readings, expanded_uncertainty, proven
from inventory.reference.kinds import with_trait

UNEXPLAINED = ("unexplained gain", "unexplained loss")
RECORDED = ("before", "count")
HELD = 100  # of those that wait to be identified, as many are named at a place


def standing(through: dt.date | None = None) -> QuerySet[Weighing]:
    """Weighings that count, each once: as it was judged last by a voucher that was not taken back; none that was
    itself taken back. through: as that was at the end of a day, whatever came after."""
    whole = stands("voucher__", through)
    later = (Q(restates=OuterRef("pk")) | Q(restates=OuterRef("restates"), voucher__gt=OuterRef("voucher"))) & whole
    until = Q(day__lte=through) if through else Q()
    found = Weighing.objects.filter(whole & until & (Q(restates=None) | stands("restates__voucher__", through)))
    return found.filter(~Exists(Weighing.objects.filter(later & until)))


def explained(through: dt.date | None = None) -> QuerySet[Weighing]:
    """Standing weighings, each with `reason` and `reason_note` of its latest explanation."""
    latest = Explanation.objects.filter(weighing=OuterRef("pk")).order_by("-id")
    return standing(through).annotate(
        reason=Subquery(latest.values("reason")[:1]), reason_note=Subquery(latest.values("note")[:1])
    )


def differences(first: dt.date | None = None, last: dt.date | None = None, theirs: bool = False) -> QuerySet[Weighing]:
    """Differences that weighing alone cannot explain, the latest first."""
    found = whose(explained().filter(outcome__in=UNEXPLAINED), theirs)
    if first:
        found = found.filter(day__gte=first)
    if last:
        found = found.filter(day__lte=last)
    found = found.select_related("container__substance", "container__location", "scale", "voucher")
    return found.order_by("-day", "-voucher_id", "-line")


def without_reason(
    first: dt.date | None = None, last: dt.date | None = None, theirs: bool = False
) -> QuerySet[Weighing]:
    return differences(first, last, theirs).filter(reason=None)


def weighing_before(weighing: Weighing) -> Weighing | None:
    """The weighing of the same container that stands before it."""
    earlier = (
        standing()
        .filter(container=weighing.container_id)
        .filter(Q(position__lt=weighing.position) | Q(position=weighing.position, line__lt=weighing.line))
    )
    return earlier.select_related("scale", "voucher").order_by("-position", "-line").first()


def between(weighing: Weighing, earlier: Weighing | None) -> list[Voucher]:
    """What was recorded for the container between two weighings of it, in order."""
    found = ContainerEntry.objects.filter(container=weighing.container_id, position__lt=weighing.position)
    if earlier is not None:
        found = found.filter(position__gte=earlier.position)
    return [entry.voucher for entry in found.select_related("voucher").order_by("position", "voucher")[:200]]


def at_that_time(weighing: Weighing, earlier: Weighing | None) -> QuerySet[Voucher]:
    """Jobs of those days that moved the same refrigerant, whichever container they named."""
    jobs = Voucher.objects.standing().filter(kind="job", day__lte=weighing.day)
    jobs = jobs.filter(movements__substance=weighing.container.substance_id).distinct()
    if earlier is not None:
        jobs = jobs.filter(day__gte=earlier.day)
    return jobs.order_by("-number")


# -- over time -------------------------------------------------------------------------------------------


KEYS = {
    "container": "container__code",
    "person": "voucher__done_by",
    "scale": "scale__code",
    "location": "container__location__name",
}


def grouped(key: str, first: dt.date, last: dt.date, theirs: bool = False) -> list[dict]:
    """Differences of a period by one of KEYS: how many weighings, how many outside, lost and gained (mg)."""
    found = whose(standing(), theirs).filter(day__gte=first, day__lte=last, role__in=RECORDED)
    found = found.exclude(container__kind__in=with_trait("is_oil"))
    outside = Q(outcome__in=UNEXPLAINED)
    return list(
        found.values(name=F(KEYS[key]))
        .annotate(
            weighings=Counted("id"),
            outside=Counted("id", filter=outside),
            lost=-Sum("difference", filter=outside & Q(difference__lt=0), default=0),
            gained=Sum("difference", filter=outside & Q(difference__gt=0), default=0),
            net=Sum("difference", default=0),
        )
        .order_by("-lost", "-gained", "name")[:200]
    )


SEEN = f"""
SELECT COALESCE(d.id, w.id), c.code, COALESCE(s.code, ''), v.done_by, w.day, w.gross,
  COALESCE(d.difference, w.difference), COALESCE(d.tolerance, w.tolerance), w.voucher_id,
  p.day, p.scale_id, p.voucher_id, w.scale_id
FROM inventory_weighing w
LEFT JOIN inventory_weighing d ON d.id = (
  SELECT e.id FROM inventory_weighing e WHERE e.restates_id = w.id
    AND NOT EXISTS (SELECT 1 FROM inventory_voucher r WHERE r.reverses_id = e.voucher_id)
  ORDER BY e.voucher_id DESC LIMIT 1)
JOIN inventory_container c ON c.id = w.container_id
JOIN inventory_voucher v ON v.number = w.voucher_id
LEFT JOIN inventory_scale s ON s.id = w.scale_id
LEFT JOIN inventory_weighing p ON p.id = (
  SELECT q.id FROM inventory_weighing q WHERE q.container_id = w.container_id AND q.restates_id IS NULL AND
    (q.position < w.position OR (q.position = w.position AND q.line < w.line))
    AND NOT EXISTS (SELECT 1 FROM inventory_voucher r WHERE r.reverses_id = q.voucher_id)
  ORDER BY q.position DESC, q.line DESC LIMIT 1)
WHERE w.day >= %s AND w.day <= %s AND w.role IN ('before', 'count') AND c.kind NOT IN ({{oils}})
  AND w.id {{whose}} ({THEIRS}) AND w.outcome <> 'tare taken' AND w.restates_id IS NULL
  AND NOT EXISTS (SELECT 1 FROM inventory_voucher r WHERE r.reverses_id = w.voucher_id)
ORDER BY w.position, w.line LIMIT 5000
"""
USED = f"""
SELECT a.name, m.voucher_id, v.done_by FROM inventory_movement m
JOIN inventory_account a ON a.id = m.source_id JOIN inventory_voucher v ON v.number = m.voucher_id
WHERE m.source_class IN ({HOLDING_SQL}) AND m.target_class IN (4, 7) AND m.day >= %s AND m.day <= %s AND v.kind = 'job'
ORDER BY m.voucher_id
"""


def seen(first: dt.date, last: dt.date, theirs: bool = False) -> dict[int, Seen]:
    """The weighings of a period as `causes` looks at them, by id."""
    with connection.cursor() as cursor:
        oils = with_trait("is_oil")
        asked = SEEN.format(oils=_marks(oils), whose="IN" if theirs else "NOT IN")
        cursor.execute(asked, [first.isoformat(), last.isoformat(), *oils])
        rows = cursor.fetchall()
        earliest = min((_day(row[9]) for row in rows if row[9]), default=first)
        cursor.execute(USED, [min(earliest, first).isoformat(), last.isoformat()])
        used: dict[str, list[tuple[int, str]]] = {}
        for code, number, person in cursor.fetchall():
            if not used.get(code) or used[code][-1][0] != number:
                used.setdefault(code, []).append((number, person))
    found = {}
    for row in rows:
        pk, code, scale, person, day, gross, difference, tolerance, number, before, p_scale, p_number, scale_id = row
        jobs = [who for voucher, who in used.get(code, ()) if (p_number or 0) <= voucher < number]
        found[pk] = Seen(
            code,
            scale,
            jobs[-1] if jobs else person,
            (_day(day) - _day(before)).days if before else None,
            gross,
            difference,
            tolerance,
            first=before is None,
            other_scale=before is not None and p_scale != scale_id,
            jobs=len(jobs),
        )
    return found


def _marks(values: Sequence[object]) -> str:
    """As many parameters of a statement."""
    return ", ".join(["%s"] * len(values))


def _day(value: object) -> dt.date:
    return dt.date.fromisoformat(value[:10]) if isinstance(value, str) else value


# -- what weighing can explain of a period ----------------------------------------------------------------


@dataclass(frozen=True)
class Unexplained:
    """The sum of all differences of a substance in a period, mg, and what weighing can explain of it."""

    substance: str
    total: int
    expanded: int

    @property
    def proven(self) -> bool:
        return proven(self.total, self.expanded)


# c of each reading: +1 where it was compared with the book, -1 where the next comparison starts from it.
COEFFICIENTS = f"""
SELECT substance_id, scale_id, SUM(c * c), SUM(c * gross) FROM (
  SELECT substance_id, scale_id, gross, (CASE WHEN role IN ('before', 'count') THEN 1 ELSE 0 END)
    - (CASE WHEN next_role IN ('before', 'count') THEN 1 ELSE 0 END) AS c
  FROM (
    SELECT c.substance_id, w.scale_id, w.gross, w.role,
      LEAD(w.role) OVER (PARTITION BY w.container_id ORDER BY w.position, w.line) AS next_role
    FROM inventory_weighing w JOIN inventory_container c ON c.id = w.container_id
    WHERE w.day >= %s AND w.day <= %s AND w.restates_id IS NULL AND c.kind NOT IN ({{oils}}) AND w.scale_id IS NOT NULL
      AND w.id NOT IN ({THEIRS})
      AND NOT EXISTS (SELECT 1 FROM inventory_voucher r WHERE r.reverses_id = w.voucher_id)
  ) AS read_in
  UNION ALL
  SELECT c.substance_id, p.scale_id, p.gross, -1
  FROM (
    SELECT container_id, MIN(id) AS id FROM inventory_weighing
    WHERE day >= %s AND day <= %s AND restates_id IS NULL AND role IN ('before', 'count')
      AND id NOT IN ({THEIRS})
      AND NOT EXISTS (SELECT 1 FROM inventory_voucher r WHERE r.reverses_id = voucher_id) GROUP BY container_id
  ) AS f
  JOIN inventory_weighing w ON w.id = f.id
  JOIN inventory_container c ON c.id = f.container_id
  JOIN inventory_weighing p ON p.id = (
    SELECT q.id FROM inventory_weighing q WHERE q.container_id = w.container_id AND q.restates_id IS NULL AND
      (q.position < w.position OR (q.position = w.position AND q.line < w.line))
      AND NOT EXISTS (SELECT 1 FROM inventory_voucher r WHERE r.reverses_id = q.voucher_id)
    ORDER BY q.position DESC, q.line DESC LIMIT 1)
  WHERE c.kind NOT IN ({{oils}}) AND p.day < %s AND p.scale_id IS NOT NULL AND p.id NOT IN ({THEIRS})
) AS terms GROUP BY substance_id, scale_id
"""
DIFFERENCES = {AccountClass.WEIGHING_DIFFERENCE, AccountClass.UNEXPLAINED_GAIN, AccountClass.UNEXPLAINED_LOSS}


def unexplained(first: dt.date, last: dt.date) -> list[Unexplained]:
    """For each refrigerant weighed in a period: the sum of its differences as the ledger has them on those days, with
    what was corrected on them, and its expanded uncertainty."""
    from inventory.containers.models import Scale

    scales = {row[0]: row[1:] for row in Scale.objects.values_list("id", "readability_mg", "span_ppm")}
    start, end = first.isoformat(), last.isoformat()
    terms: dict[int, list[Readings]] = {}
    with connection.cursor() as cursor:
        oils = with_trait("is_oil")
        cursor.execute(COEFFICIENTS.format(oils=_marks(oils)), [start, end, *oils, start, end, *oils, start])
        for substance_id, scale_id, squares, moment in cursor.fetchall():
            readability, span = scales[scale_id]
            terms.setdefault(substance_id, []).append(Readings(readability, span, int(squares), int(moment)))
    totals = dict.fromkeys(terms, 0)
    for flow in totals_between(first - dt.timedelta(days=1), last):
        ends = (flow.source_class, flow.target_class)
        sign = (ends[0] in DIFFERENCES) - (ends[1] in DIFFERENCES)
        if sign and AccountClass.CONTAINER in ends:
            totals[flow.substance_id] = totals.get(flow.substance_id, 0) + sign * flow.quantity
    refrigerants = Substance.objects.filter(is_oil=False, pk__in=totals).order_by("code")
    return [Unexplained(one.code, totals[one.pk], expanded_uncertainty(terms.get(one.pk, ()))) for one in refrigerants]


def not_weighed_since(day: dt.date, theirs: bool = False) -> QuerySet[Container]:
    """Containers here that hold something and were not weighed since a day; sealed single-use ones left out. `seen_on`:
    the last day on which a count saw one, without weighing it."""
    seen_at = CountEntry.objects.filter(stands("count__voucher__"), container=OuterRef("pk"), gross=None)
    found = Container.objects.filter(THEIRS_HERE if theirs else OURS, retired_on=None, void=False)
    found = found.filter(account__balance__gt=0)
    found = found.exclude(kind__in=with_trait("sealed_new"), opened_on=None)
    found = found.filter(Q(last_weighed_on__lt=day) | Q(last_weighed_on=None))
    found = found.annotate(seen_on=Subquery(seen_at.order_by("-count__day").values("count__day")[:1]))
    return found.select_related("substance", "location", "account").order_by("last_weighed_on", "code")


class ToldApart(NamedTuple):
    """How many containers the counts of some days weighed, only saw, and assumed to stand as the book has them."""

    weighed: int
    seen: int
    assumed: int


def told_apart(first: dt.date, last: dt.date) -> ToldApart:
    """Of the counts of places, each as it stands now."""
    counts = Count.objects.filter(stands("voucher__"), state="posted", day__gte=first, day__lte=last)
    entered = CountEntry.objects.filter(count__in=counts)
    seen = entered.aggregate(many=Counted("id"), seen=Counted("id", filter=Q(gross=None)))
    details = Voucher.objects.filter(count_made__in=counts).values_list("detail", flat=True)
    assumed = sum(len(json.loads(detail).get("assumed", ())) for detail in details)
    return ToldApart(seen["many"] - seen["seen"], seen["seen"], assumed)


def uncounted(count: Count, theirs: bool = False) -> QuerySet[Container]:
    """Containers that stand at the place by the book and are not on the count yet."""
    found = in_stock().filter(THEIRS_HERE if theirs else OURS, location=count.location_id)
    return found.exclude(pk__in=count.entries.values("container_id")).order_by("code")


def to_count(place: Location, theirs: bool = False) -> QuerySet[Container]:
    """Containers that stand at a place by the book."""
    return in_stock().filter(THEIRS_HERE if theirs else OURS, location=place).order_by("substance__code", "code")


def held_at(place: Location) -> QuerySet[Container]:
    """What was found, stands at a place and waits to be identified: it is looked for, and holds nothing to count."""
    return held_until_known().filter(location=place)


def held_here(place: Location) -> list[Container]:
    """The first of them."""
    return list(held_at(place)[:HELD])
