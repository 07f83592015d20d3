"""The text that a voucher's digest stands for. Pure: no Django here.

digest = SHA-256, in lower-case hexadecimal, of: the previous voucher's digest, a line feed, and the
canonical text, in UTF-8. Before the first voucher stands a digest of 64 zeros. So anyone can
recompute the chain:  printf '%s\\n%s' "$previous" "$text" | sha256sum

The canonical text is a JSON array without spaces, in this order:
[1, number, day, kind, recorded_at, recorded_by, done_by, document, note, reverses, key, detail,
 [[source account, target account, quantity, reversal 0 or 1], ...]]
The leading 1 is the version of this form. A version is never changed; a new one is added.
"""

import hashlib
import json
from collections.abc import Iterable
from json.encoder import encode_basestring as quoted
from typing import NamedTuple

VERSION = 1
GENESIS = "0" * 64
_JSON = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def canonical_json(value: object) -> str:
    """JSON with sorted keys and no spaces; refuses what JSON cannot hold exactly (NaN, infinity)."""
    return _JSON.encode(value)


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
    note: str
    reverses: int | None
    key: str
    detail: str


def voucher_text(said: Said, movements: Iterable[str]) -> str:
    """The canonical text. movements: the text of each, in their order."""
    number, day, kind, recorded_at, recorded_by, done_by, document, note, reverses, key, detail = said
    return (
        f"[{VERSION},{number},{quoted(day)},{quoted(kind)},{quoted(recorded_at)},{quoted(recorded_by)},"
        f"{quoted(done_by)},{quoted(document)},{quoted(note)},{'null' if reverses is None else reverses},"
        f"{quoted(key)},{detail},[{','.join(movements)}]]"
    )


def digest(previous: str, text: str) -> str:
    return hashlib.sha256(f"{previous}\n{text}".encode()).hexdigest()
