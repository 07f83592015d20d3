"""The list of differences: its columns, filters and totals."""

import datetime as dt
from decimal import Decimal

import django_filters as filters
import django_tables2 as tables
from django.db.models import Count, Q, QuerySet, Sum
from django.http import QueryDict
from django.urls import reverse
from django.utils.html import format_html

from inventory.containers.models import Location, Scale, Weighing
from inventory.counting.models import REASONS
from inventory.counting.queries import KEYS
from inventory.ledger.models import Substance
from inventory.measures.days import said_day
from inventory.measures.quantity import csv_value, show
from inventory.shop.forms import DayInput
from inventory.shop.lists import said

CUSTOMERS = "customers"
DAYS = ("first", "last")
NONE = "none"  # a reason that nobody gave
NUMBER = {"td": {"class": "number"}, "th": {"class": "number"}}


class DifferenceTable(tables.Table):
    unasked = ("substance", "place", "note")

    day = tables.Column(linkify=("difference", [tables.A("pk")]), order_by=("day", "voucher_id", "line"))
    container = tables.Column(order_by=("container__code", "position"))
    substance = tables.Column(accessor="container__substance", order_by=("container__substance__code", "position"))
    place = tables.Column("Place", accessor="container__location", order_by=("container__location__name", "position"))
    difference = tables.Column(order_by=("difference", "position"), attrs=NUMBER)
    explains = tables.Column("Weighing explains", accessor="tolerance", attrs=NUMBER)
    scale = tables.Column(accessor="scale__code", order_by=("scale__code", "position"))
    by = tables.Column("By", accessor="voucher__done_by", order_by=("voucher__done_by", "position"))
    reason = tables.Column(empty_values=(), order_by=("reason", "position"))
    note = tables.Column(accessor="reason_note", orderable=False)

    class Meta:
        model = Weighing
        fields = (
            "day",
            "container",
            "substance",
            "place",
            "difference",
            "explains",
            "scale",
            "by",
            "reason",
            "note",
        )
        empty_text = "No difference in these days that weighing does not explain."
        order_by = "-day"

    def __init__(self, *args, person, **kwargs):
        self.mass_unit, self.volume_unit = person.mass_unit, person.volume_unit
        self.measured = {
            "difference": lambda record: self._measured(record, record.difference),
            "explains": lambda record: self._measured(record, record.tolerance),
        }
        self.plain = {
            "day": lambda record: record.day,
            "container": lambda record: record.container.code,
            "substance": lambda record: said(record.container.substance),
            "place": lambda record: said(record.container.location),
            "scale": lambda record: record.scale.code if record.scale else None,
            "by": lambda record: said(record.voucher.done_by),
            "reason": lambda record: REASONS.get(record.reason),
            "note": lambda record: said(record.reason_note),
        }
        super().__init__(*args, **kwargs)

    def render_day(self, value: dt.date) -> str:
        return said_day(value)

    def render_container(self, record: Weighing) -> str:
        code = record.container.code
        return format_html('<a href="{}">{}</a>', reverse("container", args=[code]), code)

    def render_difference(self, record: Weighing) -> str:
        return show(record.difference, self._unit(record))

    def render_explains(self, record: Weighing) -> str:
        return show(record.tolerance, self._unit(record))

    def render_reason(self, record: Weighing) -> str:
        if record.reason:
            return REASONS[record.reason]
        return format_html('<a href="{}">give the reason</a>', reverse("difference", args=[record.pk]))

    def _unit(self, record: Weighing) -> str:
        return self.volume_unit if record.container.is_oil else self.mass_unit

    def _measured(self, record: Weighing, value: int) -> tuple[Decimal, str]:
        """For a file: g of refrigerant, mL of oil, as a number."""
        return Decimal(csv_value(value)), "mL" if record.container.is_oil else "g"


class DifferenceFilter(filters.FilterSet):
    """Of the differences of a period. Whose, and what the groups above the list are by, the page asks itself: they are
    fields of the same form."""

    first = filters.DateFilter(field_name="day", lookup_expr="gte", label="From", widget=DayInput)
    last = filters.DateFilter(field_name="day", lookup_expr="lte", label="Through", widget=DayInput)
    container = filters.CharFilter(field_name="container__code", lookup_expr="icontains", label="Container")
    reason = filters.ChoiceFilter(
        choices=[(NONE, "not given yet"), *REASONS.items()], label="Reason", method="of_reason", empty_label="any"
    )
    by = filters.ChoiceFilter(
        choices=[(key, key) for key in KEYS if key != "container"],
        label="Grouped by",
        method="as_it_is",
        empty_label="container",
    )
    whose = filters.ChoiceFilter(
        choices=[(CUSTOMERS, "customers'")], label="Whose", method="as_it_is", empty_label="the shop's"
    )
    substance = filters.ModelChoiceFilter(
        queryset=Substance.objects.order_by("code"),
        field_name="container__substance",
        label="Refrigerant or oil",
        empty_label="all",
    )
    scale = filters.ModelChoiceFilter(
        queryset=Scale.objects.order_by("code"), label="Scale", to_field_name="code", empty_label="all"
    )
    place = filters.ModelChoiceFilter(
        queryset=Location.objects.order_by("name"),
        field_name="container__location",
        label="Where it stands",
        empty_label="anywhere",
    )
    person = filters.CharFilter(field_name="voucher__done_by", lookup_expr="icontains", label="Weighed by")

    class Meta:
        model = Weighing
        fields: list[str] = []

    def __init__(self, address: QueryDict, queryset: QuerySet[Weighing], first: dt.date, last: dt.date):
        """first, last: the days that hold where the address says none."""
        asked = address.copy()
        asked["first"] = asked.get("first") or first.isoformat()
        asked["last"] = asked.get("last") or last.isoformat()
        if asked.get("open"):  # of the notices that lead here
            asked["reason"] = NONE
        super().__init__(asked, queryset)
        self.filters["first"].extra["initial"], self.filters["last"].extra["initial"] = first, last

    @property
    def days(self) -> tuple[dt.date, dt.date]:
        """The days that hold."""
        said = (
            self.form.cleaned_data if self.is_valid() else {name: self.filters[name].extra["initial"] for name in DAYS}
        )
        return said["first"], max(said["first"], said["last"])

    def of_reason(self, found: QuerySet[Weighing], _name: str, value: str) -> QuerySet[Weighing]:
        return found.filter(reason=None if value == NONE else value)

    def as_it_is(self, found: QuerySet[Weighing], _name: str, _value: str) -> QuerySet[Weighing]:
        return found

    @property
    def narrowed(self) -> bool:
        """Whether it leaves out more than days, and what is not the shop's or not the customers'."""
        return self.is_valid() and bool({*self.form.changed_data} - {*DAYS, "by", "whose"})


def totals(found: QuerySet[Weighing]) -> list[dict[str, object]]:
    """What differences come to, by substance: how many, lost and gained, mg or uL; summed by the database."""
    rows = found.order_by().values("container__substance__code", "container__substance__is_oil")
    rows = rows.annotate(
        count=Count("id"),
        lost=-Sum("difference", filter=Q(difference__lt=0), default=0),
        gained=Sum("difference", filter=Q(difference__gt=0), default=0),
    )
    return [
        {
            "code": row["container__substance__code"],
            "is_oil": row["container__substance__is_oil"],
            "count": row["count"],
            "lost": int(row["lost"]),
            "gained": int(row["gained"]),
            "net": int(row["gained"]) - int(row["lost"]),
        }
        for row in rows.order_by("container__substance__is_oil", "container__substance__code")
    ]
