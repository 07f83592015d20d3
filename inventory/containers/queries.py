"""The questions about stock."""

import datetime as dt
from collections.abc import Iterable
from typing import NamedTuple

from django.db import connection
from django.db.models import Count, Q, QuerySet, Sum
from django.db.models.functions import Coalesce

from inventory.codes.queries import names_of
from inventory.containers.models import Container, Weighing
from inventory.ledger.accounts import HOLDING, HOLDING_SQL
from inventory.ledger.models import Account, Movement, Voucher
from inventory.ledger.queries import CONTAINER
from inventory.reference.kinds import with_trait
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.container_disposal import proof_asked
from inventory.verdicts.container_label import Labelled

OURS = Q(kept_for="", unknown=False)  # of the shop, and known: what may be taken for any work
THEIRS_HERE = ~Q(kept_for="")  # of customers


def containers() -> QuerySet[Container]:
    """All containers with what their pages and lists show."""
    return Container.objects.select_related("substance", "location", "account", "last_scale")


def in_stock() -> QuerySet[Container]:
    return containers().filter(retired_on=None, void=False)


def fillable() -> list[str]:
    """The codes of the shop's containers that may be filled again, as suggestions."""
    found = Container.objects.filter(OURS, kind__in=with_trait("refillable"), retired_on=None, void=False)
    return list(found.values_list("code", flat=True)[:200])


def label_of(container: Container) -> Labelled:
    """What is known to stand on a container's label. Needs `substance` loaded."""
    known = {
        "grade": container.label_says == container.grade,
        "batch": container.batch,
        "facility": container.facility,
        "statement": container.label_statement,
    }
    code = container.substance.code if container.substance else ""
    said = frozenset(name for name, value in known.items() if value)
    return Labelled(container.kind, code, container.grade, said, container.arrived_on)


def proof_asked_of(codes: Iterable[str], rules: Rulebook, day: dt.date) -> str:
    """What must prove that these containers ended as rules ask, in words; blank where nothing is asked."""
    found = Container.objects.filter(code__in=list(codes)).values_list("kind", "substance__code").distinct()
    asked = [rule for kind, substance in found for rule in rules.container_disposals(kind, substance or "", day)]
    return "; or ".join(dict.fromkeys(f"{proof_asked(rule)}, by {rule.cited()}" for rule in asked if rule.asks_proof))


class OnHand(NamedTuple):
    """What is in stock of a substance, mg or uL, and in how many containers."""

    code: str
    is_oil: bool
    total: int
    count: int
    substance_id: int

    @property
    def words(self) -> str:
        return f"{self.code}, {self.count} container{'s' * (self.count != 1)}"


def on_hand() -> list[OnHand]:
    """Per substance, refrigerants first. Read from the accounts that hold something, by an index of their own:
    the time follows what is in stock, not what ever was."""
    # The conditions are written out, not passed: SQLite uses a partial index only where it can see them.
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT s.code, s.is_oil, t.total, t.count, s.id FROM (SELECT substance_id, SUM(balance) AS total, "
            f"COUNT(*) AS count FROM inventory_account WHERE cls = {CONTAINER} AND balance > 0 "
            "GROUP BY substance_id) t JOIN inventory_substance s ON s.id = t.substance_id ORDER BY s.is_oil, s.code"
        )
        return [OnHand(code, bool(oil), int(total), count, pk) for code, oil, total, count, pk in cursor.fetchall()]


def totals_of(found: QuerySet[Container]) -> list[OnHand]:
    """The same of some containers, summed by the database; those that hold nothing are counted with their substance."""
    rows = found.order_by().values_list("substance__code", "substance__is_oil", "substance_id")
    rows = rows.annotate(total=Coalesce(Sum("account__balance"), 0), count=Count("pk"))
    known = [OnHand(code or "", bool(oil), int(total), count, pk or 0) for code, oil, pk, total, count in rows]
    return sorted(known, key=lambda one: (one.is_oil, one.code))


RUNNING = f"""
SELECT day, SUM(change) FROM (
  SELECT m.day, m.quantity AS change FROM inventory_movement m JOIN inventory_account a ON a.id = m.target_id
  WHERE a.cls IN ({HOLDING_SQL}) AND a.name = %s
  UNION ALL
  SELECT m.day, -m.quantity FROM inventory_movement m JOIN inventory_account a ON a.id = m.source_id
  WHERE a.cls IN ({HOLDING_SQL}) AND a.name = %s
) AS changes GROUP BY day ORDER BY day
"""


def running_content(code: str) -> list[tuple[dt.date, int]]:
    """What a container held at the end of each day on which that changed, mg or uL, summed by the database."""
    found, level = [], 0
    with connection.cursor() as cursor:
        cursor.execute(RUNNING, [code, code])
        for day, change in cursor.fetchall():
            level += int(change)
            found.append((dt.date.fromisoformat(day[:10]) if isinstance(day, str) else day, level))
    return found


def life_of(container: Container, most: int = 100) -> list[Voucher]:
    """The vouchers that touched a container, the latest first, each with its `readings` of this container."""
    accounts = list(Account.objects.filter(cls__in=HOLDING, name=container.code).values_list("id", flat=True))
    numbers: set[int] = set()
    for side in ("source__in", "target__in"):
        moved = Movement.objects.filter(**{side: accounts}).order_by("-voucher_id")
        numbers |= set(moved.values_list("voucher_id", flat=True)[: 2 * most])
    weighings = list(
        Weighing.objects.filter(container=container).select_related("scale").order_by("-position", "-line")[: 2 * most]
    )
    numbers |= {weighing.voucher_id for weighing in weighings}
    numbers |= {n for n in (container.arrival_id, container.last_voucher_id) if n}
    vouchers = list(Voucher.objects.filter(number__in=numbers).order_by("-number")[:most])
    for voucher in vouchers:
        voucher.readings = sorted(
            (w for w in weighings if w.voucher_id == voucher.number), key=lambda weighing: weighing.line
        )
    return vouchers


class Kept(NamedTuple):
    """What is kept for a customer of a refrigerant, mg, and in how many containers. owner: the customer's code;
    substance: blank of containers that are empty and nobody said for what."""

    owner: str
    called: str
    substance: str
    total: int
    count: int


def kept_rows() -> QuerySet:
    """By customer and gas what is kept, the largest first, summed by the database; for `kept_named`."""
    kept = Container.objects.filter(retired_on=None, void=False).exclude(kept_for="")
    rows = kept.values("kept_for", "substance__code")
    rows = rows.annotate(total=Coalesce(Sum("account__balance"), 0), count=Count("pk"))
    return rows.order_by("-total", "kept_for", "substance__code")


def kept_named(rows: Iterable[dict]) -> list[Kept]:
    """Some of `kept_rows`, with the customers' names; one question, and none where nothing is kept."""
    found = list(rows)
    names = names_of({row["kept_for"] for row in found}) if found else {}
    return [
        Kept(
            row["kept_for"],
            names.get(row["kept_for"], row["kept_for"]),
            row["substance__code"] or "",
            int(row["total"]),
            row["count"],
        )
        for row in found
    ]


def held_until_known() -> QuerySet[Container]:
    """What was found and waits to be identified, the longest first."""
    return in_stock().filter(unknown=True).order_by("arrived_on", "code")
