"""On which phones a person may come back by PIN, because they signed in there in full (password and second factor)
today.

- All of it is the server's: a row for a phone and a person. The phone is known by a cookie of 256 random bits, which
  is signed, of which only the digest is kept, and which is another one after each full sign-in.
- It lasts until the end of the shop's day, at most LASTS, and a sign-in by PIN lasts no longer than what it stands on.
- It ends with the person's sign-out on that phone, MOST_WRONG wrong PINs there, and whatever ends their other sign-ins
  (`opened.end_others`): another password, second factor or PIN, another role, leaving.
- MOST_WRONG counts for as long as it lasts: right PINs between take none back, so whoever has the phone by turns with
  its person has five tries a day of a million, and not four each time.
"""

import datetime as dt
import hashlib
import secrets

from django.conf import settings
from django.db.models import F, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from inventory.shop.clock import today, zone
from jobs.people.models import STAFF, Person
from shopledger.signin.browsers import called
from shopledger.signin.models import Phone, Pin, Standing

LASTS = dt.timedelta(hours=14)
MOST_WRONG = 5
KEPT = dt.timedelta(days=90)  # a phone on which nobody signed in for so long is forgotten
SALT = "shopledger.phone"


def cookie_name() -> str:
    return "__Host-phone" if settings.SESSION_COOKIE_SECURE else "phone"


def digest(said: str) -> str:
    return hashlib.sha256(said.encode()).hexdigest()


def phone_of(request: HttpRequest) -> Phone | None:
    """The phone that a request comes from, with who was there last; None where it is not known. A question only where
    there is a cookie, once a request."""
    if not hasattr(request, "known_phone"):
        said = request.get_signed_cookie(cookie_name(), default="", salt=SALT, max_age=KEPT)
        known = Phone.objects.select_related("here")
        request.known_phone = known.filter(cookie=digest(said)).first() if said else None
    return request.known_phone


def know(request: HttpRequest) -> Phone:
    """This browser's row under another cookie from now on, made where there was none. Whoever was given a copy of the
    cookie before has nothing any more."""
    phone = phone_of(request) or Phone(browser=called(request.META.get("HTTP_USER_AGENT", "")))
    request.phone_cookie = secrets.token_urlsafe(32)
    phone.cookie, phone.used = digest(request.phone_cookie), timezone.now()
    phone.save()
    request.known_phone = phone
    return phone


def tell_browser(request: HttpRequest, response: HttpResponse) -> None:
    """Give the browser the cookie that it was named by while this request was answered."""
    said = getattr(request, "phone_cookie", None)
    if said is not None:
        response.set_signed_cookie(
            cookie_name(),
            said,
            salt=SALT,
            max_age=KEPT,
            secure=settings.SESSION_COOKIE_SECURE,
            httponly=True,
            samesite="Lax",
        )


def grant(request: HttpRequest, person: Person) -> Standing | None:
    """The person gave all that they sign in with, on this browser, just now. None for who has no PIN, who does not work
    here, and where no browser waits for an answer (a test's session, say)."""
    if person.role not in STAFF or not hasattr(request, "sign_in_stands"):
        return None
    if not Pin.objects.filter(person=person).exists():
        return None
    began = timezone.now()
    said = {"began": began, "until": min(began + LASTS, _end_of_day()), "wrong": 0}
    return Standing.objects.update_or_create(phone=know(request), person=person, defaults=said)[0]


def _end_of_day() -> dt.datetime:
    return dt.datetime.combine(today() + dt.timedelta(days=1), dt.time.min, zone())


def lasting() -> Q:
    """Of standings: those whose time is not over."""
    return Q(until__gt=timezone.now())


def on_phone(phone: Phone | None) -> QuerySet[Standing]:
    """Who may come back on a phone, by name."""
    rows = Standing.objects.filter(lasting(), phone=phone, person__is_active=True, person__role__in=STAFF)
    return rows.select_related("person").order_by("person__name", "person__username")


def of_person(person: Person) -> QuerySet[Standing]:
    """Where a person may come back, the latest first."""
    return Standing.objects.filter(lasting(), person=person).select_related("phone").order_by("-began", "-id")


def end_here(request: HttpRequest) -> None:
    """The person who is signed in signs out of this phone: here nobody comes back as them, nor is asked for their
    PIN."""
    phone = phone_of(request)
    if phone is not None and request.user.is_authenticated:
        Standing.objects.filter(phone=phone, person=request.user.pk).delete()
        Phone.objects.filter(pk=phone.pk, here=request.user.pk).update(here=None)


def take_a_try(standing: Standing) -> bool:
    """Count a PIN as wrong before it is looked at, so that many at once are no more than MOST_WRONG; False where
    nothing is looked at any more."""
    open_still = lasting() & Q(pk=standing.pk, wrong__lt=MOST_WRONG)
    return Standing.objects.filter(open_still).update(wrong=F("wrong") + 1) == 1


def give_back(standing: Standing) -> None:
    """It was right."""
    Standing.objects.filter(pk=standing.pk).update(wrong=F("wrong") - 1)


def was_the_last(standing: Standing) -> bool:
    """After a wrong one: whether it was one too many; then the standing ends."""
    return Standing.objects.filter(pk=standing.pk, wrong__gte=MOST_WRONG).delete()[0] > 0


def clear_away() -> None:
    Standing.objects.exclude(lasting()).delete()
    Phone.objects.filter(used__lte=timezone.now() - KEPT).delete()
