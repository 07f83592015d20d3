"""What an action states of things beside the ledger, until a voucher takes it under its digest."""

import hashlib
import secrets
from collections.abc import Mapping
from typing import NamedTuple

from django.db import connection

from inventory.ledger.canonical import canonical_json, record_digest
from inventory.ledger.records import WORDS
from inventory.reference.rulebook import text_of
from inventory.text.clean import HALF
from inventory.text.refusal import Refused

NOTHING = "{}"  # words that say nothing any more
ERASED = b"erased"


class Told(NamedTuple):
    """A record as it will be written. salt: blank where it stays for good."""

    kind: str
    key: str
    salt: str
    body: str
    digest: str


class Statements:
    """Collects records for the next voucher. rulebook: the digest of the text that the last one was posted under."""

    def __init__(self, rulebook: str):
        self.rulebook = rulebook
        self._told: list[Told] = []
        self._latest: dict[tuple[str, str], bytes] = {}  # of what was told and is not written yet

    def __bool__(self) -> bool:
        return bool(self._told)

    def state(
        self, kind: str, key: str, body: object, words: Mapping[str, object] | None = None, *, new: bool = False
    ) -> None:
        """Have a document go under the voucher at hand. body: without anything personal; None where the thing is
        removed. words: what is personal or free text, which can be erased. new: nothing was stated of it before. What
        was stated last in the same words is not stated again."""
        self.state_text(kind, key, canonical_json(body), canonical_json(dict(words)) if words else "", new=new)

    def state_text(self, kind: str, key: str, body: str, words: str = "", *, new: bool = False) -> None:
        """As `state`, of canonical JSON."""
        worded = f"{kind}:{key}"
        if new or self._stated(kind, key) != _mark(body):
            self._tell(kind, key, "", body)
        known = None if new else self._stated(WORDS, worded)
        if words != NOTHING and known != _mark(words) and (words or known not in (None, ERASED)):
            self._tell(WORDS, worded, secrets.token_hex(16), words or NOTHING)

    def state_words(self, key: str, words: Mapping[str, object]) -> None:
        """Words of something that is no document besides, e.g. the note of a voucher."""
        self._tell(WORDS, key, secrets.token_hex(16), canonical_json(dict(words)))

    def state_rulebook(self, name: str) -> None:
        """What is posted under another text of the rulebook than before says under which."""
        digest, text = text_of(name)
        if self.rulebook != digest:
            self.rulebook = digest
            self.state("rulebook", name, {"sha256": digest, "text": text})

    def named(self) -> str:
        """What was told, for a list of entries, e.g. `unit U-000012 and 2 more`: by its codes."""
        told = [f"{one.kind} {one.key}"[:150] for one in self._told if one.kind != WORDS]
        told = told or [one.key.replace(":", " ", 1)[:150] for one in self._told[:1]]
        return told[0] + (f" and {len(told) - 1} more" if len(told) > 1 else "")

    def take(self) -> list[Told]:
        """What was told so far, for the voucher that is closed now."""
        told, self._told = self._told, []
        return told

    def written(self) -> None:
        """What was taken stands in the database now."""
        self._latest = {(one.kind, one.key): _mark(one.body) for one in self._told}

    def _tell(self, kind: str, key: str, salt: str, body: str) -> None:
        refuse_halves(body)
        self._told.append(Told(kind, key, salt, body, record_digest(salt, body)))
        self._latest[kind, key] = _mark("" if body == NOTHING else body)

    def _stated(self, kind: str, key: str) -> bytes | None:
        """A mark of what was stated last; None where nothing was."""
        if (kind, key) in self._latest:
            return self._latest[kind, key]
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT body FROM inventory_record WHERE kind = %s AND key = %s "
                "ORDER BY voucher_id DESC, line DESC LIMIT 1",
                [kind, key],
            )
            row = cursor.fetchone()
        if row is None:
            return None
        return ERASED if row[0] is None else _mark("" if row[0] == NOTHING and kind == WORDS else row[0])


def _mark(body: str) -> bytes:
    """What tells one text from another, kept instead of it: the loading of a log states many."""
    return hashlib.sha256(body.encode()).digest() if body else b""


def refuse_halves(text: str) -> None:
    """Raises Refused for half of a surrogate pair, which UTF-8 does not hold."""
    half = HALF.search(text)
    if half:
        raise Refused(f"This holds half a character, U+{ord(half[0]):04X}, which cannot be kept; type it anew.")
