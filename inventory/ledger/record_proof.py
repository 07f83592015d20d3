"""Proof of what is kept as records: each row is what was stated of it last, and nothing that was stated is gone."""

import json
from collections.abc import Iterator, Sequence
from itertools import islice
from typing import NamedTuple

from django.db.models import Model, QuerySet

from inventory.ledger.canonical import canonical_json
from inventory.ledger.proof import Proof, rows
from inventory.ledger.records import PAGE, WORDS, Document, RecordKind, record_kinds
from inventory.ledger.statements import NOTHING

ERASED = "erased"  # the kind of the records that name what was erased
REMOVED = "null"


class Latest(NamedTuple):
    """The last record of a key. body: None where it was erased."""

    voucher: int
    body: str | None


def check_records(proof: Proof) -> None:
    """Every kind that is kept, the notes of vouchers, and what was erased."""
    for kind in record_kinds.values():
        _check_kind(proof, kind)
    _check_notes(proof)
    _check_erased(proof)


def _check_kind(proof: Proof, kind: RecordKind) -> None:
    count, worded = check_kept(proof, kind)
    if count != _live(kind.name, "", REMOVED) or worded != _live(WORDS, f"{kind.name}:", NOTHING):
        _name_missing(proof, kind)


def check_kept(proof: Proof, kind: RecordKind, found: QuerySet | None = None) -> tuple[int, int]:
    """Rows of a table, all where none are named, beside their latest records; returns how many are stated, and how many
    of those have words."""
    count = worded = 0
    for page in _batches(kind.documents(found)):
        stated = _latest(kind.name, [one.key for one in page])
        words = _latest(WORDS, [f"{kind.name}:{one.key}" for one in page]) if kind.worded else {}
        for one in page:
            said = stated.get(one.key)
            count += said is not None and said.body not in (None, REMOVED)
            worded += _check_row(proof, kind, one, said, words.get(f"{kind.name}:{one.key}"))
    return count, worded


def _check_row(proof: Proof, kind: RecordKind, row: Document, stated: Latest | None, words: Latest | None) -> bool:
    """Whether the row has words that are stated and were not erased."""
    what = _called(kind, row.key)
    if stated is None or stated.body in (None, REMOVED):
        proof.fault(f"{what} stands in no record: it was added around the ledger.", stated and stated.voucher)
        return False
    if stated.body != row.body:
        differing = list(_differing(kind, row.body, stated.body))
        for field, now, then in differing:
            proof.fault(f"{what}: {field} is now {now}; voucher {stated.voucher} stated {then}.", stated.voucher)
        if not differing:
            proof.fault(f"{what} stands in voucher {stated.voucher} in another form than is right.", stated.voucher)
    if words is not None and words.body is None:
        if row.words != kind.words_erased(row.key):
            proof.fault(f"{what} holds words again that were erased.", words.voucher)
        return False
    if row.words != _said(words):
        names = ", ".join(field for field, *_ in _differing(kind, row.words or NOTHING, _said(words) or NOTHING))
        if words is None:
            proof.fault(f"{what}: {names} stands in no record.")
        else:
            proof.fault(f"{what}: {names or 'words'} is not what voucher {words.voucher} stated.", words.voucher)
    return bool(_said(words))


def _called(kind: RecordKind, key: str) -> str:
    """A thing at the beginning of a sentence."""
    return f"{kind.title[0].upper()}{kind.title[1:]} {key}"


def _said(words: Latest | None) -> str:
    return words.body if words is not None and words.body not in (None, NOTHING) else ""


def _differing(kind: RecordKind, now: str, then: str) -> Iterator[tuple[str, str, str]]:
    """(field in words, as it is, as it was stated) of each that differs; of the rows that belong to a thing one by
    one."""
    is_now, was = _read(now), _read(then)
    parts = {part.name: part for part in kind.parts}
    for name in sorted({*is_now, *was}):
        if is_now.get(name) == was.get(name):
            continue
        if name not in parts:
            yield _label(kind.model, name), _short(is_now.get(name)), _short(was.get(name))
            continue
        there, stated = _by_id(is_now.get(name)), _by_id(was.get(name))
        for number in sorted({*there, *stated}):
            one, other = there.get(number, {}), stated.get(number, {})
            for field in sorted({*one, *other}):
                if one.get(field) != other.get(field):
                    what = f"{parts[name].model._meta.verbose_name} {number}, {_label(parts[name].model, field)},"
                    yield what, _short(one.get(field)), _short(other.get(field))


def _read(body: str) -> dict:
    """A document, as far as it can be read; what cannot be is named by its digest."""
    try:
        found = json.loads(body)
    except ValueError:
        found = None
    return found if isinstance(found, dict) else {}


