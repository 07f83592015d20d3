"""Whether somebody may sign in at all, whichever way they prove who they are."""

from inventory.shop.clock import today
from jobs.people.models import Person
from shopledger.inspectors.models import InspectorAccess


def may_sign_in(person: Person) -> bool:
    """A person who left may not, nor an inspector whose access has ended."""
    if not person.is_active:
        return False
    if person.role != "inspector":
        return True
    access = InspectorAccess.objects.filter(person=person).first()
    return access is not None and access.open_on(today())
