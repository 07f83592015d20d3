"""The list of people."""

import django_tables2 as tables
from django.utils.html import format_html

from jobs.people.models import Person

NUMBER = {"td": {"class": "number"}, "th": {"class": "number"}}


class PeopleTable(tables.Table):
    name = tables.Column(linkify=("person", [tables.A("pk")]))
    username = tables.Column()
    role = tables.Column()
    valid_certificates = tables.Column("Valid certificates", attrs=NUMBER)
    next_end = tables.Column("First one ends")
    is_active = tables.Column("Signs in")

    class Meta:
        model = Person
        fields = ("name", "username", "role", "valid_certificates", "next_end", "is_active")
        empty_text = "Nobody is entered."

    def render_role(self, record: Person) -> str:
        return record.get_role_display()

    def render_is_active(self, value: bool, record: Person) -> str:
        if not value:
            return format_html('<span class="badge idle">{}</span>', "has left")
        if not record.has_usable_password():
            return format_html('<span class="badge warn">{}</span>', "no password yet")
        return format_html('<span class="badge good">{}</span>', "yes")
