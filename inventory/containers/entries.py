"""What is on record of containers' stories, as the replay asks for it; and where a new act stands among it."""

import datetime as dt
import json
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from django.db import connection
from django.utils import timezone

from inventory.containers.events import CLASSES, Placed, behind, entry_ops, parts_of
from inventory.containers.models import ContainerEntry
from inventory.containers.replay import Pair
from inventory.ledger.accounts import HOLDING, Spot
from inventory.ledger.models import Account
from inventory.measures.days import said_day
from inventory.shop.clock import zone
from inventory.text.refusal import Refused

MOMENT = "%Y-%m-%dT%H:%M:%S.%fZ"
ARRIVALS = ("opening", "receipt", "taking-in", "found")

# What went between two accounts, what was taken back taken off.
NETTED = """
SELECT source, target, SUM(quantity) FROM (
  SELECT CASE WHEN reversal THEN target_id ELSE source_id END AS source,
    CASE WHEN reversal THEN source_id ELSE target_id END AS target,
    CASE WHEN reversal THEN -quantity ELSE quantity END AS quantity
  FROM inventory_movement WHERE {where}
) AS netted GROUP BY source, target HAVING SUM(quantity) <> 0
"""


class OnRecord:
    """The `World` of the replay, read from the database."""

    def story(self, codes: Collection[str]) -> list[Placed]:
        """One question, since the entries of a container hold its part of each act."""
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT c.code, e.voucher_id, e.position, e.ops FROM inventory_containerentry e "
                f"JOIN inventory_container c ON c.id = e.container_id WHERE c.code IN ({_marks(codes)})",
                list(codes),
            )
            return [one for row in cursor.fetchall() for one in entry_ops(*row)]

    def touched(self, vouchers: Collection[int]) -> set[str]:
        entries = ContainerEntry.objects.filter(voucher__in=vouchers)
        return set(entries.values_list("container__code", flat=True))

    def posted(self, codes: Collection[str]) -> Mapping[Pair, int]:
        accounts = list(Account.objects.filter(cls__in=HOLDING, name__in=codes).values_list("id", flat=True))
        if not accounts:
            return {}
        marks = _marks(accounts)
        where = f"source_id IN ({marks}) OR target_id IN ({marks})"
        return _netted(where, [*accounts, *accounts])

    def moved(self, vouchers: Collection[int]) -> Mapping[Pair, int]:
        return _netted(f"voucher_id IN ({_marks(vouchers)})", list(vouchers)) if vouchers else {}


def _marks(values: Collection) -> str:
    return ", ".join(["%s"] * len(values))


def _netted(where: str, values: list) -> dict[Pair, int]:
    with connection.cursor() as cursor:
        cursor.execute(NETTED.format(where=where), values)
        rows = cursor.fetchall()
    keys = dict(Account.objects.filter(id__in={end for row in rows for end in row[:2]}).values_list("id", "key"))
    spots = {pk: spot_of(key) for pk, key in keys.items()}
    return {(spots[source], spots[target]): int(quantity) for source, target, quantity in rows}


def spot_of(key: str) -> Spot:
    """The account that a key names."""
    substance, cls, *more = json.loads(key)
    return Spot(substance, CLASSES[cls], *more)


# -- where a new act stands --------------------------------------------------------------------------------


def moment(at: dt.datetime) -> str:
    """A moment as events have it, UTC."""
    return at.astimezone(dt.UTC).strftime(MOMENT)


def start_of(day: dt.date) -> str:
    """The first moment of a day at the shop: of an act whose time nobody said."""
    return moment(dt.datetime.combine(day, dt.time.min, zone()))


@dataclass(frozen=True)
class Beside:
    """An act of a day that touched some containers. at: None where its time is not known."""

    voucher: int
    kind: str
    document: str
    at: dt.datetime | None
    codes: tuple[str, ...]
    position: str

    @property
    def words(self) -> str:
        """For people, e.g. `voucher 17, 14:05: job J-00012, with CAN-1`."""
        time = f", {timezone.localtime(self.at):%H:%M}" if self.at else ""
        what = f"{self.kind} {self.document}".strip()
        return f"voucher {self.voucher}{time}: {what}, with {', '.join(self.codes[:5])}"


def acts_of(day: dt.date, codes: Iterable[str], without: int | None = None) -> list[Beside]:
    """The acts of a day that touched any of these containers, in their order, what they came in with left out.
    without: a voucher that is about to be taken back."""
    entries = ContainerEntry.objects.filter(on=day, container__code__in=set(codes)).exclude(voucher__kind__in=ARRIVALS)
    entries = entries.exclude(voucher=without) if without else entries
    found: dict[int, list] = {}
    for entry in entries.select_related("voucher", "container").order_by("position", "voucher"):
        found.setdefault(entry.voucher_id, []).append(entry)
    nobody_said = start_of(day)
    beside = []
    for number, ours in found.items():
        last = max(one.position for entry in ours for one in entry_ops("", number, entry.position, entry.ops))
        at = parts_of(last)[1]
        time = None if at == nobody_said else dt.datetime.strptime(at, MOMENT).replace(tzinfo=dt.UTC)
        voucher, touched = ours[0].voucher, tuple(sorted(entry.container.code for entry in ours))
        beside.append(Beside(number, voucher.kind, voucher.document, time, touched, last))
    return sorted(beside, key=lambda one: (one.position, one.voucher))


class OrderAsked(Refused):
    """When on its day an act was is not known, and others of that day touched the same containers. acts: those."""

    def __init__(self, day: dt.date, acts: list[Beside]):
        super().__init__(
            f"On {said_day(day)} something else was recorded for the same container, and nothing says which came "
            f"first: {'; '.join(one.words for one in acts)}. Say after which of them this was.",
            "follows",
        )
        self.acts = acts
        self.choices = [(0, "before all of them"), *((one.voucher, f"after {one.words}") for one in acts)]


def place_said(day: dt.date, after: int, codes: Iterable[str], own: int) -> tuple[str, tuple[int, ...]]:
    """The moment and position of an act that came right after another one of that day (0: before all). own: the number
    that its voucher will have. Raises Refused where that one is not there (any more)."""
    if not after:
        return start_of(day), behind((), own)
    found = next((one for one in acts_of(day, codes) if one.voucher == after), None)
    if found is None:
        raise Refused(
            f"Voucher {after} says nothing of these containers on {said_day(day)} (any more); choose anew which entry "
            "it came after.",
            "follows",
        )
    _, at, numbers = parts_of(found.position)
    return at, behind(numbers, own)
