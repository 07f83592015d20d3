"""Proof of the ledger: everything that is kept twice is worked out again and compared.

Checked: the numbers run from 1 without a gap; each digest; each movement's repeated day and classes
against its voucher and accounts; no movement or account without what it belongs to; each account's key
against its columns; each balance, and each seal's balances and totals, against the movements; no
container account below zero at the end of any day; that nothing dated in a sealed period came after its
seal; the head; the triggers. Other rooms add checks of what they keep beside the ledger (`extra_checks`).
"""

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import groupby
from operator import itemgetter

from django.db import connection

from inventory.ledger import canonical, triggers
from inventory.ledger.accounts import AccountClass, Spot
from inventory.ledger.models import ChainHead, Seal
from inventory.ledger.queries import CONTAINER
from inventory.ledger.snapshot import one_moment, seldom_collected

PAGE = 5000
Span = tuple[int, int]  # account ids from one up to another
SPAN = 10_000


@dataclass
class Proof:
    """What was counted, and every fault found. voucher: the first voucher that is wrong, where one can be named."""

    vouchers: int = 0
    movements: int = 0
    accounts: int = 0
    seals: int = 0
    number: int = 0
    head: str = canonical.GENESIS
    faults: list[tuple[int | None, str]] = field(default_factory=list)

    def fault(self, message: str, voucher: int | None = None) -> None:
        self.faults.append((voucher, message))

    @property
    def holds(self) -> bool:
        return not self.faults

    @property
    def first_wrong(self) -> int | None:
        return min((number for number, _ in self.faults if number is not None), default=None)


extra_checks: list[Callable[[Proof], None]] = []
file_checks: list[Callable[[Proof], None]] = []  # of what lies on the disk beside the database


def verify(head: str | None = None, files: bool = True) -> Proof:
    """Prove the whole ledger as it stands now. head: a digest kept elsewhere, which the chain must hold.
    files: also what lies beside the database."""
    proof = Proof()
    with one_moment(), seldom_collected():
        keys = _accounts(proof)
        digests = _chain(proof, keys, _wanted(head))
        _orphans(proof)
        _balances(proof)
        _never_below_zero(proof)
        _seals(proof, digests)
        for check in extra_checks + (file_checks if files else []):
            check(proof)
    _triggers(proof)
    _holds_head(proof, head, digests)
    return proof


def verify_since_seal(head: str | None = None) -> Proof:
    """Prove what was posted since the last seal was made, starting from the balances and the digest that it keeps: for
    every day, where the complete proof is for every week. Without a seal, the complete proof."""
    if not Seal.objects.exists():
        return verify(head)
    proof = Proof()
    with one_moment():
        seal = Seal.objects.order_by("-through")[0]
        kept = _rows("SELECT digest FROM inventory_voucher WHERE number = %s", seal.number)
        if (kept[0][0] if kept else canonical.GENESIS) != seal.digest:
            proof.fault(
                f"The seal through {seal.through} holds another digest than voucher {seal.number}.", seal.number
            )
        digests = _chain(proof, _accounts(proof), _wanted(head), seal.number, seal.digest)
        digests |= {
            digest
            for digest in _wanted(head)
            if _rows("SELECT 1 FROM inventory_voucher WHERE digest = %s AND number <= %s", digest, seal.number)
        }
        _balances(proof, seal)
        _never_below_zero(proof, seal)
    _triggers(proof)
    _holds_head(proof, head, digests)
    return proof


def _triggers(proof: Proof) -> None:
    for name in triggers.missing(connection):
        proof.fault(f"The database has lost its trigger {name}.")


def _wanted(head: str | None) -> set[str]:
    """Digests that the chain must hold: the seals', and one kept elsewhere."""
    found = set(Seal.objects.values_list("digest", flat=True))
    return found | {head.strip().lower()} if head else found


def _holds_head(proof: Proof, head: str | None, digests: set[str]) -> None:
    if head and head.strip().lower() not in digests:
        proof.fault(
            f"The chain does not hold the digest {head}: vouchers were cut off its end or put in another's place "
            "since that digest was written down."
        )


