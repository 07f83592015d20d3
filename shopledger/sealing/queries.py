"""What a seal covers, and which of its reports are kept."""

import datetime as dt

from inventory.ledger.models import Seal, Voucher
from shopledger.reporting.report import Period
from shopledger.reports.registry import REPORTS
from shopledger.sealing.models import IssuedReport

FORMATS = ("pdf", "csv")  # one to read, one to count with


def period_of(made: Seal) -> Period | None:
    """The days since the seal before; since the first voucher where there is none. None where nothing was posted."""
    before = Seal.objects.filter(through__lt=made.through).order_by("-through").first()
    if before:
        return Period(before.through + dt.timedelta(days=1), made.through)
    first = first_day()
    return Period(first, made.through) if first and first <= made.through else None


def first_day() -> dt.date | None:
    """The day of the earliest voucher."""
    return Voucher.objects.order_by("day").values_list("day", flat=True).first()


def missing(made: Seal) -> list[tuple[str, str]]:
    """(report, format) of what is not kept yet."""
    kept = set(IssuedReport.objects.filter(seal=made).values_list("report", "format"))
    return [(name, kind) for name in REPORTS for kind in FORMATS if (name, kind) not in kept]


def issued_in(period: Period) -> list[IssuedReport]:
    """The reports that were issued for exactly these days."""
    return list(IssuedReport.objects.filter(first=period.first, last=period.last))
