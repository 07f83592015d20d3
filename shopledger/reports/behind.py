"""The movements behind a figure: which rows of the ledger a cell of a report is the sum of."""

from django.db.models import Case, F, Q, QuerySet, Sum, When

from inventory.ledger.accounts import AccountClass as A
from inventory.ledger.models import Movement, Substance
from shopledger.reporting.periods import month
from shopledger.reporting.report import Period
from shopledger.reports.emissions import LOST, SHIPPED
from shopledger.reports.usage import CAME, OUT

# Each column whose figures are sums of movements, with the columns of the mass balance that it adds up.
SUMS = {name: (name,) for name in (*CAME, *OUT)} | {"lost": LOST, "shipped": SHIPPED}
BETWEEN = {"transferred_in": ("target", "source"), "transferred_out": ("source", "target")}


def usage_opens(column: str, key: str | None) -> bool:
    """Whether a column of the mass balance has movements behind it. Between containers something moves only where the
    report is split by what it moved between."""
    return key in {"grade", "location"} if column in BETWEEN else column in CAME or column in OUT


def emissions_opens(column: str, _key: str | None) -> bool:
    """Whether a column of the emissions has movements behind it."""
    return column in {"charged", "recovered", "lost", "shipped"}


def movements(
    period: Period, substance: Substance, column: str, key: str | None = None, group: str = ""
) -> QuerySet[Movement]:
    """In the order of recording. key, group: of the split and of the row. LookupError for a column without any,
    ValueError for a month that is none."""
    if key == "month":
        year, number = group.split("-")
        whole = month(period.first.replace(year=int(year), month=int(number), day=1))
        period = Period(max(period.first, whole.first), min(period.last, whole.last))
    rows = Movement.objects.filter(substance=substance, day__gte=period.first, day__lte=period.last)
    if key == "technician":
        rows = rows.filter(voucher__done_by=group)
    if column in BETWEEN:
        rows = rows.filter(_between(column, key, group))
    else:
        which = Q()
        for name in SUMS[column]:
            which |= _across(name)
        rows = rows.filter(which)
        if key in {"grade", "location"}:
            inside = Q(source_class=A.CONTAINER, **{f"source__{key}": group})
            rows = rows.filter(inside | Q(target_class=A.CONTAINER, **{f"target__{key}": group}))
    return rows.order_by("id")


def total(rows: QuerySet[Movement], column: str) -> int:
    """The figure that the movements come to, mg or uL: what goes the other way is taken off."""
    added = Q(target_class=A.CONTAINER) if column == "weighing_difference" else Q(reversal=False)
    signed = Case(When(added, then=F("quantity")), default=-F("quantity"))
    return rows.aggregate(total=Sum(signed, default=0))["total"]


def _across(name: str) -> Q:
    """Between the containers and what is outside; a reversal goes the other way."""
    outside = {**CAME, **OUT}[name]
    inward = Q(source_class=outside, target_class=A.CONTAINER)
    outward = Q(source_class=A.CONTAINER, target_class=outside)
    if name == "weighing_difference":
        return inward | outward
    there, back = (inward, outward) if name in CAME else (outward, inward)
    return there & Q(reversal=False) | back & Q(reversal=True)


def _between(column: str, key: str | None, group: str) -> Q:
    if key not in {"grade", "location"}:
        raise LookupError(f"{column} is a column of reports by grade or location")
    this, other = BETWEEN[column]
    there = Q(reversal=False, **{f"{this}__{key}": group}) & ~Q(**{f"{other}__{key}": group})
    back = Q(reversal=True, **{f"{other}__{key}": group}) & ~Q(**{f"{this}__{key}": group})
    return Q(source_class=A.CONTAINER, target_class=A.CONTAINER) & (there | back)