def _by_id(rows: object) -> dict[str, dict]:
    """Rows that belong to a thing, by their numbers: a list in its document, by number already among its words."""
    found = rows if isinstance(rows, dict) else {str(one["id"]): one for one in rows or () if "id" in one}
    return {number: one for number, one in found.items() if isinstance(one, dict)}


def _label(model: type[Model], name: str) -> str:
    """A column as people call it."""
    known = {one.name: one for one in model._meta.concrete_fields}
    return str(known[name].verbose_name) if name in known else name.replace("_", " ")


def _short(value: object) -> str:
    if value is None:
        return "blank"
    said = canonical_json(value)
    return said if len(said) <= 60 else f"{said[:57]}..."


def _latest(kind: str, keys: Sequence[str]) -> dict[str, Latest]:
    """The last record of each of these keys."""
    marks = ", ".join(["%s"] * len(keys))
    found = rows(
        f"SELECT key, voucher_id, body FROM inventory_record WHERE kind = %s AND key IN ({marks}) "
        "ORDER BY voucher_id, line",
        kind,
        *keys,
    )
    return {key: Latest(voucher, body) for key, voucher, body in found}


# Of each key of a kind the last record, where it says something still. %s: the kind, the first and the last of a range
# of keys, and what says nothing.
LIVE = (
    "FROM inventory_record r WHERE r.kind = %s AND r.key >= %s AND r.key < %s AND NOT EXISTS (SELECT 1 FROM "
    "inventory_record l WHERE l.kind = r.kind AND l.key = r.key AND (l.voucher_id > r.voucher_id OR "
    "(l.voucher_id = r.voucher_id AND l.line > r.line))) AND r.body IS NOT NULL AND r.body <> %s"
)


def _range(prefix: str) -> tuple[str, str]:
    """All keys that begin so; a colon ends each prefix that is not blank, and a semicolon follows it."""
    return (prefix, f"{prefix[:-1]};") if prefix else ("", "\U0010fffd")


def _live(kind: str, prefix: str, nothing: str) -> int:
    return rows(f"SELECT COUNT(*) {LIVE}", kind, *_range(prefix), nothing)[0][0]


def _name_missing(proof: Proof, kind: RecordKind) -> None:
    """What was stated and is not there: asked only where the counts differ."""
    there = {one.key for one in kind.documents()}
    for key, voucher in rows(
        f"SELECT r.key, r.voucher_id {LIVE} ORDER BY r.voucher_id", kind.name, *_range(""), REMOVED
    ):
        if key not in there:
            proof.fault(f"{_called(kind, key)}, which voucher {voucher} stated, is not there.", voucher)
    words = rows(f"SELECT r.key, r.voucher_id {LIVE}", WORDS, *_range(f"{kind.name}:"), NOTHING)
    for key, voucher in words:
        own = key.partition(":")[2]
        if own not in there:
            proof.fault(f"Words of {kind.title} {own} stand in voucher {voucher}, and it is not there.", voucher)


def _check_notes(proof: Proof) -> None:
    """The note of each voucher is the words that were stated of it."""
    for number, note, body in rows(
        "SELECT v.number, v.note, r.body FROM inventory_voucher v LEFT JOIN inventory_record r "
        "ON r.kind = %s AND r.key = 'entry:' || v.number WHERE v.note <> '' OR r.id IS NOT NULL ORDER BY v.number",
        WORDS,
    ):
        if note != (_read(body).get("note") if body else ""):
            proof.fault(f"The note of voucher {number} is not what was stated with it.", number)


def _check_erased(proof: Proof) -> None:
    """What holds no body any more is named by an erasure, and what an erasure names holds none."""
    named: dict[str, int] = {}
    for voucher, body in rows("SELECT voucher_id, body FROM inventory_record WHERE kind = %s ORDER BY id", ERASED):
        named |= dict.fromkeys(map(str, _read(body or "").get("digests", ())), voucher)
    for digest, voucher, kind, key in rows(
        "SELECT digest, voucher_id, kind, key FROM inventory_record WHERE body IS NULL ORDER BY id"
    ):
        if named.pop(digest, None) is None:
            proof.fault(
                f"The {kind} record {key} of voucher {voucher} is gone, and nothing says that it was erased.", voucher
            )
    for digest, voucher in named.items():
        proof.fault(f"What voucher {voucher} erased, {digest[:16]}, is there still, or never was.", voucher)


def _batches(documents: Iterator[Document]) -> Iterator[list[Document]]:
    while page := list(islice(documents, PAGE)):
        yield page
