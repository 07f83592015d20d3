"""What an entry counts for in a period when it was taken back later: nothing where both lie in the period; where the
reversal came after, it stays in the earlier period and is taken off in the later one, as in the ledger's balances."""

from django.db.models import Case, F, Q, QuerySet, When

from inventory.ledger.models import Voucher, stands
from shopledger.reporting.report import Period, Worded, joined

NAMED = 20  # corrections that a report names; the ledger holds them all


def entries(kind: str, period: Period) -> QuerySet[Voucher]:
    """Vouchers of a kind dated in the period that still stood at its end."""
    found = Voucher.objects.standing(period.last).filter(kind=kind, day__gte=period.first, day__lte=period.last)
    return found.order_by("day", "number")


def sign_of(period: Period, prefix: str = "") -> Case:
    """1 for a voucher that the period counts, -1 for one that it takes off. prefix: the way to the voucher."""
    return Case(When(**{f"{prefix}day__lt": period.first}, then=-1), default=1)


def counted(kind: str, period: Period) -> QuerySet[Voucher]:
    """Vouchers of a kind that the period counts, each with its `sign`: `entries`, then, to be taken off, those of
    earlier periods that were taken back in this one."""
    within = Q(day__gte=period.first, day__lte=period.last) & stands(through=period.last)
    off = Q(day__lt=period.first, reversed_by__day__gte=period.first, reversed_by__day__lte=period.last)
    found = Voucher.objects.filter(within | off, kind=kind).annotate(sign=sign_of(period))
    when = (Case(When(sign=-1, then=F(f"reversed_by__{name}")), default=F(name)) for name in ("day", "number"))
    return found.order_by("-sign", *when)


def corrected_later(period: Period) -> list[str]:
    """A sentence for each entry of the period that was reversed after it; one statement."""
    found = Voucher.objects.filter(day__gte=period.first, day__lte=period.last, reversed_by__day__gt=period.last)
    rows = list(
        found.select_related("reversed_by").defer("detail", "reversed_by__detail").order_by("number")[: NAMED + 1]
    )
    said = [_corrected(one) for one in rows[:NAMED]]
    if len(rows) > NAMED:
        said.append(f"Of {found.count()} entries that were corrected after this period the first {NAMED} are named.")
    return said


def _corrected(one: Voucher) -> Worded:
    """What corrected a voucher, and the note of whoever did it, which files leave out."""
    by, note = one.reversed_by, " ".join(one.reversed_by.note.split())[:120]
    return joined(
        f"Corrected after this period: voucher {one.number} of {one.day} ({one.kind}), "
        f"by voucher {by.number} of {by.day}",
        Worded(f": {note}" if note else "", ""),
        ".",
    )


TAKEN_OFF = "Rows below zero take off what an earlier period reported and was corrected in this one."
