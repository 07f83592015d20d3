"""What a seal covers, which of its reports are kept, and who holds its receipt."""

import datetime as dt
import json
from typing import NamedTuple

from django.db.models import Count, Max, Min, Q, Subquery

from inventory.ledger.models import Record, Seal, Voucher
from inventory.ledger.records import WORDS
from shopledger.reporting.report import Period
from shopledger.sealing.models import IssuedReport

FORMATS = ("pdf", "csv")  # one to read, one to count with
HANDED = "receipt-handed"  # the kind of the records that say who holds a receipt; no table repeats them


class Handed(NamedTuple):
    """A receipt in other hands. to: blank where it was erased. number: of the entry that says so."""

    to: str
    day: dt.date
    by: str
    number: int


def period_of(made: Seal) -> Period | None:
    """The days since the seal before; since the first voucher where there is none. None where nothing was posted."""
    before = seal_before(made)
    if before:
        return Period(before.through + dt.timedelta(days=1), made.through)
    first = first_day()
    return Period(first, made.through) if first and first <= made.through else None


def seal_before(made: Seal) -> Seal | None:
    return Seal.objects.filter(through__lt=made.through).order_by("-through").first()


def entry_of(made: Seal) -> Voucher | None:
    """The entry that sealed: its digest stands for the seal. None where the chain holds none."""
    stated = Voucher.objects.filter(kind="seal", records__kind="seal", records__key=made.through.isoformat())
    return stated.order_by("number").first()


def handed_out(made: Seal) -> list[Handed]:
    """Who was given a receipt of this seal, the latest entry first."""
    key = made.through.isoformat()
    about = Q(kind=HANDED, key=key) | Q(kind=WORDS, key=f"{HANDED}:{key}")
    said: dict[Voucher, dict] = {}
    for record in Record.objects.filter(about).select_related("voucher").order_by("-voucher", "line"):
        said.setdefault(record.voucher, {}).update(json.loads(record.body or "{}"))
    return [
        Handed(one.get("to", ""), dt.date.fromisoformat(one["day"]), entry.recorded_by, entry.number)
        for entry, one in said.items()
        if "day" in one
    ]


# What `waits_for_hands` reads of the ledger's head: columns beside its own. The keys are the seals' last days, so the
# greatest is that of the latest seal of which somebody holds a receipt.
LATEST_HANDED = Subquery(Record.objects.filter(kind=HANDED).order_by("-key").values("key")[:1])
LATEST = {
    "seal_id": Subquery(Seal.objects.order_by("-through").values("pk")[:1]),
    "sealed_through": Subquery(Seal.objects.order_by("-through").values("through")[:1]),
    "handed": LATEST_HANDED,
}


def waits_for_hands(through: dt.date | None, handed: str | None) -> bool:
    """Whether nobody was given a receipt of the latest seal. through: its last day. handed: the last day of the latest
    seal of which somebody was given one, as a record's key."""
    return through is not None and handed != through.isoformat()


def not_handed_out() -> Seal | None:
    """The latest seal, as long as nobody was given a receipt of it."""
    latest = Seal.objects.annotate(handed=LATEST_HANDED).order_by("-through").first()
    return latest if latest and waits_for_hands(latest.through, latest.handed) else None


def first_day() -> dt.date | None:
    """The day of the earliest voucher."""
    return Voucher.objects.order_by("day").values_list("day", flat=True).first()


class Sealing(NamedTuple):
    """What a seal would close. first: the first day that is not sealed; entries: of these days, numbered from `low` to
    `high`; open_before: the last day that is sealed already."""

    first: dt.date | None
    through: dt.date
    entries: int
    low: int | None
    high: int | None
    open_before: dt.date | None

    @property
    def next_day(self) -> dt.date:
        """The earliest day that anything can be dated on afterwards."""
        return self.through + dt.timedelta(days=1)


def would_seal(through: dt.date) -> Sealing | None:
    """What sealing through a day would close; None where that day is sealed already. Two questions."""
    before = Seal.objects.order_by("-through").values_list("through", flat=True).first()
    if before is not None and before >= through:
        return None
    days = Voucher.objects.filter(day__lte=through)
    if before is not None:
        days = days.filter(day__gt=before)
    said = days.aggregate(first=Min("day"), entries=Count("number"), low=Min("number"), high=Max("number"))
    first = before + dt.timedelta(days=1) if before else said.pop("first")
    said.pop("first", None)
    return Sealing(first=first, through=through, open_before=before, **said)


def missing(made: Seal) -> list[tuple[str, str]]:
    """(report, format) of what is not kept yet."""
    kept = set(IssuedReport.objects.filter(seal=made).values_list("report", "format"))
    owed = [tuple(one.rsplit(".", 1)) for one in made.owes]
    return [one for one in owed if one not in kept]


def issued_in(period: Period) -> list[IssuedReport]:
    """The reports that were issued for exactly these days."""
    return list(IssuedReport.objects.filter(first=period.first, last=period.last))
