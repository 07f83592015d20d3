"""The list of containers."""

import datetime as dt
from decimal import Decimal

import django_filters as filters
import django_tables2 as tables
from django.db.models import Q, QuerySet
from django.urls import reverse
from django.utils.html import format_html

from inventory.codes.queries import names_of
from inventory.codes.wording import with_code
from inventory.containers.fullness import Fullness
from inventory.containers.holdings import GRADES
from inventory.containers.keepers import PlaceWords
from inventory.containers.models import Container, Location
from inventory.containers.queries import OURS, THEIRS_HERE, in_stock
from inventory.ledger.models import Substance
from inventory.measures.quantity import csv_value, show
from inventory.reference.kinds import choices, with_trait
from inventory.shop.forms import DayInput
from inventory.shop.lists import said

UNSETTLED = "unsettled"  # recovered refrigerant that waits for its destination
# ... of the shop, with what was found and waits to be identified.
UNSETTLED_HERE = Q(grade__in=["recovered", "mixed"], account__balance__gt=0, kept_for="") | Q(unknown=True)
UNSEEN = Q(account__balance__gt=0) & ~Q(kind__in=with_trait("sealed_new"), opened_on=None)
NUMBER = {"td": {"class": "number"}, "th": {"class": "number"}}
STATES = {
    "sealed": Q(opened_on=None, account__balance__gt=0, kind__in=with_trait("sealed_new")),
    "open": Q(opened_on__isnull=False, account__balance__gt=0),
    "empty": Q(unknown=False) & (Q(account__balance=0) | Q(account=None)),
    "unknown": Q(unknown=True),
}
BADGES = {
    "sealed": "good",
    "open": "warn",
    "in use": "good",
    "empty": "idle",
    "held until known": "warn",
    "retired": "idle",
    "taken back": "idle",
}


THEIRS = "a customer's"
NO_METER = '<span class="filled">{} <span></span></span>'  # as wide, so that figures stay in line
METER = '<span class="filled">{} <meter class="{}" max="{}" value="{}" title="{}" aria-label="{}"></meter></span>'


def badge(state: str) -> str:
    return format_html('<span class="badge {}">{}</span>', BADGES[state], state)


class ContainerTable(tables.Table):
    unasked = ("supplier_number",)

    pick = tables.Column("", accessor="code", orderable=False)
    code = tables.Column()
    kind = tables.Column(order_by=("kind", "code"))
    substance = tables.Column(order_by=("substance__code", "code"))
    grade = tables.Column(order_by=("grade", "code"))
    location = tables.Column(order_by=("location__name", "code"))
    content = tables.Column("Holds", empty_values=(), order_by=("account__balance", "code"), attrs=NUMBER)
    state = tables.Column(orderable=False)
    supplier_number = tables.Column("Supplier's number", order_by=("supplier_number", "code"))
    weighed = tables.Column("Last weighed", accessor="last_weighed_on", order_by=("last_weighed_on", "code"))

    class Meta:
        model = Container
        fields = (
            "pick",
            "code",
            "supplier_number",
            "kind",
            "substance",
            "grade",
            "location",
            "content",
            "state",
            "weighed",
        )
        empty_text = "No container is found."
        order_by = "code"

    def __init__(self, *args, person, fullness: Fullness | None = None, **kwargs):
        self.fullness = fullness
        self.mass_unit, self.volume_unit = person.mass_unit, person.volume_unit
        self.places = PlaceWords()
        self.measured = {"content": self._measured}
        self.plain = {
            name: lambda record, name=name: said(getattr(record, name))
            for name in ("code", "supplier_number", "kind", "substance", "grade", "location")
        }
        self.plain["state"] = lambda record: f"{record.state}, {THEIRS}" if record.kept_for else record.state
        super().__init__(*args, **kwargs)

    def render_pick(self, value: str) -> str:
        box = '<input type="checkbox" form="chosen-form" name="codes" value="{}" aria-label="Choose {}">'
        return format_html(box, value, value)

    def render_code(self, value: str) -> str:
        return format_html('<a href="{}">{}</a>', reverse("container", args=[value]), value)

    def render_location(self, value: Location) -> str:
        return self.places.of(value)

    def render_kind(self, record: Container) -> str:
        return record.kind

    def render_content(self, record: Container) -> str:
        unit = self.volume_unit if record.is_oil else self.mass_unit
        found = self.fullness.most(record) if self.fullness else None
        if found is None or not found[1]:
            return format_html(NO_METER, show(record.content, unit))
        name, most = found
        of = f"of {show(most, unit)}, {'its safe fill' if name == 'safe fill' else 'what it came with'}"
        look = "over" if record.content > most else ""
        return format_html(METER, show(record.content, unit), look, most, min(record.content, most), of, of)

    def _measured(self, record: Container) -> tuple[Decimal, str]:
        """For a file: g of refrigerant, mL of oil, as a number."""
        return Decimal(csv_value(record.content)), "mL" if record.is_oil else "g"

    def render_state(self, record: Container) -> str:
        theirs = format_html(' <span class="badge idle">{}</span>', THEIRS) if record.kept_for else ""
        return format_html("<div>{}{}</div>", badge(record.state), theirs)


