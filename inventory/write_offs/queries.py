"""What waits for whom."""

from django.contrib.auth import get_user_model
from django.db.models import QuerySet

from inventory.containers.write_off import lost_said
from inventory.write_offs.models import WriteOff

MAY_AGREE = ("office", "owner")


def lost_of(found: WriteOff) -> str:
    """What it writes off, e.g. `1.2 kg of R-134a`."""
    return lost_said({(code, oil): quantity for code, oil, quantity in found.lost})


def seen_by(person) -> QuerySet[WriteOff]:
    """Those that a person may open: the office all, others their own."""
    return WriteOff.objects.all() if person.role in MAY_AGREE else WriteOff.objects.filter(asked_by=person.username)


def waiting_for(person) -> QuerySet[WriteOff]:
    """Those that wait for this person's answer, the oldest first."""
    if person.role not in MAY_AGREE:
        return WriteOff.objects.none()
    return WriteOff.objects.filter(state="waiting").exclude(asked_by=person.username).order_by("id")


def may_agree() -> int:
    """How many people could say yes: a limit asks for two."""
    return get_user_model().objects.filter(is_active=True, role__in=MAY_AGREE).count()
