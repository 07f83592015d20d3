"""Passkeys: a key pair in a person's device, which signs what this site asks for this site alone (WebAuthn, level 3).

A key whose device asked who holds it (PIN, finger, face) signs in by itself: it is two factors in one (NIST SP
800-63B-4, 3.1.7). Any other is a second factor beside the password. A challenge is made here, is kept in the session,
counts once and for CHALLENGE_LASTS; the site's name comes from the request's host, which Django has held against
ALLOWED_HOSTS. Signatures and formats are read by `webauthn`.
"""

import datetime as dt
import hashlib
import ipaddress
import secrets
from dataclasses import dataclass
from urllib.parse import urlsplit

from django.conf import settings
from django.db import IntegrityError, transaction
from django.http import HttpRequest
from django.utils import timezone
from webauthn import (
    base64url_to_bytes,
    generate_authentication_options,
    generate_registration_options,
    options_to_json,
    verify_authentication_response,
    verify_registration_response,
)
from webauthn.helpers import bytes_to_base64url
from webauthn.helpers.exceptions import WebAuthnException
from webauthn.helpers.structs import (
    AuthenticatorSelectionCriteria,
    AuthenticatorTransport,
    PublicKeyCredentialDescriptor,
    ResidentKeyRequirement,
    UserVerificationRequirement,
)

from inventory.audit.recording import tell_sign_in
from inventory.ledger.actions import stated
from inventory.text.refusal import Refused
from jobs.people.models import Person
from jobs.people.wording import one_line
from shopledger.signin.models import Passkey
from shopledger.signin.notices import notify
from shopledger.signin.opened import FRESH, end_others
from shopledger.signin.second import DEMANDED, demanded_of, has_code, paper_goes
from shopledger.signin.throttle import guess
from shopledger.signin.ways_in import may_sign_in

ASKED = "passkey_asked"  # in a session: what was asked last
CHALLENGE_LASTS = dt.timedelta(minutes=5)
MOST = 20  # passkeys of one person
# What reading a hostile answer may end in.
UNREADABLE = (WebAuthnException, ValueError, TypeError, KeyError, IndexError, AttributeError, OverflowError)
NOT_TAKEN = "This passkey was not taken. Try again, or sign in with your password."
TOO_LATE = "That took too long, or was sent twice. Press the button again."


@dataclass(frozen=True)
class Site:
    """name: whose keys they are (the relying party's id). origins: pages that may ask for them."""

    name: str
    origins: list[str]


def site(request: HttpRequest) -> Site | None:
    """Where the request's page is, as a browser knows it; None where no browser gives a passkey: without HTTPS, or
    under a number instead of a name. This machine itself counts as safe."""
    name = urlsplit(f"//{request.get_host()}").hostname or ""
    asked = [f"{request.scheme}://{request.get_host()}", *settings.CSRF_TRUSTED_ORIGINS]
    here = name == "localhost" or name.endswith(".localhost")
    origins = [one for one in asked if urlsplit(one).hostname == name and (here or one.startswith("https://"))]
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return Site(name, origins) if origins else None
    return None


NOWHERE = (
    "Passkeys need this site's name with HTTPS in front (https://…), or localhost on this machine: a browser gives "
    "none to an address of numbers or without encryption."
)


def _site(request: HttpRequest) -> Site:
    found = site(request)
    if found is None:
        raise Refused(NOWHERE)
    return found


def _remember(request: HttpRequest, challenge: bytes, what: str, person: Person | None) -> None:
    request.session[ASKED] = {
        "challenge": bytes_to_base64url(challenge),
        "for": what,
        "person": person.pk if person else None,
        "at": timezone.now().timestamp(),
    }
    if not request.user.is_authenticated:
        request.session.set_expiry(int(FRESH.total_seconds()))


def _asked(request: HttpRequest, what: str) -> dict:
    """What this session was asked last, once. Raises Refused where that was something else, or too long ago."""
    asked = request.session.pop(ASKED, None)
    request.session.save()
    if not asked or asked["for"] != what:
        raise Refused(TOO_LATE)
    if timezone.now().timestamp() - asked["at"] > CHALLENGE_LASTS.total_seconds():
        raise Refused(TOO_LATE)
    return asked


def _described(keys: object) -> list[PublicKeyCredentialDescriptor]:
    known = {one.value for one in AuthenticatorTransport}
    return [
        PublicKeyCredentialDescriptor(
            id=base64url_to_bytes(key.credential),
            transports=[AuthenticatorTransport(one) for one in key.transports if one in known],
        )
        for key in keys
    ]


# -- a new one ---------------------------------------------------------------------------------------------------


def ask_for_new(request: HttpRequest) -> str:
    """What the browser hands to the device that makes a key for the person who is signed in; JSON."""
    person, here = request.user, _site(request)
    keys = list(Passkey.objects.filter(person=person))
    if len(keys) >= MOST:
        raise Refused(f"You have {MOST} passkeys; take one away that you no longer use.")
    options = generate_registration_options(
        rp_id=here.name,
        rp_name=request.shop.name,
        user_name=person.username,
        user_display_name=person.name,
        user_id=base64url_to_bytes(keys[0].handle) if keys else secrets.token_bytes(32),
        authenticator_selection=AuthenticatorSelectionCriteria(
            resident_key=ResidentKeyRequirement.PREFERRED, user_verification=UserVerificationRequirement.PREFERRED
        ),
        exclude_credentials=_described(key for key in keys if key.site == here.name),
    )
    _remember(request, options.challenge, "new", person)
    request.session[ASKED]["handle"] = bytes_to_base64url(options.user.id)
    return options_to_json(options)


