"""Lists of units and customers."""

import django_tables2 as tables
from django.db.models import F, QuerySet
from django.urls import reverse
from django.utils.html import format_html

from inventory.measures.quantity import show
from jobs.units.models import Customer, Unit

NUMBER = {"td": {"class": "number"}, "th": {"class": "number"}}


def charge_text(unit: Unit, mass_unit: str) -> str:
    """The label's range as people read it, e.g. `480 g to 520 g`; blank where it is not known."""
    least, most = unit.charge_least_mg, unit.charge_most_mg
    if least is not None and most is not None:
        if least == most:
            return show(least, mass_unit)
        return f"{show(least, mass_unit)} to {show(most, mass_unit)}"
    if least is not None:
        return f"at least {show(least, mass_unit)}"
    return "" if most is None else f"at most {show(most, mass_unit)}"


class UnitTable(tables.Table):
    title = tables.Column("Unit", order_by=("name", "plate", "make", "model", "id"))
    code = tables.Column("Reference")
    plate = tables.Column(order_by=("plate", "id"))
    customer = tables.Column(order_by=("customer__name_folded", "id"))
    make_model = tables.Column("Make and model", order_by=("make", "model", "year", "id"))
    refrigerant = tables.Column(order_by=("refrigerant", "id"))
    charge = tables.Column("Charge", empty_values=(), order_by="charge_max_mg", attrs=NUMBER)

    class Meta:
        model = Unit
        fields = ("title", "code", "plate", "customer", "make_model", "refrigerant", "charge")
        empty_text = "No unit is found."

    def __init__(self, *args, mass_unit: str = "g", **kwargs):
        self.mass_unit = mass_unit
        super().__init__(*args, **kwargs)

    def render_title(self, value: str, record: Unit) -> str:
        return format_html('<a href="{}">{}</a>', reverse("unit", args=[record.pk]), value)

    def render_customer(self, value: Customer) -> str:
        return format_html('<a href="{}">{}</a>', reverse("customer", args=[value.pk]), value.name)

    def render_charge(self, record: Unit) -> str:
        return charge_text(record, self.mass_unit)

    def order_charge(self, queryset: QuerySet, is_descending: bool) -> tuple[QuerySet, bool]:
        most = F("charge_max_mg").desc(nulls_last=True) if is_descending else F("charge_max_mg").asc(nulls_last=True)
        return queryset.order_by(most, "id"), True


class CustomerTable(tables.Table):
    name = tables.Column(linkify=("customer", [tables.A("pk")]), order_by=("name_folded", "id"))
    code = tables.Column(order_by="id")
    phone = tables.Column(order_by=("phone", "id"))
    unit_count = tables.Column("Units", order_by=("unit_count", "id"), attrs=NUMBER)

    class Meta:
        model = Customer
        fields = ("name", "code", "phone", "unit_count")
        empty_text = "No customer is found."
