"""The verbs of the ledger: post, state, and what reverses (`seals.py`: seal). Each runs inside `writing()`, one
transaction.

What an action states of things beside the ledger goes under the voucher that it posts, or, where it posts none, under
an entry of its own: so whoever changes evidence holds the head first, as whoever posts.

One writer at a time holds the chain's head: an IMMEDIATE transaction on SQLite, a row lock on PostgreSQL.
The hot path is SQL through Django's cursor (measured: about 1.3 times the bare driver; the ORM 2.6 times).
"""

import datetime as dt
import functools
import logging
import uuid
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import NamedTuple, ParamSpec, TypeVar

from django.db import connection, transaction
from django.utils import timezone

from inventory.ledger import canonical, clocks
from inventory.ledger.accounts import HOLDING, Spot, Transfer
from inventory.ledger.begun import LAST_RESTORE, OtherLedger, refuse_other
from inventory.ledger.draft import Draft
from inventory.ledger.models import ChainHead, Voucher
from inventory.ledger.open_accounts import OpenAccounts, as_day
from inventory.ledger.queries import transfers_of
from inventory.ledger.statements import Statements, refuse_halves
from inventory.measures.days import said_day
from inventory.shop import once
from inventory.shop.clock import today
from inventory.shop.models import DEFAULT_RULEBOOK
from inventory.shop.who import who
from inventory.text.clean import clean
from inventory.text.refusal import Refused

logger = logging.getLogger("shopledger.ledger")
P, R = ParamSpec("P"), TypeVar("R")


def _fitting(draft: Draft, name: str) -> str:
    """A text of the draft, no longer than its column: PostgreSQL would end a longer one with an error, SQLite not."""
    return clean(getattr(draft, name), name, Voucher._meta.get_field(name).max_length)


def _detail(draft: Draft) -> str:
    text = canonical.canonical_json(dict(draft.detail))
    refuse_halves(text)
    return text


# The id of the ledger that is meant, where a program serves several; a single shop means the one that it has.
meant: ContextVar[str | None] = ContextVar("ledger_meant", default=None)


class Opened(NamedTuple):
    """The voucher that was posted last, as long as it may still take records. movements: the text of each."""

    row: canonical.Said
    note: str
    movements: tuple[str, ...]
    first_revision: int | None


class Writer:
    """Holds the head. Collects vouchers and writes them in batches; `writing()` makes and ends one.

    digest: of the last voucher that is closed; `close` closes the one that was posted last."""

    BATCH = 1000

    def __init__(self) -> None:
        head = ChainHead.objects.select_for_update().get(id=1)
        if meant.get() not in (None, head.ledger_id):
            raise OtherLedger(f"This is the ledger {head.ledger_id}, and {meant.get()} was meant; nothing was written.")
        self.number, self.digest, self.recorded_at = head.number, head.digest, head.recorded_at
        self.accounts = OpenAccounts()
        self._vouchers: list[tuple] = []
        self._movements: list[tuple] = []
        self._records: list[tuple] = []
        self._keys: dict[str, int] = {}
        self._start = self.number
        self._open: Opened | None = None
        self.statements = Statements(head.rulebook)
        self.ledger_id = head.ledger_id
        self.by = ""
        asked = timezone.now()
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT (SELECT MAX(through) FROM inventory_seal), (SELECT MAX(day) FROM inventory_movement), "
                f"(SELECT rulebook FROM inventory_shop WHERE id = 1), ({LAST_RESTORE})"
                + clocks.DATABASE_TIME.get(connection.vendor, "")
            )
            sealed, last, rulebook, restored, *database = cursor.fetchone()
        refuse_other(restored)
        self.sealed_through, self._last_day = as_day(sealed), as_day(last)
        self._rulebook = rulebook or DEFAULT_RULEBOOK
        clocks.watch(self.statements, self.recorded_at, asked, *(database or [None]))

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
                f"All days up to {said_day(self.sealed_through)} are sealed; date it "
                f"{said_day(self.sealed_through + dt.timedelta(1))} or later.",
                "day",
            )
        movements = self._move(draft, checked)
        self.close()
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
            draft.reverses,
            key,
            _detail(draft),
        )
        note = _fitting(draft, "note")
        if number == 1:
            self.state("ledger", self.ledger_id, {"id": self.ledger_id}, new=True)
        self.statements.state_rulebook(self._rulebook)
        if note:
            self.statements.state_words(f"entry:{number}", {"note": note})
        self._open = Opened(row, note, tuple(text for text, _ in movements), draft.first_revision)
        self._movements += ((number, line, *values) for line, (_, values) in enumerate(movements))
        self.number, self.recorded_at = number, recorded_at
        self.by = draft.recorded_by
        self._keys[key] = number
        if draft.transfers:
            self._last_day = max(draft.day, self._last_day or draft.day)
        if len(self._vouchers) >= self.BATCH:
            self.flush()
        return number

    def close(self) -> None:
        """Make the digest of the voucher that was posted last: what is stated from here on goes under another one."""
        if self._open is None:
            return
        row, note, movements, first_revision = self._open
        told, self._open = self.statements.take(), None
        records = [canonical.record_text(one.kind, one.key, one.digest) for one in told]
        self.digest = canonical.digest(self.digest, canonical.voucher_text(row, movements, records))
        self._vouchers.append((*row, note, first_revision, self.digest))
        self._records += ((row.number, line, *one) for line, one in enumerate(told))

    def state(self, *said: object, **more: object) -> None:
        """A document beside the ledger, as `Statements.state` has it."""
        self.statements.state(*said, **more)

    def end(self) -> None:
        """Write what was collected; what was stated without a voucher gets an entry of its own."""
        if self.statements and self._open is None:
            day = today()
            if self.sealed_through and day <= self.sealed_through:
                day = self.sealed_through + dt.timedelta(1)
            self.post(Draft(kind="record", day=day, recorded_by=who(), document=self.statements.named()))
        self.flush()

    # -- reading ---------------------------------------------------------------------------------

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

    def of_form(self, key: str) -> int | None:
        """The number of the voucher that was posted here under this id."""
        return self._keys.get(key)

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
            raise Refused(
                f"Voucher {number} is dated {said_day(voucher.day)}; date its reversal that day or later.", "day"
            )
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
            changes = {s: c for s, c in touched.items() if c < 0 and s.cls in HOLDING}
            self.accounts.check_now(changes)
            if self._has_later(draft.day):
                self.flush()
                self.accounts.check_later(changes, draft.day)
        return moves

    # -- writing ---------------------------------------------------------------------------------

    def flush(self) -> None:
        """Write what was collected: vouchers, movements, records, balances, head."""
        self.close()
        changed = self.accounts.changed()
        with connection.cursor() as cursor:
            if self._vouchers:
                cursor.executemany(
                    "INSERT INTO inventory_voucher (number, day, kind, recorded_at, recorded_by, done_by, document, "
                    "reverses_id, key, detail, note, first_revision_id, digest) "
                    "VALUES (%s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s)",
                    self._vouchers,
                )
            if self._movements:
                cursor.executemany(
                    "INSERT INTO inventory_movement (voucher_id, line, day, substance_id, source_id, target_id, "
                    "source_class, target_class, quantity, reversal) VALUES (%s, %s, %s, %s, %s, %s, %s, %s, %s, %s)",
                    self._movements,
                )
            if self._records:
                cursor.executemany(
                    "INSERT INTO inventory_record (voucher_id, line, kind, key, salt, body, digest) "
                    "VALUES (%s, %s, %s, %s, %s, %s, %s)",
                    self._records,
                )
            if changed:
                cursor.executemany(
                    "UPDATE inventory_account SET balance = balance + %s WHERE id = %s",
                    [(known.delta, known.id) for known in changed],
                )
            if self._vouchers:
                cursor.execute(
                    "UPDATE inventory_chainhead SET number = %s, digest = %s, recorded_at = %s, rulebook = %s "
                    "WHERE id = 1",
                    [self.number, self.digest, self.recorded_at, self.statements.rulebook],
                )
        for known in changed:
            known.balance, known.delta = known.balance + known.delta, 0
        self._vouchers.clear()
        self._movements.clear()
        self._records.clear()
        self.statements.written()


