"""The verbs of the ledger: post, and what reverses (`seals.py`: seal). Each runs inside `writing()`, one transaction.

One writer at a time holds the chain's head: an IMMEDIATE transaction on SQLite, a row lock on PostgreSQL.
The hot path is SQL through Django's cursor (measured: about 1.3 times the bare driver; the ORM 2.6 times).
"""

import datetime as dt
import logging
import uuid
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field

from django.db import connection, transaction
from django.utils import timezone

from inventory.ledger import canonical
from inventory.ledger.accounts import AccountClass, Spot, Transfer
from inventory.ledger.models import ChainHead, Movement, Voucher
from inventory.ledger.open_accounts import OpenAccounts, as_day
from inventory.text.clean import HALF, clean
from inventory.text.refusal import Refused

logger = logging.getLogger("shopledger.ledger")


@dataclass(frozen=True)
class Draft:
    """All that a voucher will say. transfers may be empty (an empty container that moves)."""

    kind: str
    day: dt.date
    recorded_by: str
    transfers: tuple[Transfer, ...] = ()
    done_by: str = ""
    document: str = ""
    note: str = ""
    detail: Mapping[str, object] = field(default_factory=dict)
    reverses: int | None = None
    first_revision: int | None = None
    key: str = ""


def _fitting(draft: Draft, name: str) -> str:
    """A text of the draft, no longer than its column: PostgreSQL would end a longer one with an error, SQLite not."""
    return clean(getattr(draft, name), name, Voucher._meta.get_field(name).max_length)


def _detail(draft: Draft) -> str:
    text = canonical.canonical_json(dict(draft.detail))
    half = HALF.search(text)
    if half:
        raise Refused(f"This holds half a character, U+{ord(half[0]):04X}, which cannot be kept; type it anew.")
    return text


