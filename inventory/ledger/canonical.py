"""The texts that digests stand for. Pure: no Django here.

All digests are SHA-256 in lower-case hexadecimal, of texts in UTF-8.

    link of a voucher   = SHA-256(canonical text)
    digest of a voucher = SHA-256(digest of the voucher before, line feed, link)
    digest of a record  = SHA-256(salt, line feed, body)

Before the first voucher stands the genesis: SHA-256("shopledger " and the ledger's id). A link discloses nothing of the
voucher, so a chain can be shown whole where only some of its vouchers are.

The canonical text is a JSON array without spaces, in this order:
[1, number, day, kind, recorded_at, recorded_by, done_by, document, reverses, key, detail,
 [[source account, target account, quantity, reversal 0 or 1], ...],
 [[kind, key, digest] of each record, ...]]
The leading 1 is the version of this form. A record is a document, canonical JSON as RFC 8785 has it (sorted keys, no
spaces; numbers are whole). Its salt is blank where it stays for good; else 32 random hexadecimal digits, so that the
body can be erased and nobody finds it again by trying.
"""

import hashlib
import json
from collections.abc import Iterable
from json.encoder import encode_basestring as quoted
from typing import NamedTuple

VERSION = 1
_JSON = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def canonical_json(value: object) -> str:
    """JSON with sorted keys and no spaces; refuses what JSON cannot hold exactly (NaN, infinity)."""
    return _JSON.encode(value)


def genesis(ledger_id: str) -> str:
    """What stands in the place of a digest before the first voucher of the ledger of this id."""
    return hashlib.sha256(f"shopledger {ledger_id}".encode()).hexdigest()


def movement_text(source_key: str, target_key: str, quantity: int, reversal: bool | int) -> str:
    return f"[{source_key},{target_key},{quantity},{1 if reversal else 0}]"


class Said(NamedTuple):
    """What a voucher says besides its movements. day: ISO date; recorded_at: UTC, YYYY-MM-DDTHH:MM:SS.ffffffZ; detail:
    canonical JSON."""

    number: int
    day: str
    kind: str
    recorded_at: str
    recorded_by: str
    done_by: str
    document: str
    reverses: int | None
    key: str
    detail: str


def record_text(kind: str, key: str, record_digest: str) -> str:
    return f"[{quoted(kind)},{quoted(key)},{quoted(record_digest)}]"


def voucher_text(said: Said, movements: Iterable[str], records: Iterable[str]) -> str:
    """The canonical text. movements, records: the text of each, in their order."""
    number, day, kind, recorded_at, recorded_by, done_by, document, reverses, key, detail = said
    return (
        f"[{VERSION},{number},{quoted(day)},{quoted(kind)},{quoted(recorded_at)},{quoted(recorded_by)},"
        f"{quoted(done_by)},{quoted(document)},{'null' if reverses is None else reverses},"
        f"{quoted(key)},{detail},[{','.join(movements)}],[{','.join(records)}]]"
    )


def link(text: str) -> str:
    """What stands for a voucher's text in its digest."""
    return hashlib.sha256(text.encode()).hexdigest()


def chained(previous: str, link: str) -> str:
    """The digest of a voucher. previous: that of the voucher before."""
    return hashlib.sha256(f"{previous}\n{link}".encode()).hexdigest()


def digest(previous: str, text: str) -> str:
    """The digest of the voucher that says this text."""
    return chained(previous, link(text))


def record_digest(salt: str, body: str) -> str:
    return hashlib.sha256(f"{salt}\n{body}".encode()).hexdigest()
