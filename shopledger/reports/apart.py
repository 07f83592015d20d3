"""The reports of containers that stand here and are no stock of the shop's: what is kept for customers, and what was
found and waits to be identified. Their totals are in `kept.py`."""

from django.db.models import Q
from django.urls import reverse

from inventory.ledger.accounts import AccountClass
from inventory.ledger.models import Account
from jobs.units.models import Customer
from shopledger.reporting.report import MEASURED, Column, Period, Report, ReportTable, worded
from shopledger.reports.stock import CONTAINER_COLUMNS, here_in, levels, row_of, variances

NOT_KNOWN = "nobody knows yet"
TARED = 7  # columns behind the code, up to the tare
NOTE = "No stock of the shop's, and in no other report's figures but those of its customers' jobs and units."


def rows(period: Period, _key: str | None) -> ReportTable:
    """One row a container that was kept for a customer, or held, on a day of the period. Whose it is, place, grade and
    state are those of now; whose gas it held, where it is the shop's by now. weighed: as it stood on the scale last."""
    moved = levels(period, AccountClass.KEPT)
    accounts = Account.objects.filter(cls=AccountClass.KEPT)
    owners = dict(accounts.order_by("id").values_list("name", "owner"))
    held = here_in(period).filter(~Q(kept_for="") | Q(unknown=True) | Q(code__in=accounts.values("name")))
    customers = worded(Customer.objects.values_list("code", "name"))
    found, links = [], []
    for one in held.iterator(2000):
        if not one.kept_for and not one.unknown and one.code not in moved:
            continue
        owner = one.kept_for or owners.get(one.code, "")
        code, *more = (
            value for value, column in zip(row_of(one, moved), CONTAINER_COLUMNS, strict=True) if _has(column)
        )
        found.append(
            (
                code,
                customers.get(owner, owner) if not one.unknown else NOT_KNOWN,
                *more[:TARED],
                one.last_gross,
                *more[TARED:],
            )
        )
        links.append({"code": reverse("container", args=[one.code]), "whose": reverse("kept")})
    code, *more = filter(_has, CONTAINER_COLUMNS)
    columns = [code, Column("whose", "Whose"), *more[:TARED], Column("weighed", "Weighed", "mass"), *more[TARED:]]
    return ReportTable(columns, found, notes=(MEASURED, NOTE), links=links)


def _has(column: Column) -> bool:
    """All that is said of the shop's own but the paper that it came with: this came with none."""
    return column.name != "document"


def differences(period: Period, key: str | None) -> ReportTable:
    """The variances of customers' gas."""
    return variances(period, key, theirs=True)


APART = Report("apart", "Kept apart", rows, (), "Containers of customers, and found ones that are held until known.")
APART_VARIANCES = Report(
    "apart-variances",
    "Variances of customers' gas",
    differences,
    (),
    "Each weighing of customers' gas beside the book.",
)
