"""The verbs about suppliers, reclaimers, destroyers and buyers."""

import datetime as dt
import uuid
from dataclasses import dataclass

from django.db import IntegrityError, transaction

from inventory.ledger.actions import stated
from inventory.parties.models import Party, PartyPaper
from inventory.shop.clock import now, today
from inventory.shop.once import made_by
from inventory.text.clean import clean
from inventory.text.refusal import Refused


@stated
def save_party(*, name: str, role: str, address: str, registration: str, party: Party | None = None) -> Party:
    """Add a party, or change what is known of one, its name too. Its code stays: the ledger holds that. Raises Refused
    for a blank name, and for one that another party of the role has."""
    party = Party.objects.select_for_update().get(pk=party.pk) if party else Party()
    party.name, party.role = _name(name, "name"), role
    party.address, party.registration = clean(address, "address"), clean(registration, "registration", 100)
    try:
        with transaction.atomic():
            party.save()
    except IntegrityError:
        if not Party.objects.filter(role=role, name=party.name).exclude(pk=party.pk).exists():
            raise
        raise Refused(
            f"There is a {role} called {party.name} already. Use that one, or add what tells the two apart.", "name"
        ) from None
    return party


@dataclass(frozen=True)
class PaperSaid:
    """A paper of a party: kind of PAPERS; valid_until: None where it does not end."""

    kind: str
    number: str
    valid_from: dt.date
    valid_until: dt.date | None = None
    facility: str = ""
    note: str = ""


@stated
def keep_paper(*, party: Party, said: PaperSaid, by: str, key: uuid.UUID) -> PartyPaper:
    """Keep what a party's certificate or declaration says; the same key keeps it once."""
    if (known := made_by(PartyPaper, key)) is not None:
        return known
    number = clean(said.number, "number", 100)
    if not number:
        raise Refused("Write its number, or what else tells it from others.", "number")
    if said.valid_until is not None and said.valid_until < said.valid_from:
        raise Refused("Its last valid day lies before its first; look at both again.", "valid_until")
    return PartyPaper.objects.create(
        party=party,
        kind=said.kind,
        number=number,
        facility=clean(said.facility, "facility", 200),
        valid_from=said.valid_from,
        valid_until=said.valid_until,
        note=clean(said.note, "note", 300),
        by=by,
        at=now(),
        key=key,
    )


@stated
def withdraw_paper(*, pk: int, why: str) -> PartyPaper:
    """A paper that was kept by mistake says nothing any more; it stays, with the reason."""
    paper = PartyPaper.objects.select_for_update().get(pk=pk)
    why = clean(why, "why", 300)
    if not why:
        raise Refused("Say why it is withdrawn, e.g. that it is another supplier's.", "why")
    if paper.withdrawn_on is not None:
        raise Refused("It was withdrawn already.", "why")
    paper.withdrawn_on, paper.withdrawn_why = today(), why
    paper.save()
    return paper


@stated
def supplier_called(name: str, address: str = "") -> Party:
    """The supplier of this name; a new name is added. Raises Refused for a blank one."""
    name = _name(name, "supplier")
    return Party.objects.get_or_create(role="supplier", name=name, defaults={"address": clean(address)})[0]


def _name(text: str, field: str) -> str:
    name = clean(text, field, Party._meta.get_field("name").max_length)
    if not name:
        raise Refused("The name is blank; type what they are called.", field)
    return name
