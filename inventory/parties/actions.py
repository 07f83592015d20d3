"""The verbs about suppliers, reclaimers, destroyers and buyers."""

from django.db import IntegrityError, transaction

from inventory.ledger.actions import stated
from inventory.parties.models import Party
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
