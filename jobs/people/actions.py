"""The verbs that change people and certificates. Each is one transaction and says who did it.

`by` is the person who asks; None where the program itself does (a command, the loading of a log).
"""

import datetime as dt
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from types import EllipsisType

from django.contrib.auth.password_validation import validate_password
from django.contrib.auth.validators import UnicodeUsernameValidator
from django.core.exceptions import ValidationError
from django.db import IntegrityError

from inventory.audit.recording import tell_sign_in
from inventory.ledger.actions import stated
from inventory.measures.days import FIRST_MADE, said_day
from inventory.measures.units import MASS_CHOICES, VOLUME_CHOICES
from inventory.shop.clock import today
from inventory.shop.days import may_be_due
from inventory.shop.once import made_by
from inventory.text.refusal import Refused
from jobs.people.models import STAFF_CHOICES, Certificate, Person, Role
from jobs.people.wording import folded, one_line, paragraph


@stated
def add_person(
    *,
    by: Person | None,
    username: str,
    name: str,
    role: str,
    password: str | None = None,
    **units: str,
) -> Person:
    """A new person. Without a password nobody can sign in as them until one is set. units: mass_unit, volume_unit.

    Raises Refused: username taken (in any case of letters) or malformed, unknown role or unit, weak password.
    """
    username = _username(username)
    person = Person(username=username, name=_name(name), role=_role(role))
    _see_in(person, **{"mass_unit": "g", "volume_unit": "mL", **units})
    if password is None:
        person.set_unusable_password()
    else:
        _check_password(password, person)
        person.set_password(password)
    try:
        person.save(force_insert=True)
    except IntegrityError:  # somebody else took it between the check and now
        raise Refused(f"The username {username} is taken; choose another.", "username") from None
    return person


@stated
def change_person(
    person: Person,
    *,
    by: Person | None,
    name: str | None = None,
    role: str | None = None,
    is_active: bool | None = None,
    trainee_since: dt.date | None | EllipsisType = ...,
    **leaving: dt.date | None,
) -> Person:
    """Change what is given; None leaves a value as it is (`trainee_since`: ..., None takes it away). The username
    stays: records hold it. leaving: `left_on`, of somebody who has left; today, where nobody says it.

    Raises Refused where no active owner would be left, and for a day of leaving that has not come or of somebody who
    works here.
    """
    owners = Person.objects.select_for_update().filter(role=Role.OWNER, is_active=True).order_by("pk")
    owner_ids = list(owners.values_list("pk", flat=True))  # locked: two owners cannot demote each other at once
    person = Person.objects.select_for_update().get(pk=person.pk)
    if name is not None:
        person.name = _name(name)
    if role is not None:
        person.role = _role(role)
    if is_active is not None:
        person.is_active = is_active
    person.left_on = _left_on(person, **leaving)
    if trainee_since is not ...:
        may_be_due(trainee_since, "trainee_since", first=FIRST_MADE)
        person.trainee_since = trainee_since
    stays_owner = person.role == Role.OWNER and person.is_active
    if owner_ids == [person.pk] and not stays_owner:
        raise Refused(
            f"{person.name} is the only owner who can sign in. Make another person owner first.",
            "role" if person.role != Role.OWNER else "is_active",
        )
    person.save(update_fields=["name", "role", "is_active", "trainee_since", "left_on"])
    return person


def _left_on(person: Person, left_on: dt.date | None = None) -> dt.date | None:
    if person.is_active:
        if left_on is not None and left_on != person.left_on:
            raise Refused(f"{person.name} works here; say that they have left, or leave the day blank.", "left_on")
        return None
    if left_on is not None and not FIRST_MADE <= left_on <= today():
        raise Refused(
            f"{said_day(left_on)} is no day on which somebody left: write the last day of their work here.", "left_on"
        )
    return left_on or person.left_on or today()


@stated
def choose_units(
    person: Person,
    *,
    by: Person | None,
    mass_unit: str,
    volume_unit: str,
    compact: bool = False,
    single_keys: bool = True,
) -> Person:
    """How this person sees pages and moves on them: the units, whether rows stand close together, whether single keys
    lead to pages. What is stored does not change."""
    person = Person.objects.select_for_update().get(pk=person.pk)
    _see_in(person, mass_unit, volume_unit)
    person.compact, person.single_keys = compact, single_keys
    person.save(update_fields=["mass_unit", "volume_unit", "compact", "single_keys"])
    return person