def _rows(sql: str, *values: object) -> list[tuple]:
    with connection.cursor() as cursor:
        cursor.execute(sql, values)
        return cursor.fetchall()


def _accounts(proof: Proof) -> dict[int, tuple[str, int, int]]:
    """account id -> (key, class, substance id); faults where a key does not say what the columns say."""
    found = {}
    accounts = "inventory_account a LEFT JOIN inventory_substance s ON s.id = a.substance_id"
    columns = "a.id, a.key, a.cls, a.name, a.location, a.grade, s.code, a.substance_id"
    for row in _pages(accounts, "a.id", columns):
        account_id, key, cls, name, location, grade, code, substance_id = row
        found[account_id] = (key, cls, substance_id)
        known = cls in AccountClass._value2member_map_ and code is not None
        if not known or Spot(code, AccountClass(cls), name, location, grade).key != key:
            proof.fault(
                f"Account {account_id} says {key}, and its columns say something else.",
                _first_use(account_id),
            )
    proof.accounts = len(found)
    return found


def _first_use(account_id: int) -> int | None:
    return _rows(
        "SELECT MIN(voucher_id) FROM inventory_movement WHERE source_id = %s OR target_id = %s",
        account_id,
        account_id,
    )[0][0]


def _pages(table: str, key: str, columns: str, after: int = -1) -> Iterator[tuple]:
    """All rows in the order of `key`, those after a value of it, read in pages by key so that memory stays flat."""
    last: tuple = (after,)
    while True:
        page = _rows(f"SELECT {columns} FROM {table} WHERE {key} > %s ORDER BY {key} LIMIT {PAGE}", last[0])
        yield from page
        if len(page) < PAGE:
            return
        last = page[-1]


def _movement_pages(after: int) -> Iterator[tuple]:
    """Movements of the vouchers after a number, by voucher and line, read in whole vouchers."""
    top = _rows("SELECT COALESCE(MAX(voucher_id), 0) FROM inventory_movement")[0][0]
    first = _rows("SELECT COALESCE(MIN(voucher_id), 0) FROM inventory_movement WHERE voucher_id > %s", after)[0][0]
    for start in range(first, top + 1, PAGE):
        yield from _rows(
            "SELECT voucher_id, line, CAST(day AS TEXT), substance_id, source_id, target_id, source_class, "
            "target_class, quantity, reversal FROM inventory_movement WHERE voucher_id >= %s AND voucher_id < %s "
            "ORDER BY voucher_id, line",
            start,
            start + PAGE,
        )


def _chain(
    proof: Proof,
    accounts: dict[int, tuple[str, int, int]],
    wanted: set[str],
    after: int = 0,
    previous: str = canonical.GENESIS,
) -> set[str]:
    """Walk vouchers and movements side by side, from the one after a number and its digest; returns which of the
    wanted digests the chain holds."""
    grouped = groupby(_movement_pages(after), key=itemgetter(0))
    number_of_group, group = next(grouped, (None, ()))
    expected, digests = after + 1, {previous} & wanted
    columns = (
        "number, CAST(day AS TEXT), kind, recorded_at, recorded_by, done_by, document, note, reverses_id, key, detail, "
        "digest"
    )
    for row in _pages("inventory_voucher", "number", columns, after):
        number, day, *rest, digest = row
        if number != expected:
            proof.fault(f"Voucher {expected} is missing.", expected)
        while number_of_group is not None and number_of_group < number:
            number_of_group, group = next(grouped, (None, ()))  # orphans are named by _orphans
        texts: list[str] = []
        if number_of_group == number:
            texts = [_movement_text(proof, accounts, number, day, movement) for movement in group]
            proof.movements += len(texts)
            number_of_group, group = next(grouped, (None, ()))
        if canonical.digest(previous, canonical.voucher_text(canonical.Said(number, day, *rest), texts)) != digest:
            proof.fault(f"Voucher {number} does not say what its digest was made from.", number)
        previous, expected = digest, number + 1
        if digest in wanted:
            digests.add(digest)
        proof.vouchers += 1
    proof.number, proof.head = expected - 1, previous
    head = ChainHead.objects.filter(id=1).first()
    if head is None or (head.number, head.digest) != (proof.number, proof.head):
        kept = f"{head.number} with digest {head.digest}" if head else "nothing"
        proof.fault(
            f"The head kept beside the chain says {kept}, and the last voucher is {proof.number}.",
            proof.number + 1,
        )
    return digests