def keepers() -> list[tuple[str, str]]:
    """Those who keep a place, with their names."""
    kept = Location.objects.exclude(keeper="").order_by("name").distinct()
    words = PlaceWords()
    return sorted({one.keeper: words.keeper(one) for one in kept}.items(), key=lambda one: one[1])


EVERYBODY, THEIRS_ALL = "everybody", "customers"


def whose() -> list[tuple[str, str]]:
    """Everybody's, all customers', and the customers whose gas is here, with their names."""
    codes = set(in_stock().exclude(kept_for="").values_list("kept_for", flat=True))
    one_by_one = sorted((code, with_code(code, names)) for names in [names_of(codes)] for code in codes)
    return [(EVERYBODY, "all that stands here"), (THEIRS_ALL, "customers'"), *one_by_one]


class ContainerFilter(filters.FilterSet):
    """Of the shop's own, where nothing else is asked for: what is a customer's or not known yet is no stock of it. A
    code finds its container whosever it is."""

    text = filters.CharFilter(method="of_text", label="Code")
    substance = filters.ModelChoiceFilter(queryset=Substance.objects.order_by("code"), label="Refrigerant or oil")
    kind = filters.ChoiceFilter(choices=choices(), label="Kind")
    grade = filters.ChoiceFilter(
        choices=[*((grade, grade) for grade in GRADES), (UNSETTLED, "recovered or mixed")],
        label="Grade",
        method="of_grade",
    )
    location = filters.ModelChoiceFilter(queryset=Location.objects.all(), label="Place")
    keeper = filters.ChoiceFilter(choices=keepers, label="With whom", field_name="location__keeper")
    whose = filters.ChoiceFilter(choices=whose, label="Whose", method="of_whom", empty_label="the shop's")
    state = filters.ChoiceFilter(
        choices=[
            ("sealed", "sealed"),
            ("open", "open"),
            ("empty", "empty"),
            ("unknown", "held until known"),
            ("retired", "retired"),
        ],
        label="State",
        method="in_state",
        empty_label="in stock",
    )

    unweighed = filters.DateFilter(label="Not weighed since", method="not_weighed", widget=DayInput())

    class Meta:
        model = Container
        fields: list[str] = []

    def filter_queryset(self, queryset: QuerySet[Container]) -> QuerySet[Container]:
        found, asked = super().filter_queryset(queryset), self.form.cleaned_data
        others = asked.get("whose") or asked.get("text") or asked.get("state") == "unknown"
        return found if others or asked.get("grade") == UNSETTLED else found.filter(OURS)

    def of_text(self, containers: QuerySet[Container], _name: str, value: str) -> QuerySet[Container]:
        """By a part of its code, or of the number by which its supplier knows it."""
        return containers.filter(Q(code__icontains=value) | Q(supplier_number__icontains=value))

    def of_whom(self, containers: QuerySet[Container], _name: str, value: str) -> QuerySet[Container]:
        if value == EVERYBODY:
            return containers
        return containers.filter(THEIRS_HERE if value == THEIRS_ALL else Q(kept_for=value))

    def of_grade(self, containers: QuerySet[Container], _name: str, value: str) -> QuerySet[Container]:
        if value == UNSETTLED:
            return containers.filter(UNSETTLED_HERE)
        return containers.filter(grade=value)

    def not_weighed(self, containers: QuerySet[Container], _name: str, value: dt.date) -> QuerySet[Container]:
        """Those that hold something and may have lost some of it unseen: sealed single-use ones are left out."""
        return containers.filter(UNSEEN).filter(Q(last_weighed_on__lt=value) | Q(last_weighed_on=None))

    def in_state(self, containers: QuerySet[Container], _name: str, value: str) -> QuerySet[Container]:
        if value == "retired":
            return containers.filter(retired_on__isnull=False)
        return containers.filter(STATES[value])
