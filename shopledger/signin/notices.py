"""What a person hears on their next page: that a way of signing in as them changed."""

import datetime as dt

from django.contrib import messages
from django.http import HttpRequest
from django.utils import timezone

from inventory.shop.who import request_at_hand, who
from jobs.people.models import Person
from shopledger.signin.models import Notice, SignIn

KEPT = dt.timedelta(days=90)


def notify(person: Person, said: str) -> None:
    """Keep a sentence for the person's other sign-ins, and for the next where there is none."""
    Notice.objects.filter(at__lt=timezone.now() - KEPT).delete()
    mine = getattr(request_at_hand(), "sign_in", None)
    by = "" if who() == person.username else f" (by {who()})"
    Notice.objects.create(
        person=person, said=f"{said}{by}.", by=mine.pk if mine and mine.person_id == person.pk else None
    )


def before_first(person: Person) -> int:
    """The number of the last notice that a new sign-in need not tell: it was shown elsewhere, or did not come yet."""
    unseen = Notice.objects.filter(person=person, seen=False).values_list("pk", flat=True).first()
    if unseen is not None:
        return unseen - 1
    return Notice.objects.filter(person=person).values_list("pk", flat=True).last() or 0


def tell(request: HttpRequest, here: SignIn) -> None:
    """Put what was not told here yet at the top of this page."""
    found = list(Notice.objects.filter(person=here.person_id, pk__gt=here.told))
    for one in found:
        if one.by != here.pk:
            at = one.at.astimezone(request.shop.zone)
            messages.warning(
                request,
                f"{at.day} {at:%b %Y, %H:%M}: {one.said} If you know nothing of it, change your password and tell an "
                "owner of the shop.",
            )
    if found:
        SignIn.objects.filter(pk=here.pk).update(told=found[-1].pk)
        Notice.objects.filter(pk__in=[one.pk for one in found if one.by != here.pk]).update(seen=True)
