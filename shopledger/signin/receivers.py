"""What follows from a change of a person, or from signing in and out, whoever does it."""

from django.http import HttpRequest

from jobs.people.models import STAFF, Person
from shopledger.signin.models import Pin, SignIn
from shopledger.signin.notices import notify
from shopledger.signin.opened import NAMED, begin, end_others


def signed_in(sender: object, request: HttpRequest, user: Person, **_kwargs: object) -> None:
    begin(request, user)


def signed_out(sender: object, request: HttpRequest, user: Person | None, **_kwargs: object) -> None:
    SignIn.objects.filter(pk=request.session.get(NAMED) or 0).delete()


def person_changed(sender: object, instance: Person, created: bool, **_kwargs: object) -> None:
    """A new password, another role, leaving: the person's other sign-ins end at once and do not come back with them.
    The PIN goes with who leaves."""
    if created or not instance.pk:
        return
    was = instance.access_stored
    if was is None or was == instance.access:
        return
    end_others(instance)
    if not instance.is_active or instance.role not in STAFF:
        Pin.objects.filter(person=instance).delete()
    # A password that is only hashed anew, at signing in, is the same one.
    if was.password != instance.password and (instance._password is not None or not instance.has_usable_password()):
        notify(instance, "Your password was changed")
    if was.role != instance.role:
        notify(instance, f"Your role became {instance.get_role_display().lower()}")
