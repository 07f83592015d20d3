"""The list of jobs."""

import django_filters as filters
import django_tables2 as tables
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.urls import reverse
from django.utils.html import format_html

from inventory.shop.forms import DayInput
from inventory.shop.lists import said
from jobs.drafts.models import Job
from jobs.people.models import Person
from jobs.units.queries import find_units

STATE_BADGES = {"draft": "warn", "signed": "good", "corrected": "idle", "dropped": "idle"}


def badge(state: str) -> str:
    return format_html('<span class="badge {}">{}</span>', STATE_BADGES[state], state)


class JobTable(tables.Table):
    number = tables.Column("Job", order_by=("number", "revision"))
    day = tables.Column(order_by=("day", "id"))
    state = tables.Column(order_by=("state", "id"))
    unit = tables.Column(order_by=("unit__name", "unit__plate", "id"))
    customer = tables.Column(accessor="unit__customer", order_by=("unit__customer__name_folded", "id"))
    substance = tables.Column(order_by=("substance", "id"))
    technician = tables.Column(order_by=("technician__name", "id"))

    plain = {
        "number": lambda job: job.title,
        "day": lambda job: job.day,
        "state": lambda job: job.state,
        "unit": lambda job: job.unit.title,
        "customer": lambda job: said(job.unit.customer),
        "substance": lambda job: said(job.substance),
        "technician": lambda job: str(job.technician),
    }

    class Meta:
        model = Job
        fields = ("number", "day", "state", "unit", "customer", "substance", "technician")
        empty_text = "No job is found."
        order_by = "-day"

    def render_number(self, record: Job) -> str:
        return format_html('<a href="{}">{}</a>', reverse("job", args=[record.pk]), record.title)

    def render_state(self, value: str, record: Job) -> str:
        return badge(record.state)

    def render_unit(self, record: Job) -> str:
        return record.unit.title


class JobFilter(filters.FilterSet):
    text = filters.CharFilter(method="find", label="Number, plate, VIN or customer")
    state = filters.ChoiceFilter(choices=Job.STATES, label="State", empty_label="all but dropped", method="in_state")
    since = filters.DateFilter(field_name="day", lookup_expr="gte", label="From", widget=DayInput)
    until = filters.DateFilter(field_name="day", lookup_expr="lte", label="To", widget=DayInput)

    technician = filters.ModelChoiceFilter(queryset=Person.objects.none(), label="Technician", empty_label="everybody")

    class Meta:
        model = Job
        fields: list[str] = []

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        if self.request.user.role == "technician":  # sees own jobs alone
            del self.filters["technician"]
        else:
            worked = Exists(Job.objects.filter(technician=OuterRef("pk")))
            self.filters["technician"].queryset = Person.objects.filter(worked)

    def find(self, jobs: QuerySet[Job], _name: str, value: str) -> QuerySet[Job]:
        return jobs.filter(Q(number__icontains=value) | Q(unit__in=find_units(value).order_by().values("pk")))

    def in_state(self, jobs: QuerySet[Job], _name: str, value: str) -> QuerySet[Job]:
        return jobs.filter(state=value)
