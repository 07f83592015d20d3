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
- All others end with a new password, a change of the second factor, of a passkey or of the PIN, another role, and when
  a person leaves; and with them all that lets the person come back by PIN (`standing.py`).
- A sign-in by PIN ends with what it stands on, unless its person gave all that they sign in with since.
- On a phone that several people use, it ends after the shop's `lock_minutes` without use: the phone is locked.
"""

import datetime as dt

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
from inventory.shop.models import Shop
from inventory.shop.who import request_at_hand
from jobs.people.models import Person
from shopledger.signin import standing
from shopledger.signin.browsers import called
from shopledger.signin.models import Notice, Passkey, Phone, SignIn, Standing
from shopledger.signin.notices import before_first, notify
from shopledger.signin.standing import digest

NEVER = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)  # when who came by PIN proved who they are
NAMED = "sign_in"  # in a session: the number of its row
HALF_WAY = "half_way"  # in a session: who gave the right password, and must use a second factor next
FRESH = dt.timedelta(minutes=10)  # so long nobody is asked again who they are
TO_SEND = dt.timedelta(minutes=20)  # and so long a form may be sent that was opened then
CLEARED_AT_ONCE = 500  # sessions that are over, at a sign-in


def idle() -> dt.timedelta:
    return dt.timedelta(minutes=settings.IDLE_MINUTES)


def begin(request: HttpRequest, person: Person) -> None:
    """A new row for a session that was just signed in: by PIN on the strength of `request.stands_on`, else in full."""
    session, stands_on, now = request.session, getattr(request, "stands_on", None), timezone.now()
    SignIn.objects.filter(pk=session.get(NAMED) or 0).delete()
    if session.session_key is None:
        session.save()
    _clear_away()
    if stands_on is None:
        standing.grant(request, person)
    phone = standing.phone_of(request)
    if phone is not None:
        Phone.objects.filter(pk=phone.pk).update(here=person, used=now)
    made = SignIn.objects.create(
        person=person,
        session=digest(session.session_key),
        how=getattr(request, "signed_in_by", "password"),
        address=get_client_ip_address(request) or None,
        browser=called(request.META.get("HTTP_USER_AGENT", "")),
        told=before_first(person),
        phone=phone,
        standing=stands_on,
        began=now,
        last_used=now,
        proved=now if stands_on is None else NEVER,
    )
    session[NAMED] = made.pk
    session.pop(HALF_WAY, None)
    session.set_expiry(None)  # a visitor's ends sooner
    request.sign_in = made


def _clear_away() -> None:
    """What is over. Visitors' sessions too: whoever asks is given one, so not all of very many within one sign-in."""
    standing.clear_away()
    SignIn.objects.exclude(_within()).delete()
    over = Session.objects.filter(expire_date__lte=timezone.now()).values_list("pk", flat=True)
    Session.objects.filter(pk__in=list(over[:CLEARED_AT_ONCE])).delete()


def _within() -> Q:
    """What of the rows is within the limits of time, wherever it is."""
    now = timezone.now()
    longest = dt.timedelta(seconds=settings.SESSION_COOKIE_AGE)
    lasts = Q(standing=None) | Q(standing__until__gt=now)
    return lasts & Q(began__gt=now - longest, last_used__gt=now - idle())


def still_open() -> Q:
    """What of the rows is within all limits: on a shared phone, that it is not locked."""
    minutes = Shop.current().lock_minutes
    if not minutes:
        return _within()
    touched = Q(last_used__gt=timezone.now() - dt.timedelta(minutes=minutes))
    return _within() & (Q(phone=None) | Q(phone__shared=False) | touched)


def find(request: HttpRequest) -> SignIn | None:
    """This session's row, with `has_factor`, `newest` (notice) and `locks_after` (minutes, 0: never); None where it was
    ended, its time is over, or its phone is locked. One question."""
    with_code = TOTPDevice.objects.filter(user=OuterRef("person"), confirmed=True)
    with_key = Passkey.objects.filter(person=OuterRef("person"))
    newest = Notice.objects.filter(person=OuterRef("person")).order_by().values("person")
    found = SignIn.objects.filter(_within(), pk=request.session.get(NAMED) or 0, person=request.user.pk)
    here = (
        found.annotate(
            has_factor=Exists(with_code) | Exists(with_key),
            newest=Subquery(newest.annotate(n=Max("id")).values("n")),
            minutes=Subquery(Shop.objects.filter(pk=1).values("lock_minutes")),
        )
        .select_related("phone")
        .first()
    )
    if here is None:
        return None
    here.locks_after = _locks_after(here)
    locked = here.locks_after and here.last_used <= timezone.now() - dt.timedelta(minutes=here.locks_after)
    return None if locked else here


def _locks_after(here: SignIn) -> int:
    if here.phone is None or not here.phone.shared:
        return 0
    return Shop().lock_minutes if here.minutes is None else here.minutes  # None: no shop is set up yet


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
    """The person of this session gave again all that they sign in with: its key changes, and it stands by itself."""
    request.session.cycle_key()
    request.session.pop(HALF_WAY, None)
    keyed_anew(request, proved=timezone.now(), standing=None)


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
    """All of the person's but the one that asks for it now, which ends too where it stands on a PIN: on no phone they
    come back by PIN until they signed in there anew."""
    Standing.objects.filter(person=person).delete()
    mine = getattr(request_at_hand(), "sign_in", None)
    return gone(SignIn.objects.filter(person=person).exclude(pk=mine.pk if mine else 0))


@stated
def end_sign_ins(person: Person, only: int | None = None) -> int:
    """End the person's sign-ins, or one of them, and tell it in the record; how many there were. The one that asks
    for it stays. Where one ends, nobody comes back by PIN."""
    mine = getattr(request_at_hand(), "sign_in", None)
    rows = SignIn.objects.filter(person=person).exclude(pk=mine.pk if mine else 0)
    rows = rows if only is None else rows.filter(pk=only)
    standings = Standing.objects.filter(person=person)
    if only is not None:
        standings = standings.filter(phone__in=rows.values("phone"))
    elif mine is not None and mine.person_id == person.pk:
        standings = standings.exclude(phone=mine.phone_id)
    return _told_ended(person, rows, standings)


@stated
def end_standing(person: Person, pk: int) -> int:
    """On one phone nobody comes back as this person by PIN; told in the record. 1 where somebody could."""
    found = Standing.objects.filter(person=person, pk=pk)
    mine = getattr(request_at_hand(), "sign_in", None)
    rows = SignIn.objects.filter(person=person, phone__in=found.values("phone"))
    return _told_ended(person, rows.exclude(pk=mine.pk if mine else 0), found)


def _told_ended(person: Person, rows: QuerySet[SignIn], standings: QuerySet[Standing]) -> int:
    """End sign-ins, and what lets their person come back by PIN; where both are of one phone they count as one."""
    held, alone = set(standings.values_list("pk", flat=True)), set(standings.values_list("phone", flat=True))
    alone -= set(rows.values_list("phone", flat=True))
    count = gone(rows) + len(alone)
    Standing.objects.filter(pk__in=held).delete()
    if count:
        tell_sign_in(person.username, "sign-ins", f"{count} ended")
        notify(person, f"{count} of your sign-ins {'was' if count == 1 else 'were'} ended")
    return count
