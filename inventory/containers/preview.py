"""What an entry would post, found out by posting it and taking it all back."""

import datetime as dt
import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from django.db import transaction

from inventory.codes.queries import names_of
from inventory.containers.events import parts_of
from inventory.containers.models import Weighing
from inventory.ledger.accounts import HOLDING, NAMED, AccountClass, Spot
from inventory.ledger.actions import rehearsing
from inventory.ledger.models import ChainHead, Voucher

SHOWN = 6  # movements of a voucher that a page shows unasked
UNEXPLAINED = {AccountClass.UNEXPLAINED_GAIN, AccountClass.UNEXPLAINED_LOSS}


@dataclass(frozen=True)
class Moved:
    """What would go from one account to another, in words. quantity: mg, or uL of an oil. back: it is taken back."""

    words: str
    substance: str
    quantity: int
    is_oil: bool
    doubtful: bool
    back: bool = False


@dataclass(frozen=True)
class Restated:
    """A weighing that says something else since. before, now: what the scale said against the book (mg, uL of an oil);
    outcome: what it is now. voucher: the one that it was taken for, on: the day of that act."""

    container: str
    voucher: int
    on: dt.date
    role: str
    is_oil: bool
    before: int
    now: int
    outcome: str

    @property
    def doubtful(self) -> bool:
        return self.outcome in {cls.word for cls in UNEXPLAINED}


@dataclass(frozen=True)
class WouldPost:
    """A voucher that would be posted. reverses: the number of the one that it takes back."""

    kind: str
    day: dt.date
    reverses: int | None = None
    moved: list[Moved] = field(default_factory=list)
    restated: list[Restated] = field(default_factory=list)

    @property
    def shown(self) -> list[Moved]:
        """The movements that are read at once: all where they are few, else those in doubt."""
        return self.moved if len(self.moved) <= SHOWN else [one for one in self.moved if one.doubtful]

    @property
    def folded(self) -> list[Moved]:
        """The others, and in `totals` what they come to."""
        return [] if len(self.moved) <= SHOWN else [one for one in self.moved if not one.doubtful]

    @property
    def totals(self) -> list[Moved]:
        """What the folded movements come to, per substance."""
        found: dict[tuple[str, bool], int] = {}
        for one in self.folded:
            found[one.substance, one.is_oil] = found.get((one.substance, one.is_oil), 0) + one.quantity
        return [Moved("", code, quantity, is_oil, False) for (code, is_oil), quantity in found.items()]

    @property
    def title(self) -> str:
        if self.kind == "reversal":
            return f"Voucher {self.reverses} is taken back"
        return "What follows from it" if self.kind == "restatement" else "As it is entered now"


class ChangedSince(Exception):
    """An act would post something else than what was shown. found: what it would post now."""

    def __init__(self, found: list[WouldPost]):
        super().__init__("Something was recorded meanwhile.")
        self.found = found


def would_post(act: Callable[[], object]) -> list[WouldPost]:
    """The vouchers that an act would post, in their order. Nothing is posted. Raises what the act raises."""
    with rehearsing():
        _, found = _posted(act)
    return found


def post_as_shown(act: Callable[[], int], shown: str) -> int:
    """Post an act where it posts what was shown: `mark` of what `would_post` found. Returns what the act does. Raises
    ChangedSince where it would post something else by now, and what the act raises; then nothing is posted."""
    with transaction.atomic():
        number, found = _posted(act)
        if mark(found) != shown:
            raise ChangedSince(found)
    return number


def mark(found: list[WouldPost]) -> str:
    """A mark of what an act would post, for a page to carry."""
    return hashlib.sha256(repr(found).encode()).hexdigest()[:16]


def _posted(act: Callable[[], object]) -> tuple[object, list[WouldPost]]:
    before = ChainHead.objects.select_for_update().get(id=1).number
    answer = act()
    return answer, posted_since(before)


def posted_since(before: int) -> list[WouldPost]:
    """The vouchers after the one of this number, in their order, as `would_post` tells them; entries that only state
    are left out."""
    vouchers = Voucher.objects.filter(number__gt=before).exclude(kind="record").order_by("number")
    vouchers = vouchers.prefetch_related("movements__source", "movements__target", "movements__substance")
    ends = {end for one in vouchers for moved in one.movements.all() for end in (moved.source, moved.target)}
    names = names_of({end.name for end in ends if end.cls in NAMED})
    return [_would_post(one, names) for one in vouchers]


def _would_post(voucher: Voucher, names: Mapping[str, str]) -> WouldPost:
    """names: of parties by their codes. A code itself is not shown: a new party has none for good before it is kept."""
    moved: dict[tuple, int] = {}
    for one in sorted(voucher.movements.all(), key=lambda one: one.line):
        ends = (one.source, one.target) if not one.reversal else (one.target, one.source)
        called = [names.get(end.name, end.name) if end.cls in NAMED else end.name for end in ends]
        words = " to ".join(end_said(AccountClass(end.cls), name) for end, name in zip(ends, called, strict=True))
        if ends[0].cls == ends[1].cls and ends[0].cls in HOLDING and ends[0].name == ends[1].name:
            words = f"{ends[0].name}, {_where(ends[0])} to {_where(ends[1])}"
        doubtful = not one.reversal and bool({end.cls for end in ends} & UNEXPLAINED)
        key = words, one.substance.code, one.substance.is_oil, doubtful, one.reversal
        moved[key] = moved.get(key, 0) + one.quantity
    lines = [Moved(words, code, quantity, *more) for (words, code, *more), quantity in moved.items()]
    return WouldPost(voucher.kind, voucher.day, voucher.reverses_id, lines, restated_by(voucher))


def restated_by(voucher: Voucher) -> list[Restated]:
    """The weighings that a restatement says anew, in their order."""
    if voucher.kind != "restatement":
        return []
    rows = voucher.weighings.filter(restates__isnull=False).order_by("line").select_related("container", "restates")
    said = {row.restates_id: row.restates.difference for row in rows}
    again = Weighing.objects.filter(restates__in=said, voucher__lt=voucher.number).order_by("voucher")
    said |= dict(again.values_list("restates_id", "difference"))  # the latest judgement counts
    return [
        Restated(
            row.container.code,
            row.restates.voucher_id,
            parts_of(row.position)[0],
            row.role,
            row.container.is_oil,
            said[row.restates_id],
            row.difference,
            row.outcome,
        )
        for row in rows
    ]


def _where(end) -> str:
    return ", ".join(filter(None, [end.location, end.grade])) or "no place"


def end_said(cls: AccountClass, name: str) -> str:
    """An account at one end of a transfer, for people."""
    if cls in HOLDING:
        return name
    return "the unit" if cls == AccountClass.UNIT else f"{cls.word} {name}".strip()


def spot_said(spot: Spot) -> str:
    return end_said(spot.cls, spot.name)
