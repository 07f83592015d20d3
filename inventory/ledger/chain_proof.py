"""Proof of the chain: each voucher with its movements and records says what its digest was made from."""

import json
from collections.abc import Iterator
from itertools import groupby
from operator import itemgetter

from inventory.ledger import canonical
from inventory.ledger.accounts import AccountClass, Spot
from inventory.ledger.models import ChainHead
from inventory.ledger.proof import PAGE, Proof, pages, rows, spans
from inventory.ledger.records import WORDS, others, record_kinds


def check_accounts(proof: Proof) -> dict[int, tuple[str, int, int]]:
    """account id -> (key, class, substance id); faults where a key does not say what the columns say."""
    found = {}
    accounts = "inventory_account a LEFT JOIN inventory_substance s ON s.id = a.substance_id"
    columns = "a.id, a.key, a.cls, a.name, a.location, a.grade, a.owner, s.code, a.substance_id"
    for row in pages(accounts, "a.id", columns):
        account_id, key, cls, name, location, grade, owner, code, substance_id = row
        found[account_id] = (key, cls, substance_id)
        known = cls in AccountClass._value2member_map_ and code is not None
        if not known or Spot(code, AccountClass(cls), name, location, grade, owner).key != key:
            proof.fault(
                f"Account {account_id} says {key}, and its columns say something else.",
                _first_use(account_id),
            )
    proof.accounts = len(found)
    return found


def _first_use(account_id: int) -> int | None:
    return rows(
        "SELECT MIN(voucher_id) FROM inventory_movement WHERE source_id = %s OR target_id = %s",
        account_id,
        account_id,
    )[0][0]


def _movement_pages(after: int) -> Iterator[tuple]:
    """Movements of the vouchers after a number, by voucher and line, read in whole vouchers."""
    for span in spans({"inventory_movement": "voucher_id"}, after, PAGE):
        yield from rows(
            "SELECT voucher_id, line, CAST(day AS TEXT), substance_id, source_id, target_id, source_class, "
            "target_class, quantity, reversal FROM inventory_movement WHERE voucher_id >= %s AND voucher_id < %s "
            "ORDER BY voucher_id, line",
            *span,
        )


class Beside:
    """Rows of a table that belong to vouchers, in step with a walk over those."""

    def __init__(self, found: Iterator[tuple]):
        self._grouped = groupby(found, key=itemgetter(0))
        self._next()

    def _next(self) -> None:
        self._number, self._group = next(self._grouped, (None, ()))

    def of(self, number: int) -> list[tuple]:
        """Those of a voucher; what belongs to vouchers that are not there is passed over (`_orphans` names it)."""
        while self._number is not None and self._number < number:
            self._next()
        if self._number != number:
            return []
        found = list(self._group)
        self._next()
        return found


def check_chain(
    proof: Proof, accounts: dict[int, tuple[str, int, int]], wanted: set[str], after: int, previous: str
) -> set[str]:
    """Walk vouchers, movements and records side by side, from the one after a number and its digest; returns which of
    the wanted digests the chain holds."""
    movements, records = Beside(_movement_pages(after)), Beside(_record_pages(after))
    expected, digests = after + 1, {previous} & wanted
    walk = Records(proof, after)
    columns = (
        "number, CAST(day AS TEXT), kind, recorded_at, recorded_by, done_by, document, reverses_id, key, detail, digest"
    )
    recorded_at = None
    for row in pages("inventory_voucher", "number", columns, after):
        number, day, *rest, digest = row
        if number != expected:
            proof.fault(f"Voucher {expected} is missing.", expected)
        moved = movements.of(number)
        if moved:
            moved = [_movement_text(proof, accounts, number, day, *one) for one in enumerate(moved)]
        stated = [walk.text(number, *one) for one in enumerate(records.of(number))]
        proof.movements += len(moved)
        proof.records += len(stated)
        said = canonical.Said(number, day, *rest)
        if canonical.digest(previous, canonical.voucher_text(said, moved, stated)) != digest:
            proof.fault(f"Voucher {number} does not say what its digest was made from.", number)
        previous, expected, recorded_at = digest, number + 1, said.recorded_at
        if digest in wanted:
            digests.add(digest)
        proof.vouchers += 1
    proof.number, proof.head = expected - 1, previous
    _check_head(proof, walk, recorded_at)
    return digests