class Writer:
    """Holds the head. Collects vouchers and writes them in batches; `writing()` makes and ends one."""

    BATCH = 1000

    def __init__(self) -> None:
        head = ChainHead.objects.select_for_update().get(id=1)
        self.number, self.digest, self.recorded_at = head.number, head.digest, head.recorded_at
        self.accounts = OpenAccounts()
        self._vouchers: list[tuple] = []
        self._movements: list[tuple] = []
        self._keys: dict[str, int] = {}
        self._start = self.number
        self.by = ""
        with connection.cursor() as cursor:
            cursor.execute("SELECT (SELECT MAX(through) FROM inventory_seal), (SELECT MAX(day) FROM inventory_voucher)")
            self.sealed_through, self._last_day = map(as_day, cursor.fetchone())

    # -- posting ---------------------------------------------------------------------------------

    def post(self, draft: Draft, *, checked: bool = True) -> int:
        """Append one voucher; returns its number. A key that was posted before returns that voucher's
        number and posts nothing. Raises Refused; the caller's transaction must then be rolled back.
        checked False: the caller sees to it that nothing stands below zero once all that belongs together is posted."""
        posted = self.posted(draft.key) if draft.key else None
        if posted is not None:
            return posted
        key = draft.key or str(uuid.uuid4())
        if self.sealed_through and draft.day <= self.sealed_through:
            raise Refused(
                f"All days up to {self.sealed_through} are sealed; date it {self.sealed_through + dt.timedelta(1)} "
                "or later.",
                "day",
            )
        movements = self._move(draft, checked)
        number = self.number + 1
        recorded_at = self.moment()
        row = canonical.Said(
            number,
            draft.day.isoformat(),
            draft.kind,
            recorded_at,
            _fitting(draft, "recorded_by"),
            _fitting(draft, "done_by"),
            _fitting(draft, "document"),
            _fitting(draft, "note"),
            draft.reverses,
            key,
            _detail(draft),
        )
        digest = canonical.digest(self.digest, canonical.voucher_text(row, (text for text, _ in movements)))
        self._vouchers.append((*row, draft.first_revision, digest))
        self._movements += ((number, line, *values) for line, (_, values) in enumerate(movements))
        self.number, self.digest, self.recorded_at = number, digest, recorded_at
        self.by = draft.recorded_by
        self._keys[key] = number
        self._last_day = max(draft.day, self._last_day or draft.day)
        if len(self._vouchers) >= self.BATCH:
            self.flush()
        return number

    def moment(self) -> str:
        """This moment, UTC, as vouchers have it; never before that of the last voucher."""
        return max(timezone.now().strftime("%Y-%m-%dT%H:%M:%S.%fZ"), self.recorded_at)

    def posted(self, key: str) -> int | None:
        """The number of the voucher that carries this form's id, where there is one."""
        if key in self._keys:
            return self._keys[key]
        with connection.cursor() as cursor:
            cursor.execute("SELECT number FROM inventory_voucher WHERE key = %s", [key])
            row = cursor.fetchone()
        return row[0] if row else None

    def reversal_of(self, number: int, *, day: dt.date, recorded_by: str, note: str, key: str = "") -> Draft:
        """What takes a voucher back: every movement the other way. Raises Refused where it cannot be taken back."""
        self.flush()
        voucher = Voucher.objects.filter(number=number).first()
        if voucher is None:
            raise Refused(f"There is no voucher {number}; look the number up in the list of vouchers.")
        if voucher.reverses_id:
            raise Refused(f"Voucher {number} is itself a reversal and stays; record what is right as a new voucher.")
        taken_back = Voucher.objects.filter(reverses=number).values_list("number", flat=True).first()
        if taken_back:
            raise Refused(f"Voucher {number} was reversed before, by voucher {taken_back}; nothing is left to reverse.")
        if day < voucher.day:
            raise Refused(f"Voucher {number} is dated {voucher.day}; date its reversal that day or later.", "day")
        return Draft(
            kind="reversal",
            day=day,
            recorded_by=recorded_by,
            done_by=voucher.done_by,
            note=note,
            document=voucher.document,
            reverses=number,
            key=key,
            transfers=tuple(transfer.reversed() for transfer in transfers_of(number)),
        )

    # -- the pieces ------------------------------------------------------------------------------

    def falls_below(self, transfers: Iterable[Transfer], day: dt.date) -> bool:
        """Whether a container account would stand below zero on a later day, if these were dated on a day before it."""
        if not self._has_later(day):
            return False
        self.flush()
        return self.accounts.falls_below(transfers, day)

    def _has_later(self, day: dt.date) -> bool:
        return self._last_day is not None and day < self._last_day

    def _move(self, draft: Draft, checked: bool) -> list[tuple[str, tuple]]:
        """Canonical text and row values of each movement, balances moved on, nothing below zero."""
        day = draft.day.isoformat()
        known = self.accounts.known
        moves = []
        touched: dict[Spot, int] = {}
        self.accounts.load({spot for t in draft.transfers for spot in (t.source, t.target)})
        for transfer in draft.transfers:
            source, target = known[transfer.source], known[transfer.target]
            quantity = transfer.quantity
            if type(quantity) is not int or quantity <= 0:
                raise ValueError(f"a movement's quantity is a whole number above zero, not {quantity!r}")
            if source.substance_id != target.substance_id or source is target:
                raise ValueError(f"no movement goes from {transfer.source} to {transfer.target}")
            source.delta -= quantity
            target.delta += quantity
            touched[transfer.source] = touched.get(transfer.source, 0) - quantity
            touched[transfer.target] = touched.get(transfer.target, 0) + quantity
            moves.append(
                (
                    canonical.movement_text(transfer.source.key, transfer.target.key, quantity, transfer.reversal),
                    (
                        day,
                        source.substance_id,
                        source.id,
                        target.id,
                        int(transfer.source.cls),
                        int(transfer.target.cls),
                        quantity,
                        bool(transfer.reversal),
                    ),
                )
            )
        if checked:
            changes = {s: c for s, c in touched.items() if c < 0 and s.cls == AccountClass.CONTAINER}
            self.accounts.check_now(changes)
            if self._has_later(draft.day):
                self.flush()
                self.accounts.check_later(changes, draft.day)
        return moves

    # -- writing ---------------------------------------------------------------------------------

    def flush(self) -> None:
        """Write what was collected: vouchers, movements, balances, head."""
        changed = self.accounts.changed()
        with connection.cursor() as cursor:
            if self._vouchers:
                cursor.executemany(
                    "INSERT INTO inventory_voucher (number, day, kind, recorded_at, recorded_by, done_by, document, "
                    "note, reverses_id, key, detail, first_revision_id, digest) "
                    "VALUES (%s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s)",
                    self._vouchers,
                )
            if self._movements:
                cursor.executemany(
                    "INSERT INTO inventory_movement (voucher_id, line, day, substance_id, source_id, target_id, "
                    "source_class, target_class, quantity, reversal) VALUES (%s, %s, %s, %s, %s, %s, %s, %s, %s, %s)",
                    self._movements,
                )
            if changed:
                cursor.executemany(
                    "UPDATE inventory_account SET balance = balance + %s WHERE id = %s",
                    [(known.delta, known.id) for known in changed],
                )
            if self._vouchers:
                cursor.execute(
                    "UPDATE inventory_chainhead SET number = %s, digest = %s, recorded_at = %s WHERE id = 1",
                    [self.number, self.digest, self.recorded_at],
                )
        for known in changed:
            known.balance, known.delta = known.balance + known.delta, 0
        self._vouchers.clear()
        self._movements.clear()


@contextmanager
def writing() -> Iterator[Writer]:
    """The only way to write to the ledger: one transaction that holds the chain's head from its first
    statement. What is read inside it cannot change before it ends."""
    with transaction.atomic():
        writer = Writer()
        first = writer.number + 1
        yield writer
        writer.flush()
        last, by = writer.number, writer.by
        if last >= first:
            which = f"voucher {last}" if first == last else f"vouchers {first} to {last}"
            transaction.on_commit(lambda: logger.info("%s posted by %s", which, by), robust=True)


def take_turn() -> None:
    """Inside a transaction: wait for the writer's turn, as a posting does. What is read from here on cannot change
    before the transaction ends: for numbers that are counted on from the last row, which two would count alike."""
    ChainHead.objects.select_for_update().get(id=1)


def post(draft: Draft) -> int:
    """Post one voucher in a transaction of its own; returns its number."""
    with writing() as ledger:
        return ledger.post(draft)


def transfers_of(number: int) -> list[Transfer]:
    """A voucher's movements as transfers, in their order."""
    rows = Movement.objects.filter(voucher=number).order_by("line")
    rows = rows.select_related("source__substance", "target__substance")
    return [Transfer(row.source.spot, row.target.spot, row.quantity, row.reversal) for row in rows]
