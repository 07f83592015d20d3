"""The movements of vouchers as rows of plain values, for files. Accounts are called as the chain's text calls them, so
a party by its code: what was written once says the same whatever its name becomes."""

from collections.abc import Iterator
from decimal import Decimal

from django.db.models import QuerySet

from inventory.ledger.accounts import AccountClass
from inventory.ledger.models import Movement, Voucher

HEADER = (
    "Voucher",
    "Day",
    "Kind",
    "Document",
    "Done by",
    "Recorded by",
    "Recorded at",
    "Line",
    "Substance",
    "From, kind",
    "From",
    "From, location",
    "From, grade",
    "To, kind",
    "To",
    "To, location",
    "To, grade",
    "Quantity",
    "Unit",
    "Reversal",
)
READ = (
    "voucher_id",
    "day",
    "voucher__kind",
    "voucher__document",
    "voucher__done_by",
    "voucher__recorded_by",
    "voucher__recorded_at",
    "line",
    "substance__code",
    "source_class",
    "source__name",
    "source__location",
    "source__grade",
    "target_class",
    "target__name",
    "target__location",
    "target__grade",
    "quantity",
    "substance__is_oil",
    "reversal",
)
WORDS = {cls.value: cls.word for cls in AccountClass}
CHUNK = 2000


def movement_rows(vouchers: QuerySet[Voucher]) -> Iterator[tuple]:
    """HEADER, then each movement in the order of recording; read as they are taken, so that memory stays flat.
    Quantities are decimals in g or mL."""
    yield HEADER
    movements = Movement.objects.order_by("voucher_id", "line")  # as their index has them: nothing is sorted
    if vouchers.query.where:  # all of them need no list of their numbers
        movements = movements.filter(voucher__in=vouchers.order_by().values("number"))
    for row in movements.values_list(*READ).iterator(CHUNK):
        *said, quantity, is_oil, reversal = row
        said[9], said[13] = WORDS[said[9]], WORDS[said[13]]
        yield (*said, Decimal(quantity).scaleb(-3), "mL" if is_oil else "g", "yes" if reversal else "")
