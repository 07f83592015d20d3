"""Proof of the ledger: everything that is kept twice is worked out again and compared.

Checked: the numbers run from 1 without a gap; each digest; each movement's repeated day and classes against its
voucher and accounts; no movement or account without what it belongs to; each account's key against its columns; each
balance, and each seal's balances and totals, against the movements; no container account below zero at the end of any
day; that nothing dated in a sealed period came after its seal; the head; the triggers; every row that is kept as a
record against its latest one, both ways. Other rooms add checks of what they keep beside the ledger (`extra_checks`).
"""

from collections.abc import Callable

from django.db import connection

from inventory.ledger import canonical, triggers
from inventory.ledger.balance_proof import (
    check_balances,
    check_never_below_zero,
    check_seal_digests,
    check_seals,
)
from inventory.ledger.chain_proof import check_accounts, check_chain, check_orphans
from inventory.ledger.models import ChainHead, Seal, Voucher
from inventory.ledger.proof import Proof, rows
from inventory.ledger.queries import as_digest
from inventory.ledger.record_proof import check_kept, check_records
from inventory.ledger.records import record_kinds
from inventory.ledger.snapshot import one_moment, seldom_collected

Say = Callable[[str, int, int], None]


def silent(_what: str, _done: int, _of: int) -> None:
    """For whoever waits for no news."""


extra_checks: list[Callable[[Proof], None]] = []
file_checks: list[Callable[[Proof], None]] = []  # of what lies on the disk beside the database


def verify(head: str | None = None, files: bool = True, say: Say = silent) -> Proof:
    """Prove the whole ledger as it stands now. head: a digest kept elsewhere, which the chain must hold.
    files: also what lies beside the database. say: is told what is proved next, and how much of it all is done."""
    proof = Proof()
    beside = extra_checks + (file_checks if files else [])
    with one_moment(), seldom_collected():
        keys = check_accounts(proof)
        say("entries, movements and records", 0, 3 + len(beside))
        digests = check_chain(proof, keys, _wanted(head), 0, canonical.genesis(_ledger_id(proof)))
        say("balances and seals", 1, 3 + len(beside))
        check_orphans(proof)
        check_balances(proof)
        check_never_below_zero(proof)
        check_seals(proof, digests)
        say("what was stated of people, jobs and all else", 2, 3 + len(beside))
        check_records(proof)
        for done, check in enumerate(beside, 3):
            say(check.__name__.removeprefix("check_").replace("_", " "), done, 3 + len(beside))
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
        begins = canonical.genesis(_ledger_id(proof))
        kept = rows("SELECT digest FROM inventory_voucher WHERE number = %s", seal.number)
        if (kept[0][0] if kept else begins) != seal.digest:
            proof.fault(
                f"The seal through {seal.through} holds another digest than voucher {seal.number}.", seal.number
            )
        digests = check_chain(proof, check_accounts(proof), _wanted(head), seal.number, seal.digest)
        digests |= {
            digest
            for digest in _wanted(head)
            if rows("SELECT 1 FROM inventory_voucher WHERE digest = %s AND number <= %s", digest, seal.number)
        }
        check_seal_digests(proof, seal)
        check_kept(proof, record_kinds[Seal], Seal.objects.filter(pk=seal.pk))
        check_balances(proof, seal)
        check_never_below_zero(proof, seal)
    _triggers(proof)
    _holds_head(proof, head, digests)
    return proof


def _ledger_id(proof: Proof) -> str:
    """The id that the chain begins with, as the head says it."""
    found = ChainHead.objects.filter(id=1).values_list("ledger_id", flat=True).first()
    proof.ledger_id = found or ""
    return proof.ledger_id


def _triggers(proof: Proof) -> None:
    for name in triggers.missing(connection):
        proof.fault(f"The database has lost its trigger {name}.")


def _wanted(head: str | None) -> set[str]:
    """Digests that the chain must hold: the seals', and one kept elsewhere."""
    found = set(Seal.objects.values_list("digest", flat=True))
    return found | {as_digest(head)} if head else found


def _holds_head(proof: Proof, head: str | None, digests: set[str]) -> None:
    if not head or as_digest(head) in digests:
        return
    restored = Voucher.objects.filter(kind="restore", detail__contains=f'"{as_digest(head)}"').first()
    if restored is not None:
        proof.fault(
            f"The digest {head} is of an entry that was given up when a backup was restored, which entry "
            f"{restored.number} of {restored.day} says.",
            restored.number,
        )
    else:
        proof.fault(
            f"The chain does not hold the digest {head}: vouchers were cut off its end or put in another's place "
            "since that digest was written down."
        )
