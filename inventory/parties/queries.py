"""Parties by the codes that the ledger calls them by."""

from collections.abc import Iterable, Iterator

from inventory.codes.queries import names_of
from inventory.codes.wording import with_code
from inventory.ledger.accounts import NAMED
from inventory.ledger.models import Movement, Voucher
from inventory.parties.models import Party
from inventory.verdicts.retention import OnFile


def name_ends(movements: Iterable[Movement]) -> list[Movement]:
    """The movements, and at each of their accounts `called`, what a page shows: a party's present name with its code,
    otherwise the account's own name. One statement, whatever their number; source and target are to be loaded."""
    found = list(movements)
    ends = [end for one in found for end in (one.source, one.target)]
    names = names_of({end.name for end in ends if end.cls in NAMED})
    for end in ends:
        end.called = with_code(end.name, names) if end.cls in NAMED else end.name
    return found


def rests_on_party(party: Party) -> Iterator[OnFile]:
    """What a party's name and address must be kept for: the last delivery from it, the last shipment to it, the
    last containers that it took over."""
    for kind, record in (("receipt", "purchase"), ("shipment", "shipment"), ("retirement", "disposal")):
        held = Voucher.objects.filter(kind=kind, detail__contains=f'"{party.code}"').order_by("-day")
        for day in held.values_list("day", flat=True)[:1]:
            yield OnFile(record, day)
