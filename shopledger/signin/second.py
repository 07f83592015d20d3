"""The second factor: a code from the person's own device (TOTP, RFC 6238) or a passkey, and codes on paper for when
these are lost. With any of the first two, the password alone signs nobody in."""

import secrets

from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction
from django_otp import match_token
from django_otp.plugins.otp_totp.models import TOTPDevice

from inventory.audit.recording import tell_sign_in
from inventory.ledger.actions import stated
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from jobs.people.models import Person
from shopledger.signin.models import PaperCode, Passkey
from shopledger.signin.notices import notify
from shopledger.signin.opened import end_others

PAPER_CODES = 8
PAPER_DIGITS = 8


def has_code(person: Person) -> bool:
    return TOTPDevice.objects.filter(user=person, confirmed=True).exists()


def has_passkey(person: Person) -> bool:
    return Passkey.objects.filter(person=person).exists()


def has_second_factor(person: Person) -> bool:
    return has_code(person) or has_passkey(person)


def demanded_of(person: Person) -> bool:
    """Whether the owner demands a second factor of the person's role."""
    return person.role in Shop.current().second_factor_roles


def prepare(person: Person, shown: int | None = None) -> TOTPDevice:
    """The device that is being set up: its secret stays the same until the first code proves it. shown: the number of
    the one that this sign-in was shown. What another was shown is never set up: whoever read it there has its codes."""
    waiting = TOTPDevice.objects.filter(user=person, confirmed=False)
    found = waiting.filter(pk=shown).first()
    if found is None:
        waiting.delete()
        found = TOTPDevice.objects.create(user=person, name="phone", confirmed=False)
    return found


@stated
def confirm(person: Person, code: str) -> list[str]:
    """Turn the second factor on with its first code; returns the codes for paper, which are shown once.
    Raises Refused for a wrong code."""
    device = TOTPDevice.objects.select_for_update().filter(user=person, confirmed=False).first()
    if device is None:
        raise Refused("Nothing is being set up; open the page again.", "code")
    if not (code.isascii() and code.isdigit() and len(code) == 6 and device.verify_token(code)):
        raise Refused(
            "This code does not fit. Type the six digits that the device shows now; its clock must be right.", "code"
        )
    TOTPDevice.objects.filter(user=person, confirmed=True).delete()
    device.confirmed = True
    device.save()
    codes = _written_anew(person)
    tell_sign_in(person.username, "second factor", "on")
    end_others(person)
    notify(person, "A device that shows codes was set up as your second factor")
    return codes


@stated
def new_paper_codes(person: Person) -> list[str]:
    """Other codes for paper, which are shown once; those before count no more."""
    codes = _written_anew(person)
    tell_sign_in(person.username, "codes on paper", "made anew")
    notify(person, "Your codes on paper were made anew")
    return codes


def paper_codes_left(person: Person) -> int:
    return PaperCode.objects.filter(person=person).count()


def _written_anew(person: Person) -> list[str]:
    """Each begins with its number on the paper, and is kept as a salted hash alone (OWASP ASVS 5, 6.5.2)."""
    PaperCode.objects.filter(person=person).delete()
    codes = {at: f"{at}{secrets.randbelow(10**PAPER_DIGITS):0{PAPER_DIGITS}d}" for at in range(1, PAPER_CODES + 1)}
    PaperCode.objects.bulk_create(
        PaperCode(person=person, number=at, hashed=make_password(code)) for at, code in codes.items()
    )
    return list(codes.values())


def fits(person: Person, code: str) -> bool:
    """Whether this is a code of the person's device or one on their paper. Each counts once."""
    if not (code.isascii() and code.isdigit()):
        return False
    if len(code) == 1 + PAPER_DIGITS:
        with transaction.atomic():
            found = PaperCode.objects.select_for_update().filter(person=person, number=int(code[0])).first()
            return bool(found and check_password(code, found.hashed) and found.delete()[0])
    return match_token(person, code) is not None


@stated
def remove(person: Person) -> bool:
    """Turn the codes off; whether they were on. Raises Refused where the owner demands a second factor and there is no
    other. The codes on paper go with the last."""
    was = has_code(person)
    if was and demanded_of(person) and not has_passkey(person):
        raise Refused(DEMANDED, "password")
    TOTPDevice.objects.filter(user=person).delete()
    paper_goes(person)
    if was:
        tell_sign_in(person.username, "second factor", "off")
        end_others(person)
        notify(person, "The codes of your device were turned off")
    return was


def paper_goes(person: Person) -> None:
    if not has_second_factor(person):
        PaperCode.objects.filter(person=person).delete()


@stated
def forget_second_factors(person: Person) -> bool:
    """For somebody who lost their device: codes, paper and passkeys go, and every sign-in but the one that asks for it
    ends. Whether there were any. Where a second factor is demanded, the next sign-in leads to setting one up."""
    codes, keys = has_code(person), Passkey.objects.filter(person=person).count()
    TOTPDevice.objects.filter(user=person).delete()
    PaperCode.objects.filter(person=person).delete()
    Passkey.objects.filter(person=person).delete()
    if codes:
        tell_sign_in(person.username, "second factor", "off")
    if keys:
        tell_sign_in(person.username, "passkeys", f"{keys} removed")
    if codes or keys:
        end_others(person)
        notify(person, "Your second factor was removed")
    return bool(codes or keys)


DEMANDED = "The owner demands a second factor of your role: set up another one first, then take this one away."
