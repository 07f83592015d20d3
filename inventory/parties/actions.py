"""The verbs about suppliers, reclaimers and destroyers."""

from inventory.parties.models import Party
from inventory.text.clean import clean
from inventory.text.refusal import Refused


def save_party(*, name: str, role: str, address: str, registration: str, party: Party | None = None) -> Party:
    """Add a party, or change what is known of one; its name stays, since the ledger holds it."""
    if party is None:
        name = clean(name, "name")
        if not name:
            raise Refused("Type the name.", "name")
        if Party.objects.filter(name=name).exists():
            raise Refused(f"{name} is there already.", "name")
        party = Party(name=name)
    party.role, party.address, party.registration = role, clean(address, "address"), clean(registration, "registration")
    party.save()
    return party


def supplier_called(name: str, address: str = "") -> Party:
    """The supplier of this name; a new name is added."""
    name = clean(name, "supplier")
    return Party.objects.get_or_create(name=name, defaults={"role": "supplier", "address": clean(address)})[0]
