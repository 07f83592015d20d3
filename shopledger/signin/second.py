"""The second factor: a code from the person's own device (TOTP, RFC 6238), and codes on paper for when it is lost."""

import secrets

from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from inventory.audit.recording import tell_sign_in
from inventory.ledger.actions import stated
from inventory.text.refusal import Refused
from jobs.people.models import Person

PAPER_CODES = 8


def has_second_factor(person: Person) -> bool:
    return TOTPDevice.objects.filter(user=person, confirmed=True).exists()


def prepare(person: Person) -> TOTPDevice:
    """The device that is being set up: its secret stays the same until the first code proves it."""
    found = TOTPDevice.objects.filter(user=person, confirmed=False).first()
    return found or TOTPDevice.objects.create(user=person, name="phone", confirmed=False)


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
    StaticDevice.objects.filter(user=person).delete()
    paper = StaticDevice.objects.create(user=person, name="paper")
    codes = [f"{secrets.randbelow(10**8):08d}" for _ in range(PAPER_CODES)]
    StaticToken.objects.bulk_create(StaticToken(device=paper, token=code) for code in codes)
    tell_sign_in(person.username, "second factor", "on")
    return codes


@stated
def remove(person: Person) -> bool:
    """Turn it off; whether it was on."""
    was = has_second_factor(person)
    TOTPDevice.objects.filter(user=person).delete()
    StaticDevice.objects.filter(user=person).delete()
    if was:
        tell_sign_in(person.username, "second factor", "off")
    return was