def _movement_text(proof: Proof, accounts: dict, number: int, day: str, movement: tuple) -> str:
    _, line, own_day, substance_id, source_id, target_id, source_class, target_class, quantity, reversal = movement
    source = accounts.get(source_id, ("null", 0, 0))
    target = accounts.get(target_id, ("null", 0, 0))
    if own_day != day:
        proof.fault(
            f"Movement {line} of voucher {number} repeats the day as {own_day}; the voucher says {day}.",
            number,
        )
    if (source_class, target_class) != (source[1], target[1]):
        proof.fault(f"Movement {line} of voucher {number} repeats the class of an account wrongly.", number)
    if not substance_id == source[2] == target[2]:
        proof.fault(f"Movement {line} of voucher {number} names another substance than its accounts.", number)
    if type(quantity) is not int or quantity <= 0:
        proof.fault(f"Movement {line} of voucher {number} has the quantity {quantity!r}.", number)
    return canonical.movement_text(source[0], target[0], quantity, reversal)


def _orphans(proof: Proof) -> None:
    for number, count in _rows(
        "SELECT m.voucher_id, COUNT(*) FROM inventory_movement m LEFT JOIN inventory_voucher v "
        "ON v.number = m.voucher_id WHERE v.number IS NULL GROUP BY m.voucher_id"
    ):
        proof.fault(f"{count} movements belong to voucher {number}, which is not there.", number)
    for (number,) in _rows(
        "SELECT DISTINCT m.voucher_id FROM inventory_movement m LEFT JOIN inventory_account a ON a.id = m.source_id "
        "LEFT JOIN inventory_account b ON b.id = m.target_id WHERE a.id IS NULL OR b.id IS NULL"
    ):
        proof.fault(f"A movement of voucher {number} names an account that is not there.", number)


def _changes(seal: Seal | None, span: Span | None) -> tuple[str, list]:
    """SQL of rows (account_id, day, change), and its values: of all movements of the accounts of a span, or of the
    movements after a seal."""
    parts = []
    for column, sign in (("target_id", ""), ("source_id", "-")):
        where = f"{column} >= %s AND {column} < %s" if span else "day > %s"
        moved = f"{column} AS account_id, day, {sign}quantity AS change"
        parts.append(f"SELECT {moved} FROM inventory_movement WHERE {where}")
    values = span or (seal.through.isoformat(),)
    return " UNION ALL ".join(parts), [*values, *values]


def _spans(seal: Seal | None = None) -> Iterator[Span | None]:
    """Accounts, so many ids at a time: what the database sorts then stays small, however long the ledger is. Since a
    seal all at once: the days say what is little."""
    if seal is not None:
        yield None
        return
    top = _rows("SELECT COALESCE(MAX(id), 0) FROM inventory_account")[0][0]
    yield from ((start, start + SPAN) for start in range(0, top + 1, SPAN))


# What the seal kept of each account; nothing where there is no seal.
KEPT = "LEFT JOIN inventory_sealbalance b ON b.account_id = a.id AND b.seal_id = %s"


