"""What an entry counts for in a period when it was taken back later: nothing where both lie in the period; where the
reversal came after, it stays in the earlier period and is taken off in the later one, as in the ledger's balances."""

from django.db.models import QuerySet

from inventory.ledger.models import Voucher
from shopledger.reporting.report import Period

NAMED = 20  # corrections that a report names; the ledger holds them all


def entries(kind: str, period: Period) -> QuerySet[Voucher]:
    """Vouchers of a kind dated in the period that still stood at its end."""
    found = Voucher.objects.filter(kind=kind, day__gte=period.first, day__lte=period.last)
    return found.exclude(reversed_by__day__lte=period.last).order_by("day", "number")


def taken_back(kind: str, period: Period) -> QuerySet[Voucher]:
    """Vouchers of a kind dated before the period that were reversed in it; they count with the opposite sign."""
    found = Voucher.objects.filter(kind=kind, day__lt=period.first)
    return found.filter(reversed_by__day__gte=period.first, reversed_by__day__lte=period.last).order_by(
        "reversed_by__day", "reversed_by__number"
    )


def corrected_later(period: Period) -> list[str]:
    """A sentence for each entry of the period that was reversed after it; one statement."""
    found = Voucher.objects.filter(day__gte=period.first, day__lte=period.last, reversed_by__day__gt=period.last)
    rows = list(
        found.select_related("reversed_by").defer("detail", "reversed_by__detail").order_by("number")[: NAMED + 1]
    )
    said = [
        f"Corrected after this period: voucher {one.number} of {one.day} ({one.kind}), by voucher "
        f"{one.reversed_by.number} of {one.reversed_by.day}"
        + (f": {' '.join(one.reversed_by.note.split())[:120]}." if one.reversed_by.note else ".")
        for one in rows[:NAMED]
    ]
    if len(rows) > NAMED:
        said.append(f"Of {found.count()} entries that were corrected after this period the first {NAMED} are named.")
    return said


TAKEN_OFF = "Rows below zero take off what an earlier period reported and was corrected in this one."
