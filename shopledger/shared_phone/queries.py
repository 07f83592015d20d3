"""Who is, was and may come back on the phone that a request comes from."""

from django.http import HttpRequest
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme, urlencode

from jobs.people.models import Person
from shopledger.signin import standing
from shopledger.signin.models import Standing


def may_come_back(request: HttpRequest) -> list[Standing]:
    """Everybody who may, by name, who is here now included."""
    phone = standing.phone_of(request)
    return list(standing.on_phone(phone)) if phone else []


def others_here(request: HttpRequest) -> list[Standing]:
    return [one for one in may_come_back(request) if one.person_id != request.user.pk]


def held_by(request: HttpRequest, pk: int) -> Standing | None:
    """What lets the person of this number come back here."""
    return next((one for one in may_come_back(request) if one.person_id == pk), None)


def who_was_here(request: HttpRequest) -> Person | None:
    """Of a phone on which nobody is signed in just now: who was last, and did not sign out."""
    phone = standing.phone_of(request)
    return None if phone is None or request.user.is_authenticated else phone.here


def instead_of_signing_in(request: HttpRequest) -> str:
    """The page that asks for a PIN, of who was here last or of whoever may come back; blank where there is nobody, or
    the full sign-in is asked for."""
    people = [] if request.GET.get("fully") else may_come_back(request)
    if not people:
        return ""
    was = who_was_here(request)
    known = was is not None and was.pk in {one.person_id for one in people}
    there = reverse("pin-sign-in", args=[was.pk]) if known else reverse("people-here")
    back = said_next(request)
    return f"{there}?{urlencode({'next': back})}" if back != "/" else there


def said_next(request: HttpRequest) -> str:
    """The address on this site that somebody goes on to; Home where none is said."""
    back = request.POST.get("next") or request.GET.get("next") or ""
    here = url_has_allowed_host_and_scheme(back, {request.get_host()}, request.is_secure())
    return back if here and back.startswith("/") else "/"
