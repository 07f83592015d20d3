"""Rows of evidence for tests, stated as the program's own actions state them."""

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection
from django.db.models import Model, QuerySet

from inventory.ledger import triggers
from inventory.ledger.actions import writing
from inventory.ledger.models import Voucher


def made(model: type[Model], /, **fields: object) -> Model:
    """A new row, in an entry of its own."""
    with writing():
        return model._base_manager.create(**fields)


def saved(row: Model, /, **fields: object) -> Model:
    """A row with some columns changed, in an entry of its own."""
    with writing():
        for name, value in fields.items():
            setattr(row, name, value)
        row.save()
    return row


def posted() -> QuerySet[Voucher]:
    """The vouchers that say more than what was stated beside the ledger, in their order."""
    return Voucher.objects.exclude(kind="record").order_by("number")


@contextmanager
def unguarded() -> Iterator[None]:
    """The database without its triggers: for what somebody does behind the program's back."""
    triggers.drop(connection)
    try:
        yield
    finally:
        triggers.install(connection)
