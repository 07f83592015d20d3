"""What an entry would post, found out by posting it and taking it all back."""

from collections.abc import Callable
from dataclasses import dataclass, field

from django.db import transaction

from inventory.ledger.accounts import AccountClass, Spot
from inventory.ledger.models import ChainHead, Voucher

UNEXPLAINED = {AccountClass.UNEXPLAINED_GAIN, AccountClass.UNEXPLAINED_LOSS}


@dataclass(frozen=True)
class Moved:
    """What would go from one account to another, in words. quantity: mg, or uL of an oil. back: it is taken back."""

    words: str
    quantity: int
    is_oil: bool
    doubtful: bool
    back: bool = False


@dataclass(frozen=True)
class WouldPost:
    """A voucher that would be posted. what: of it, in words. readings: how many weighings would say something else."""

    kind: str
    what: str
    day: object
    moved: list[Moved] = field(default_factory=list)
    readings: int = 0


def would_post(act: Callable[[], object]) -> list[WouldPost]:
    """The vouchers that an act would post, in their order. Nothing is posted. Raises what the act raises."""
    with transaction.atomic():
        before = ChainHead.objects.get(id=1).number
        act()
        vouchers = (
            Voucher.objects.filter(number__gt=before)
            .order_by("number")
            .prefetch_related("movements__source", "movements__target", "movements__substance")
        )
        found = [_would_post(one) for one in vouchers]
        transaction.set_rollback(True)
    return found


def _would_post(voucher: Voucher) -> WouldPost:
    moved: dict[tuple[str, bool, bool, bool], int] = {}
    for one in sorted(voucher.movements.all(), key=lambda one: one.line):
        ends = (one.source, one.target) if not one.reversal else (one.target, one.source)
        words = " to ".join(end_said(AccountClass(end.cls), end.name) for end in ends)
        if ends[0].cls == ends[1].cls == AccountClass.CONTAINER and ends[0].name == ends[1].name:
            words = f"{ends[0].name}, {_where(ends[0])} to {_where(ends[1])}"
        key = words, one.substance.is_oil, bool({end.cls for end in ends} & UNEXPLAINED), one.reversal
        moved[key] = moved.get(key, 0) + one.quantity
    lines = [Moved(words, quantity, oil, doubtful, back) for (words, oil, doubtful, back), quantity in moved.items()]
    what = {
        "reversal": f"voucher {voucher.reverses_id} is taken back",
        "restatement": "what follows from it for what was recorded since",
    }.get(voucher.kind, "as it is entered now")
    restated = voucher.weighings.count() if voucher.kind == "restatement" else 0
    return WouldPost(voucher.kind, what, voucher.day, lines, restated)


def _where(end) -> str:
    return ", ".join(filter(None, [end.location, end.grade])) or "no place"


def end_said(cls: AccountClass, name: str) -> str:
    """An account at one end of a transfer, for people."""
    if cls == AccountClass.CONTAINER:
        return name
    return "the unit" if cls == AccountClass.UNIT else cls.word


def spot_said(spot: Spot) -> str:
    return end_said(spot.cls, spot.name)