def _see_in(person: Person, mass_unit: str, volume_unit: str) -> None:
    person.mass_unit = _choice(mass_unit, MASS_CHOICES, "mass_unit", "mass unit")
    person.volume_unit = _choice(volume_unit, VOLUME_CHOICES, "volume_unit", "volume unit")


@stated
def set_password(person: Person, *, by: Person | None, password: str) -> Person:
    """A new password; every session of this person ends. Raises Refused where it is weak."""
    person = Person.objects.select_for_update().get(pk=person.pk)
    _check_password(password, person)
    person.set_password(password)
    person.save(update_fields=["password"])
    tell_sign_in(person.username, "password", "set anew")
    return person


@dataclass(frozen=True)
class CertificateSaid:
    """What a certificate says. expires: the last valid day; None: it does not expire."""

    scheme: str
    number: str
    issued: dt.date
    issuer: str = ""
    expires: dt.date | None = None
    note: str = ""


@stated
def add_certificate(*, by: Person | None, person: Person, key: uuid.UUID | None = None, **said: object) -> Certificate:
    """said: as CertificateSaid has it. Raises Refused where the person has it already.

    key: of the form; the same form sent again answers what it recorded the first time.
    """
    if (known := made_by(Certificate, key)) is not None:
        return known
    return _fill(Certificate(person=person, key=key), CertificateSaid(**said))


@stated
def change_certificate(certificate: Certificate, *, by: Person | None, **said: object) -> Certificate:
    """Put a certificate right, as CertificateSaid has it. One that was withdrawn ends on the day before: set
    `expires`."""
    certificate = Certificate.objects.select_for_update().get(pk=certificate.pk)
    return _fill(certificate, CertificateSaid(**said))


def _fill(certificate: Certificate, said: CertificateSaid) -> Certificate:
    certificate.scheme = one_line(said.scheme, "scheme", called="scheme", longest=60, required=True)
    certificate.number = one_line(said.number, "number", called="number", longest=60, required=True)
    certificate.issuer = one_line(said.issuer, "issuer", called="issuer", longest=150)
    certificate.note = paragraph(said.note, "note", called="note")
    certificate.issued, certificate.expires = said.issued, said.expires
    may_be_due(said.issued, "issued", first=FIRST_MADE)
    may_be_due(said.expires, "expires")
    if said.expires is not None and said.expires < said.issued:
        raise Refused(
            f"The certificate ends on {said_day(said.expires)}, before it was issued on {said_day(said.issued)}. "
            "Leave the end blank if it does not expire.",
            "expires",
        )
    same = Certificate.objects.filter(person=certificate.person, scheme=certificate.scheme, number=certificate.number)
    if same.exclude(pk=certificate.pk).exists():
        raise Refused(
            f"{certificate.person.name} already has {certificate}. Change that one, or correct the number.",
            "number",
        )
    certificate.save()
    return certificate


def _username(text: str) -> str:
    username = one_line(text, "username", called="username", longest=150, required=True)
    try:
        UnicodeUsernameValidator()(username)
    except ValidationError:
        raise Refused(
            f"The username {username!r} may hold only letters, digits and @ . + - _ without blanks; "
            "leave the rest out.",
            "username",
        ) from None
    for taken in Person.objects.values_list("username", flat=True):
        if folded(taken) == folded(username):
            raise Refused(f"The username {taken} is taken; choose another.", "username")
    return username


def _name(text: str) -> str:
    return one_line(text, "name", called="name", longest=150, required=True)


def _role(role: str) -> str:
    return _choice(role, STAFF_CHOICES, "role", "role")


def _choice(value: str, choices: Iterable[tuple[str, str]], field: str, called: str) -> str:
    known = [code for code, _ in choices]
    if value not in known:
        raise Refused(f"{value!r} is not a {called}; write one of {', '.join(known)}.", field)
    return value


def _check_password(password: str, person: Person) -> None:
    try:
        validate_password(password, person)
    except ValidationError as error:
        raise Refused(" ".join(error.messages), "password") from None
