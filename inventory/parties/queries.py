"""Parties by the codes that the ledger calls them by."""

from collections.abc import Iterable

from inventory.codes.queries import names_of
from inventory.codes.wording import with_code
from inventory.ledger.accounts import PARTIES
from inventory.ledger.models import Movement


def name_ends(movements: Iterable[Movement]) -> list[Movement]:
    """The movements, and at each of their accounts `called`, what a page shows: a party's present name with its code,
    otherwise the account's own name. One statement, whatever their number; source and target are to be loaded."""
    found = list(movements)
    ends = [end for one in found for end in (one.source, one.target)]
    names = names_of({end.name for end in ends if end.cls in PARTIES})
    for end in ends:
        end.called = with_code(end.name, names) if end.cls in PARTIES else end.name
    return found