def _balances(proof: Proof, seal: Seal | None = None) -> None:
    """The balance of each account beside its movements: all of them, or those since a seal on top of what it kept."""
    come_to = "the last seal and its movements come to" if seal else "its movements add up to"
    for span in _spans(seal):
        changes, values = _changes(seal, span)
        within = "a.id >= %s AND a.id < %s AND " if span else ""
        for key, balance, total in _rows(
            f"SELECT a.key, a.balance, COALESCE(b.balance, 0) + COALESCE(t.total, 0) FROM inventory_account a {KEPT} "
            f"LEFT JOIN (SELECT account_id, SUM(change) AS total FROM ({changes}) AS c GROUP BY account_id) AS t "
            f"ON t.account_id = a.id WHERE {within}a.balance <> COALESCE(b.balance, 0) + COALESCE(t.total, 0)",
            seal.id if seal else 0,
            *values,
            *(span or ()),
        ):
            # Which voucher is wrong, if one is, its digest says: a balance is a sum over many.
            proof.fault(f"Account {key} keeps the balance {balance}; {come_to} {total}.")


def _never_below_zero(proof: Proof, seal: Seal | None = None) -> None:
    """No container on the end of any day, or of any day after a seal."""
    for span in _spans(seal):
        changes, values = _changes(seal, span)
        for key, day, level, account_id in _rows(
            "SELECT a.key, l.day, COALESCE(b.balance, 0) + l.moved, a.id FROM (SELECT account_id, day, "
            "SUM(change) OVER (PARTITION BY account_id ORDER BY day) AS moved FROM "
            f"(SELECT account_id, day, SUM(change) AS change FROM ({changes}) AS c GROUP BY account_id, day) AS d) "
            f"AS l JOIN inventory_account a ON a.id = l.account_id {KEPT} "
            "WHERE a.cls = %s AND COALESCE(b.balance, 0) + l.moved < 0 ORDER BY l.day",
            *values,
            seal.id if seal else 0,
            CONTAINER,
        ):
            proof.fault(f"{key} stands at {level} at the end of {day}.", _voucher_on(account_id, day))


def _voucher_on(account_id: int, day: object) -> int | None:
    return _rows(
        "SELECT MAX(voucher_id) FROM inventory_movement WHERE source_id = %s AND day = %s",
        account_id,
        str(day),
    )[0][0]


def _seals(proof: Proof, digests: set[str]) -> None:
    after = dt.date.min
    for seal in Seal.objects.order_by("through"):
        proof.seals += 1
        if seal.digest not in digests:
            proof.fault(f"The seal through {seal.through} holds the digest {seal.digest}, which is not in the chain.")
        late = _rows(
            "SELECT MIN(number) FROM inventory_voucher WHERE day <= %s AND number > %s",
            seal.through.isoformat(),
            seal.number,
        )[0][0]
        if late:
            proof.fault(f"Voucher {late} is dated in the period sealed through {seal.through} and came after.", late)
        _seal_figures(proof, seal, after)
        after = seal.through


def _seal_figures(proof: Proof, seal: Seal, after: dt.date) -> None:
    for span in _spans():
        kept = set(
            _rows(
                "SELECT account_id, balance FROM inventory_sealbalance WHERE seal_id = %s AND account_id >= %s "
                "AND account_id < %s",
                seal.id,
                *span,
            )
        )
        changes, values = _changes(None, span)
        true = {
            (account_id, int(total))
            for account_id, total in _rows(
                f"SELECT account_id, SUM(change) FROM ({changes}) AS c WHERE day <= %s GROUP BY account_id "
                "HAVING SUM(change) <> 0",
                *values,
                seal.through.isoformat(),
            )
        }
        for account_id, _ in sorted(kept ^ true):
            proof.fault(
                f"The seal through {seal.through} keeps another balance for account {account_id} than its movements."
            )
    columns = "substance_id, source_class, target_class, reversal"
    kept_totals = {
        (*row[:3], bool(row[3]), row[4])
        for row in _rows(f"SELECT {columns}, quantity FROM inventory_sealtotal WHERE seal_id = %s", seal.id)
    }
    true_totals = {
        (*row[:3], bool(row[3]), int(row[4]))
        for row in _rows(
            f"SELECT {columns}, SUM(quantity) FROM inventory_movement WHERE day > %s AND day <= %s GROUP BY {columns}",
            after.isoformat(),
            seal.through.isoformat(),
        )
    }
    if kept_totals != true_totals:
        proof.fault(f"The totals of the seal through {seal.through} are not what its movements add up to.")
