"""What the ledger knows that a sheet may name."""

from collections import Counter

from inventory.containers.models import Container, Location
from inventory.measures.money import decimals_of
from inventory.parties.models import Party
from inventory.reference.kinds import KINDS
from inventory.shop.clock import today
from inventory.shop.models import Shop
from jobs.drafts.models import Job
from jobs.people.models import STAFF, Person
from jobs.units.models import Customer
from shopledger.logbook.models import LoadedLog
from shopledger.sheet_meaning.known import Held, Known
from shopledger.sheet_meaning.tables import table_under
from shopledger.sheet_pages.models import LoadedSheet, SheetMapping
from shopledger.sheets.grid import Book


def known_now(kind: str) -> Known:
    """kind: of sheet; of rows that were loaded before only its own matter."""
    seen: Counter = Counter()
    for rows in LoadedSheet.objects.filter(kind=kind).values_list("rows", flat=True):
        seen.update(rows)
    staff = Person.objects.filter(role__in=[role.value for role in STAFF]).order_by("username")
    return Known(
        today(),
        _containers(),
        dict(staff.values_list("username", "name")),
        {
            "supplier": tuple(Party.objects.filter(role="supplier").values_list("name", flat=True)),
            "customer": tuple(Customer.objects.order_by("name").values_list("name", flat=True)),
            "location": tuple(Location.objects.values_list("name", flat=True)),
        },
        frozenset(Job.objects.values_list("number", flat=True)),
        seen,
        frozenset(LoadedLog.objects.values_list("digest", flat=True)),
        decimals_of(Shop.current().currency),
    )


def _containers() -> dict[str, Held]:
    rows = Container.objects.filter(retired_on=None, void=False).order_by("code")
    return {
        code: Held(substance or "", kind, KINDS[kind].is_oil, KINDS[kind].recovers, tare)
        for code, kind, substance, tare in rows.values_list("code", "kind", "substance__code", "tare_mg")
    }


def mapping_like(kind: str, book: Book) -> SheetMapping | None:
    """The mapping that was made of a sheet with the very same heads, the latest."""
    for mapping in SheetMapping.objects.filter(kind=kind).order_by("-changed_at"):
        if any(table_under(sheet, set(mapping.heads)) for sheet in book.sheets):
            return mapping
    return None