def _check_head(proof: Proof, walk: "Records", recorded_at: str | None) -> None:
    """What is kept beside the chain: one row. recorded_at: of the last voucher, where one was walked over."""
    heads = list(ChainHead.objects.order_by("id"))
    head = heads[0] if heads and heads[0].pk == 1 else None
    if len(heads) > 1:
        proof.fault(f"Beside the head of the chain stand {len(heads) - 1} more.")
    if head is None or (head.number, head.digest) != (proof.number, proof.head):
        kept = f"{head.number} with digest {head.digest}" if head else "nothing"
        proof.fault(
            f"The head kept beside the chain says {kept}, and the last voucher is {proof.number}.",
            proof.number + 1,
        )
    if head is None or not proof.number:
        return
    if recorded_at not in (None, head.recorded_at):
        proof.fault(f"The head says that voucher {proof.number} was recorded at {head.recorded_at!r}.", proof.number)
    if walk.ledger not in (None, head.ledger_id):
        proof.fault(f"The head is that of ledger {head.ledger_id}; voucher 1 begins ledger {walk.ledger}.", 1)
    if head.rulebook != _last_rulebook():
        proof.fault("The head names another text of the rulebook than the one that was stated last.")


def _last_rulebook() -> str:
    """The digest of the rulebook that was stated last."""
    found = rows(
        "SELECT body FROM inventory_record WHERE kind = 'rulebook' ORDER BY voucher_id DESC, line DESC LIMIT 1"
    )
    try:
        return json.loads(found[0][0])["sha256"]
    except (ValueError, TypeError, LookupError):
        return ""


def _movement_text(proof: Proof, accounts: dict, number: int, day: str, at: int, movement: tuple) -> str:
    _, line, own_day, substance_id, source_id, target_id, source_class, target_class, quantity, reversal = movement
    source = accounts.get(source_id, ("null", 0, 0))
    target = accounts.get(target_id, ("null", 0, 0))
    if line != at:
        proof.fault(f"Movement {at} of voucher {number} is kept as line {line}.", number)
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


def _record_pages(after: int) -> Iterator[tuple]:
    """Records of the vouchers after a number, by voucher and line, read in whole vouchers."""
    for span in spans({"inventory_record": "voucher_id"}, after, PAGE):
        yield from rows(
            "SELECT voucher_id, line, id, kind, key, salt, body, digest FROM inventory_record "
            "WHERE voucher_id >= %s AND voucher_id < %s ORDER BY voucher_id, line",
            *span,
        )


class Records:
    """What a walk over the records, from the one after a number on, knows of those before. ledger: the id that the
    chain begins with; None: that was not walked over."""

    def __init__(self, proof: Proof, after: int):
        self.proof = proof
        self.ledger = None if after else ""
        self.known = {*(kind.name for kind in record_kinds.values()), *others}
        self._last = 0, 0  # its own number, and its voucher's

    def text(self, number: int, at: int, record: tuple) -> str:
        """What stands of a record in its voucher's text. at: its place there."""
        _, line, pk, kind, key, salt, body, digest = record
        if line != at or pk <= self._last[0]:
            self.proof.fault(
                f"The {kind} record {key} of voucher {number} is kept out of its place, behind one of voucher "
                f"{self._last[1]}.",
                number,
            )
        self._last = pk, number
        if (salt is None) != (body is None):
            self.proof.fault(f"The {kind} record {key} of voucher {number} is neither kept nor erased whole.", number)
        if body is not None and canonical.record_digest(salt or "", body) != digest:
            self.proof.fault(
                f"The {kind} record {key} of voucher {number} does not say what its digest was made from.", number
            )
        about = key.partition(":")[0] if kind == WORDS else kind
        if about not in self.known:
            self.proof.fault(
                f"Voucher {number} states {key} as {kind!r}, a kind of record that this program does not know.", number
            )
        if number == 1 and kind == "ledger":
            self.ledger = key
        return canonical.record_text(kind, key, digest)


def check_orphans(proof: Proof) -> None:
    for number, count in rows(
        "SELECT r.voucher_id, COUNT(*) FROM inventory_record r LEFT JOIN inventory_voucher v "
        "ON v.number = r.voucher_id WHERE v.number IS NULL GROUP BY r.voucher_id"
    ):
        proof.fault(f"{count} records belong to voucher {number}, which is not there.", number)
    for number, count in rows(
        "SELECT m.voucher_id, COUNT(*) FROM inventory_movement m LEFT JOIN inventory_voucher v "
        "ON v.number = m.voucher_id WHERE v.number IS NULL GROUP BY m.voucher_id"
    ):
        proof.fault(f"{count} movements belong to voucher {number}, which is not there.", number)
    for number, account_id in rows(
        "SELECT m.voucher_id, CASE WHEN a.id IS NULL THEN m.source_id ELSE m.target_id END FROM inventory_movement m "
        "LEFT JOIN inventory_account a ON a.id = m.source_id LEFT JOIN inventory_account b ON b.id = m.target_id "
        "WHERE a.id IS NULL OR b.id IS NULL ORDER BY m.voucher_id, m.line"
    ):
        proof.fault(f"A movement of voucher {number} names account {account_id}, which is not there.", number)
