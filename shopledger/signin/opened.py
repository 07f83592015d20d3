"""Who is signed in where, and ending that.

Limits (OWASP ASVS 5, 7.1; each is the server's, whatever the cookie says):

- A sign-in ends 12 hours after it began (SESSION_COOKIE_AGE): a working day, as NIST SP 800-63B (rev. 3, 4.2.3) asks at
  its second level; revision 4 allows 24 hours.
- It ends after IDLE_MINUTES without a page, 120 unless set. NIST's second level asks for 30 minutes (rev. 4: should be
  an hour). Longer here, because who works in a bay has no hand free while a vacuum is pulled and held, and signs in
  with gloves on; a job's page that looks by itself for what others wrote does not count as use; what was typed stays
  on the phone; and what who finds it open shall not do (`ASKS_AGAIN` in `middleware.py`) asks after FRESH minutes for
  all that its person signs in with.
- As many sign-ins at once as somebody likes: each is on their page, and ends there.
- All others end with a new password, a change of the second factor or of a passkey, another role, and when a person
  leaves.
"""

import datetime as dt
import hashlib

from axes.helpers import get_client_ip_address
from django.conf import settings
from django.contrib.sessions.models import Session
from django.db.models import Exists, Max, OuterRef, Q, QuerySet, Subquery
from django.http import HttpRequest
from django.utils import timezone
from django.utils.crypto import constant_time_compare
from django_otp.plugins.otp_totp.models import TOTPDevice

from inventory.audit.recording import tell_sign_in
from inventory.ledger.actions import stated
from inventory.shop.who import request_at_hand
from jobs.people.models import Person
from shopledger.signin.browsers import called
from shopledger.signin.models import Notice, Passkey, SignIn
from shopledger.signin.notices import before_first, notify

NAMED = "sign_in"  # in a session: the number of its row
HALF_WAY = "half_way"  # in a session: who gave the right password, and must use a second factor next
FRESH = dt.timedelta(minutes=10)  # so long nobody is asked again who they are
TO_SEND = dt.timedelta(minutes=20)  # and so long a form may be sent that was opened then
CLEARED_AT_ONCE = 500  # sessions that are over, at a sign-in


def idle() -> dt.timedelta:
    return dt.timedelta(minutes=settings.IDLE_MINUTES)


def digest(key: str) -> str:
    return hashlib.sha256(key.encode()).hexdigest()


def begin(request: HttpRequest, person: Person) -> None:
    """A new row for a session that was just signed in."""
    session = request.session
    SignIn.objects.filter(pk=session.get(NAMED) or 0).delete()
    if session.session_key is None:
        session.save()
    _clear_away()
    made = SignIn.objects.create(
        person=person,
        session=digest(session.session_key),
        how=getattr(request, "signed_in_by", "password"),
        address=get_client_ip_address(request) or None,
        browser=called(request.META.get("HTTP_USER_AGENT", "")),
        told=before_first(person),
    )
    session[NAMED] = made.pk
    session.pop(HALF_WAY, None)
    session.set_expiry(None)  # a visitor's ends sooner
    request.sign_in = made


def _clear_away() -> None:
    """What is over. Visitors' sessions too: whoever asks is given one, so not all of very many within one sign-in."""
    SignIn.objects.exclude(still_open()).delete()
    over = Session.objects.filter(expire_date__lte=timezone.now()).values_list("pk", flat=True)
    Session.objects.filter(pk__in=list(over[:CLEARED_AT_ONCE])).delete()


def still_open() -> Q:
    """What of the rows is within both limits."""
    now = timezone.now()
    longest = dt.timedelta(seconds=settings.SESSION_COOKIE_AGE)
    return Q(began__gt=now - longest, last_used__gt=now - idle())


def find(request: HttpRequest) -> SignIn | None:
    """This session's row, with `has_factor` and `newest` (notice); None where it was ended or its time is over."""
    with_code = TOTPDevice.objects.filter(user=OuterRef("person"), confirmed=True)
    with_key = Passkey.objects.filter(person=OuterRef("person"))
    newest = Notice.objects.filter(person=OuterRef("person")).order_by().values("person")
    found = SignIn.objects.filter(still_open(), pk=request.session.get(NAMED) or 0, person=request.user.pk)
    return found.annotate(
        has_factor=Exists(with_code) | Exists(with_key), newest=Subquery(newest.annotate(n=Max("id")).values("n"))
    ).first()


def open_of(person: Person) -> QuerySet[SignIn]:
    """The person's sign-ins, the last used first."""
    return SignIn.objects.filter(still_open(), person=person)


def go_half_way(request: HttpRequest, person: Person) -> None:
    """The right password was given; who uses a passkey within FRESH is signed in."""
    until = (timezone.now() + FRESH).timestamp()
    request.session[HALF_WAY] = {"person": person.pk, "until": until, "hash": person.get_session_auth_hash()}


def half_way(request: HttpRequest) -> Person | None:
    """Who gave the right password just now, with this browser."""
    said = request.session.get(HALF_WAY)
    if not said or said["until"] < timezone.now().timestamp():
        return None
    person = Person.objects.filter(pk=said["person"], is_active=True).first()
    return person if person and constant_time_compare(person.get_session_auth_hash(), said["hash"]) else None


def is_fresh(here: SignIn, within: dt.timedelta = FRESH) -> bool:
    return here.proved > timezone.now() - within


def proved(request: HttpRequest) -> None:
    """The person of this session gave again all that they sign in with: its key changes."""
    request.session.cycle_key()
    request.session.pop(HALF_WAY, None)
    keyed_anew(request, proved=timezone.now())


def keyed_anew(request: HttpRequest, **became: object) -> None:
    """This session has another key from now on. became: what else changes in its row."""
    key = digest(request.session.session_key)
    SignIn.objects.filter(pk=request.sign_in.pk).update(session=key, **became)


def gone(rows: QuerySet[SignIn]) -> int:
    """End sign-ins at once: their rows and their sessions. How many there were."""
    digests = set(rows.values_list("session", flat=True))
    rows.delete()
    keys = Session.objects.values_list("session_key", flat=True) if digests else ()
    Session.objects.filter(pk__in=[key for key in keys if digest(key) in digests]).delete()
    return len(digests)


def end_others(person: Person) -> int:
    """All of the person's but the one that asks for it now."""
    mine = getattr(request_at_hand(), "sign_in", None)
    return gone(SignIn.objects.filter(person=person).exclude(pk=mine.pk if mine else 0))


@stated
def end_sign_ins(person: Person, only: int | None = None) -> int:
    """End the person's sign-ins, or one of them, and tell it in the record; how many there were. The one that asks
    for it stays."""
    mine = getattr(request_at_hand(), "sign_in", None)
    rows = SignIn.objects.filter(person=person).exclude(pk=mine.pk if mine else 0)
    count = gone(rows if only is None else rows.filter(pk=only))
    if count:
        tell_sign_in(person.username, "sign-ins", f"{count} ended")
        notify(person, f"{count} of your sign-ins {'was' if count == 1 else 'were'} ended")
    return count
