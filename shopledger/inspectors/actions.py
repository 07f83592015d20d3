"""Issuing an inspector's sign-in, and ending it."""

import datetime as dt
import secrets

from django.utils import timezone

from inventory.ledger.actions import stated
from inventory.measures.days import said_day
from inventory.shop.clock import today
from inventory.text.refusal import Refused
from jobs.people.models import Person, Role
from jobs.people.wording import one_line
from shopledger.inspectors.models import InspectorAccess

LONGEST_DAYS = 90


@stated
def issue_access(
    *, name: str, first: dt.date, last: dt.date, until: dt.date, by: Person
) -> tuple[InspectorAccess, str]:
    """A new sign-in for an inspector; returns it with its password, which is kept nowhere. Raises Refused for days
    that are no period, or an end that is past or more than LONGEST_DAYS away."""
    name = one_line(name, "name", called="name", longest=150, required=True)
    if first > last:
        raise Refused("The period ends before it begins; turn the two days round.", "last")
    if until < today():
        raise Refused(f"{said_day(until)} is past; let it end today or later.", "until")
    if until > today() + dt.timedelta(days=LONGEST_DAYS):
        latest = today() + dt.timedelta(days=LONGEST_DAYS)
        raise Refused(
            f"That is longer than {LONGEST_DAYS} days; let it end by {latest}, and issue another then.", "until"
        )
    password = secrets.token_urlsafe(12)
    person = Person(username=f"inspector-{secrets.token_hex(4)}", name=name, role=Role.INSPECTOR)
    person.set_password(password)
    person.save(force_insert=True)
    access = InspectorAccess.objects.create(person=person, first=first, last=last, until=until, issued_by=by.username)
    return access, password


@stated
def end_access(access_id: int, *, by: Person) -> InspectorAccess:
    """Let nobody in with it any more; open pages end with their next step. Ending it again changes nothing."""
    access = InspectorAccess.objects.select_for_update(of=("self",)).select_related("person").get(pk=access_id)
    if access.ended_at is None:
        access.ended_by, access.ended_at = by.username, timezone.now()
        access.save(update_fields=["ended_by", "ended_at"])
        access.person.is_active = False
        access.person.save(update_fields=["is_active"])
    return access
