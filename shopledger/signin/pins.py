"""A person's PIN: kept as a salted hash, in no backup, and worth nothing but on a phone where its person signed in in
full today (`standing.py`). It stands for nobody's password: where one is asked, a PIN is none."""

from django.contrib.auth.hashers import check_password, make_password
from django.utils import timezone

from inventory.audit.recording import tell_sign_in
from inventory.ledger.actions import stated
from inventory.text.refusal import Refused
from jobs.people.models import Person
from shopledger.signin.models import Pin
from shopledger.signin.notices import notify
from shopledger.signin.opened import end_others
from shopledger.signin.pin_rules import objection


def has_pin(person: Person) -> bool:
    return Pin.objects.filter(person=person).exists()


@stated
def set_pin(person: Person, pin: str) -> None:
    """Another PIN than before, or the first. On no phone does anybody come back as this person until they signed in
    there anew. Raises Refused for one that is guessed first."""
    why = objection(pin)
    if why:
        raise Refused(why, "pin")
    said = {"hashed": make_password(pin), "made": timezone.now()}
    made = Pin.objects.update_or_create(person=person, defaults=said)[1]
    tell_sign_in(person.username, "PIN", "set" if made else "changed")
    end_others(person)
    notify(person, "A PIN was set" if made else "Your PIN was changed")


@stated
def remove_pin(person: Person) -> bool:
    """Take the PIN away; whether there was one."""
    if not Pin.objects.filter(person=person).delete()[0]:
        return False
    tell_sign_in(person.username, "PIN", "removed")
    end_others(person)
    notify(person, "Your PIN was removed")
    return True


def fits(person: Person, pin: str) -> bool:
    found = Pin.objects.filter(person=person).first()
    return found is not None and len(pin) < 100 and check_password(pin, found.hashed)
