"""Whether the ledger that is written to is the one that was read: a backup may take its place in between, and the rows
that a form was judged by are then other rows."""

from contextvars import ContextVar

from django.db import connection

# The digest of the last restoring's entry, blank where there is none; None: nothing was read that matters.
LAST_RESTORE = "SELECT digest FROM inventory_voucher WHERE kind = 'restore' ORDER BY number DESC LIMIT 1"
_begun: ContextVar[str | None] = ContextVar("ledger_begun", default=None)


class OtherLedger(RuntimeError):
    """The ledger is another one than was meant: a connection that leads elsewhere, or a backup that was restored
    meanwhile. It is no refusal of what somebody entered, so no form shows it as one."""


def begin(known: bool) -> None:
    """From here on what is written belongs to the ledger that stands now. known False: to any."""
    _begun.set(_last_restore() if known else None)


def refuse_other(restored: str | None) -> None:
    """restored: the digest of the last restoring's entry now. Raises OtherLedger."""
    if _begun.get() not in (None, restored or ""):
        raise OtherLedger("A backup took this ledger's place since the form was read; nothing was written.")


def _last_restore() -> str:
    with connection.cursor() as cursor:
        cursor.execute(LAST_RESTORE)
        row = cursor.fetchone()
    return row[0] if row else ""