_at_hand: ContextVar[Writer | None] = ContextVar("writer_at_hand", default=None)


def at_hand() -> Writer | None:
    """The writer of the action that runs, where one does."""
    return _at_hand.get()


@contextmanager
def writing() -> Iterator[Writer]:
    """The only way to write to the ledger, and to what is kept under it: one transaction that holds the chain's head
    from its first statement. What is read inside it cannot change before it ends. An action inside another one writes
    with that one's writer. Raises AlreadyRecorded where the form at hand was recorded with other content; where it was
    with the same, the action answers by its key what it did then."""
    writer = _at_hand.get()
    if writer is not None:
        yield writer
        return
    with transaction.atomic():
        writer = Writer()
        first, known = writer.number + 1, once.recorded()
        with _in_hand(writer):
            yield writer
            writer.end()
        if writer.number >= first and known is None:
            once.keep(voucher=writer.of_form(str(once.form_at_hand())) or first)
        last, by = writer.number, writer.by
        if last >= first:
            which = f"voucher {last}" if first == last else f"vouchers {first} to {last}"
            transaction.on_commit(lambda: logger.info("%s posted by %s", which, by), robust=True)


@contextmanager
def _in_hand(writer: Writer | None) -> Iterator[None]:
    token = _at_hand.set(writer)
    try:
        yield
    finally:
        _at_hand.reset(token)


@contextmanager
def rehearsing() -> Iterator[None]:
    """Inside this an action shows what it would post: all of it is taken back at the end."""
    writer = _at_hand.get()
    if writer is not None:
        writer.flush()
    with transaction.atomic():
        with _in_hand(None):
            yield
        transaction.set_rollback(True)


def stated(act: Callable[P, R]) -> Callable[P, R]:
    """An action that changes evidence: it holds the head from its first statement, and leaves all or nothing."""

    @functools.wraps(act)
    def whole(*args: P.args, **kwargs: P.kwargs) -> R:
        with writing():
            return act(*args, **kwargs)

    return whole


def take_turn() -> None:
    """Inside a transaction: wait for the writer's turn, as a posting does. What is read from here on cannot change
    before the transaction ends: for what two would do alike, as counting on from the last row."""
    ChainHead.objects.select_for_update().get(id=1)


def post(draft: Draft) -> int:
    """Post one voucher in a transaction of its own; returns its number."""
    with writing() as ledger:
        return ledger.post(draft)
