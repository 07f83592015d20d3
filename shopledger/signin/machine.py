"""What only whoever may run commands on the machine can do for a sign-in: let somebody in who lost password or phone,
and hand the ledger to the one who buys the business. Both are entries of the record, and never hold a password."""

import datetime as dt
import json
import secrets

from axes.models import AccessAttempt, AccessFailureLog, AccessLog
from axes.utils import reset
from django.contrib.sessions.models import Session
from django.db.models import Q

from inventory.audit.recording import SIGN_IN, tell_sign_in
from inventory.ledger.actions import stated
from inventory.ledger.models import Record
from inventory.shop.clock import today
from inventory.text.refusal import Refused
from jobs.drafts.models import Job
from jobs.people.actions import add_person, change_person, set_password
from jobs.people.models import Person, Role
from shopledger.inspectors.models import InspectorAccess
from shopledger.signin import second
from shopledger.signin.models import Phone, Pin, SignIn, WrongGuess
from shopledger.signin.opened import end_others

LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # none that is taken for another
LET_IN, HANDED = "let in", "ledger"
FROM_HERE = "by a command on the machine"
SHOWN_DAYS = 30


def new_password() -> str:
    """Four groups of four: some 79 bits."""
    return "-".join("".join(secrets.choice(LETTERS) for _ in range(4)) for _ in range(4))


@stated
def let_in(username: str, without_second_factor: bool) -> tuple[Person, str]:
    """A new password for somebody who works here, or left and comes back: their sign-ins end, wrong passwords are
    forgotten, and the second factor (codes, paper, passkeys) goes where that is said. Returns the person and the
    password, which nothing keeps. Raises Refused where there is nobody of that name, or it is an inspector's."""
    person = Person.objects.filter(username__iexact=username).first()
    if person is None:
        owners = Person.objects.filter(role=Role.OWNER, is_active=True).order_by("username")
        known = ", ".join(owners.values_list("username", flat=True)) or "nobody; manage.py createsuperuser adds one"
        raise Refused(f"Nobody here has the username {username}. Owners are: {known}.", "username")
    if person.role == Role.INSPECTOR:
        raise Refused(f"{person.name} signs in as an inspector; an owner issues that anew, on the page.", "username")
    if not person.is_active:
        person = change_person(person, by=None, is_active=True)
    password = new_password()
    set_password(person, by=None, password=password)
    end_others(person)  # a command has no sign-in of its own: all of them
    reset(username=person.username)
    if without_second_factor:
        second.forget_second_factors(person)
    tell_sign_in(person.username, LET_IN, FROM_HERE)
    return person, password


@stated
def hand_over(username: str, name: str) -> tuple[Person, str]:
    """The ledger goes on in other hands. `username` is its owner from now on, whether new or one who worked here; all
    others have left, no password, passkey, second factor or session of before lets anybody in, and inspectors'
    sign-ins are ended. The record stays whole. Returns the new owner and a password, which nothing keeps.

    Raises Refused while a job waits for its signature: who began it could not sign it any more."""
    waiting = Job.objects.filter(state="draft").count()
    if waiting:
        which = "One job waits" if waiting == 1 else f"{waiting} jobs wait"
        raise Refused(f"{which} to be signed. Sign or drop each first: who began it cannot afterwards.", "username")
    owner = Person.objects.filter(username__iexact=username).exclude(role=Role.INSPECTOR).first()
    if owner is None:
        owner = add_person(by=None, username=username, name=name, role=Role.OWNER)
    else:
        owner = change_person(owner, by=None, name=name or None, role=Role.OWNER, is_active=True)
    password = new_password()
    set_password(owner, by=None, password=password)
    second.forget_second_factors(owner)
    for person in Person.objects.exclude(pk=owner.pk).order_by("pk"):
        if person.is_active:
            person = change_person(person, by=None, is_active=False)
        second.forget_second_factors(person)
        person.set_unusable_password()
        person.save(update_fields=["password"])
    for access in InspectorAccess.objects.filter(ended_at=None):
        access.ended_by, access.ended_at = owner.username, _now()
        access.save(update_fields=["ended_by", "ended_at"])
    for passing in (SignIn, Session, Phone, Pin, WrongGuess, AccessAttempt, AccessFailureLog, AccessLog):
        passing.objects.all().delete()  # from where people of before came in is not the buyer's
    tell_sign_in(owner.username, HANDED, "handed over to them")
    return owner, password


def told_lately() -> Q:
    """Of records: what became of ways of signing in, in the last days."""
    return Q(kind=SIGN_IN, voucher__day__gte=today() - dt.timedelta(days=SHOWN_DAYS))


def was_let_in(record: Record) -> bool:
    """Whether a record of a sign-in says that somebody was let in from the machine."""
    return record.kind == SIGN_IN and bool(json.loads(record.body).get(LET_IN))


def _now() -> dt.datetime:
    return dt.datetime.now(dt.UTC)
