"""The list of suppliers, reclaimers, destroyers and buyers."""

from functools import reduce
from operator import or_

import django_filters as filters
import django_tables2 as tables
from django.db.models import Q, QuerySet

from inventory.parties.models import Party


class PartyTable(tables.Table):
    name = tables.Column(linkify=("party-edit", [tables.A("pk")]), order_by=("name", "id"))
    code = tables.Column(order_by="id")
    role = tables.Column(order_by=("role", "name"))
    address = tables.Column(order_by=("address", "name"))
    registration = tables.Column(order_by=("registration", "name"))

    class Meta:
        model = Party
        fields = ("name", "code", "role", "address", "registration")
        empty_text = "Nobody is found."
        order_by = "name"


class PartyFilter(filters.FilterSet):
    text = filters.CharFilter(method="find", label="Name, code, address or registration")
    role = filters.ChoiceFilter(choices=Party.ROLES, label="Role", empty_label="all")

    class Meta:
        model = Party
        fields: list[str] = []

    def find(self, parties: QuerySet[Party], _name: str, value: str) -> QuerySet[Party]:
        asked = (Q(**{f"{field}__icontains": value}) for field in ("name", "code", "address", "registration"))
        return parties.filter(reduce(or_, asked))
