"""What waits for whom."""

from django.contrib.auth import get_user_model
from django.db.models import CharField, F, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce

from inventory.containers.write_off import lost_said
from inventory.write_offs.models import WriteOff

MAY_AGREE = ("office", "owner")
ACTS = {  # the verbs that can wait, in words
    "retire": "retirement",
    "release": "accidental release",
    "count": "count",
    "post_count": "count of a place",
    "taken_back": "taking back",
}


def lost_of(found: WriteOff) -> str:
    """What it writes off, e.g. `1.2 kg of R-134a`."""
    return lost_said({(code, oil): quantity for code, oil, quantity in found.lost})


def person_called(username: str) -> str:
    """What a person is called now; the username where it is nobody's."""
    return get_user_model().objects.filter(username=username).values_list("name", flat=True).first() or username


def _named() -> QuerySet[WriteOff]:
    """Each with `asked_name` and `answered_name`, what these people are called now."""
    people = get_user_model().objects
    names = {
        called: Coalesce(
            Subquery(people.filter(username=OuterRef(by)).values("name")[:1]), F(by), output_field=CharField()
        )
        for called, by in (("asked_name", "asked_by"), ("answered_name", "answered_by"))
    }
    return WriteOff.objects.annotate(**names)


def seen_by(person) -> QuerySet[WriteOff]:
    """Those that a person may open: the office all, others their own. Each with the names of its people."""
    return _named() if person.role in MAY_AGREE else _named().filter(asked_by=person.username)


def waiting_for(person) -> QuerySet[WriteOff]:
    """Those that wait for this person's answer, the oldest first, each with the names of its people."""
    if person.role not in MAY_AGREE:
        return WriteOff.objects.none()
    return _named().filter(state="waiting").exclude(asked_by=person.username).order_by("id")


def may_agree() -> int:
    """How many people could say yes: a limit asks for two."""
    return get_user_model().objects.filter(is_active=True, role__in=MAY_AGREE).count()