def take_new(request: HttpRequest, credential: dict, name: str) -> Passkey:
    """Keep the key that the device made. Raises Refused for an answer that is not what was asked."""
    here, asked = _site(request), _asked(request, "new")
    if asked["person"] != request.user.pk:
        raise Refused(TOO_LATE)
    try:
        made = verify_registration_response(
            credential=credential,
            expected_challenge=base64url_to_bytes(asked["challenge"]),
            expected_rp_id=here.name,
            expected_origin=here.origins,
        )
    except UNREADABLE:
        raise Refused("This device's answer could not be taken as a passkey of this site. Try again.") from None
    transports = credential.get("response", {}).get("transports", [])
    known = {one.value for one in AuthenticatorTransport}
    key = Passkey(
        person=request.user,
        name=one_line(name, "name", called="name", longest=60) or "Passkey",
        credential=bytes_to_base64url(made.credential_id),
        public_key=bytes_to_base64url(made.credential_public_key),
        handle=asked["handle"],
        site=here.name,
        transports=[one for one in transports if one in known] if isinstance(transports, list) else [],
        verified=made.user_verified,
        count=made.sign_count,
        may_be_carried=made.credential_device_type == "multi_device",
        carried=made.credential_backed_up,
    )
    return _keep(key)


@stated
def _keep(key: Passkey) -> Passkey:
    try:
        with transaction.atomic():
            key.save(force_insert=True)
    except IntegrityError:
        raise Refused("This passkey is known here already.") from None
    tell_sign_in(key.person.username, "passkey", "added")
    end_others(key.person)
    notify(key.person, "A passkey was added")
    return key


@stated
def remove_passkey(person: Person, pk: int) -> str:
    """Take a passkey away; its name. Raises Refused where it is not the person's, or is the last second factor where
    one is demanded."""
    keys = {key.pk: key for key in Passkey.objects.select_for_update().filter(person=person)}
    if pk not in keys:
        raise Refused("There is no such passkey; it may have been removed already.")
    if len(keys) == 1 and demanded_of(person) and not has_code(person):
        raise Refused(DEMANDED)
    keys[pk].delete()
    paper_goes(person)
    tell_sign_in(person.username, "passkey", "removed")
    end_others(person)
    notify(person, "A passkey was removed")
    return keys[pk].name


# -- signing in --------------------------------------------------------------------------------------------------


def ask_to_sign_in(request: HttpRequest, person: Person | None) -> str:
    """What the browser hands to a device; JSON. person: who gave the right password just now, whose keys are named;
    None: whoever holds a key that signs in alone."""
    here = _site(request)
    keys = Passkey.objects.filter(person=person, site=here.name) if person else []
    options = generate_authentication_options(
        rp_id=here.name,
        allow_credentials=_described(keys),
        user_verification=UserVerificationRequirement.PREFERRED if person else UserVerificationRequirement.REQUIRED,
    )
    _remember(request, options.challenge, "sign-in", person)
    return options_to_json(options)


def signed_in_by(request: HttpRequest, credential: dict) -> Person:
    """Whose key answered. Raises Refused where that is nobody who may sign in; a wrong answer counts as a guess."""
    here, asked = _site(request), _asked(request, "sign-in")
    said = credential.get("id") if isinstance(credential, dict) else None
    key = Passkey.objects.select_related("person").filter(credential=said if isinstance(said, str) else "").first()
    if key is None or (asked["person"] is not None and key.person_id != asked["person"]):
        _wrong(request, asked)
        raise Refused(NOT_TAKEN)
    if not guess(request, key.person.username, lambda: _answers(key, credential, here, asked), by_key=True):
        raise Refused(NOT_TAKEN)
    return key.person


def _wrong(request: HttpRequest, asked: dict) -> None:
    """A key that is nobody's is no guess of anybody's secret, unless the password came before it."""
    person = Person.objects.filter(pk=asked["person"] or 0).first()
    if person is not None:
        guess(request, person.username, lambda: False, by_key=True)


def _answers(key: Passkey, credential: dict, here: Site, asked: dict) -> bool:
    """Whether this is the key's answer to what was asked, for the first time; its count moves on."""
    alone = asked["person"] is None
    spent = hashlib.sha256(asked["challenge"].encode()).hexdigest()
    with transaction.atomic():
        key = Passkey.objects.select_for_update(of=("self",)).select_related("person").filter(pk=key.pk).first()
        if key is None or key.spent == spent or key.site != here.name or (alone and not key.verified):
            return False
        if not may_sign_in(key.person) or not _is_owners(key, credential, alone):
            return False
        try:
            said = verify_authentication_response(
                credential=credential,
                expected_challenge=base64url_to_bytes(asked["challenge"]),
                expected_rp_id=here.name,
                expected_origin=here.origins,
                credential_public_key=base64url_to_bytes(key.public_key),
                credential_current_sign_count=key.count,
                require_user_verification=alone,
            )
        except UNREADABLE:
            return False
        key.count, key.carried = said.new_sign_count, said.credential_backed_up
        key.spent, key.last_used = spent, timezone.now()
        key.save(update_fields=["count", "carried", "spent", "last_used"])
    return True


def _is_owners(key: Passkey, credential: dict, alone: bool) -> bool:
    """The device names whose key it is, where it found the key by itself."""
    handle = credential.get("response", {}).get("userHandle") if isinstance(credential.get("response"), dict) else None
    if not handle:
        return not alone
    return isinstance(handle, str) and handle.rstrip("=") == key.handle
