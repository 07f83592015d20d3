"""Taking personal words and free texts out for good, by an entry that says who did it and why.

What was done, weighed and moved stays, and so does the chain: it holds digests of the words, each with a salt that goes
with them, so that nobody finds them again by trying. Other rooms say how long a thing's words must be kept (`resting`),
when they may not go at all (`refusals`), and what else goes with them (`afterwards`).
"""

import logging
import os
import uuid
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from django.conf import settings
from django.db import connection, transaction
from django.db.models import Model

from inventory.ledger.actions import Draft, Writer, writing
from inventory.ledger.models import Record, Voucher
from inventory.ledger.record_proof import ERASED
from inventory.ledger.records import WORDS, RecordKind, kind_called, record_kinds
from inventory.ledger.statements import NOTHING
from inventory.shop.clock import today
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from inventory.verdicts.retention import OnFile, kept
from inventory.verdicts.verdict import Verdict

logger = logging.getLogger("shopledger.ledger")
DIGEST = 64  # hexadecimal digits
ENTRY = "entry"  # the notes of vouchers, which are no table of their own
WHYS = {
    "asked": "the person asked for it",
    "expired": "it was kept as long as was ordered",
    "mistake": "it should never have been written there",
}


resting: dict[str, Callable[[Model], Iterable[OnFile]]] = {}  # by kind: what rests on a row
refusals: dict[str, Callable[[Model], None]] = {}  # by kind: raises Refused where its words may not go yet
afterwards: dict[str, Callable[[Model], None]] = {}  # by kind: what else goes, told before the row is blanked
# Kinds with words that no table repeats and no rulebook orders kept, and what a thing of it is called before its key.
untabled: dict[str, str] = {}
once_gone: list[Callable[[], None]] = []  # when the erasure is committed: copies of ours that may hold the words


@dataclass(frozen=True)
class Erasable:
    """What an erasure would take. title: what people call the thing now. digests: of all versions of its words."""

    kind: str
    key: str
    title: str
    row: Model | None
    digests: tuple[str, ...] = ()
    keeps: tuple[OnFile, ...] = field(default=())

    def held_by(self) -> Verdict | None:
        """Why the rulebook orders the words kept still: of several records the one that is kept longest, first one of
        which nobody can say how long; None where they may go."""
        rules, day = Shop.current().rules, today()
        found = [verdict for one in self.keeps if (verdict := kept(rules, one, day)).answer != "free"]
        return max(found, key=lambda one: (one.by is None, one.by or day), default=None)


def erasable_kinds() -> list[str]:
    """The kinds that have words."""
    return sorted([ENTRY, *untabled, *(kind.name for kind in record_kinds.values() if kind.worded)])


def find(kind: str, key: str) -> Erasable:
    """What an erasure of this thing would take. Raises Refused where there is no such thing, or nothing to erase."""
    if kind == ENTRY:
        voucher = Voucher.objects.filter(number=int(key)).first() if key.isdigit() and len(key) < 19 else None
        if voucher is None:
            raise Refused(f"There is no voucher {key}; look its number up in the list of vouchers.", "key")
        keeps = (OnFile({"receipt": "purchase", "shipment": "shipment"}.get(voucher.kind, "job"), voucher.day),)
        return Erasable(kind, key, f"Voucher {key}", None, _digests(kind, key), keeps)
    if kind in untabled:
        if not Record.objects.filter(kind=kind, key=key).exists():
            raise Refused(f"Nothing was ever stated of a {kind} {key}.", "key")
        return Erasable(kind, key, f"{untabled[kind]} {key}", None, _digests(kind, key))
    table = kind_called(kind)
    if table is None or not table.worded:
        raise Refused(f"{kind!r} has no words to erase; name one of {', '.join(erasable_kinds())}.", "kind")
    row = _row(table, key)
    if row is None:
        raise Refused(f"There is no {table.title} {key}.", "key")
    keeps = tuple(resting[kind](row)) if kind in resting else _since_stated(kind, key)
    return Erasable(kind, key, str(row), row, _digests(kind, key), keeps)


def _since_stated(kind: str, key: str) -> tuple[OnFile, ...]:
    """What nothing else rests on is kept from the day on which it was written."""
    words = Record.objects.filter(kind=WORDS, key=f"{kind}:{key}").order_by("-id").select_related("voucher")
    return tuple(OnFile("job", one.voucher.day) for one in words[:1])


def _row(table: RecordKind, key: str) -> Model | None:
    parts = key.rsplit("/", len(table.key) - 1)
    if len(parts) != len(table.key):
        return None
    try:
        return table.rows().filter(**dict(zip(table.key, parts, strict=True))).first()
    except (ValueError, OverflowError):
        return None


def _digests(kind: str, key: str) -> tuple[str, ...]:
    words = Record.objects.filter(kind=WORDS, key=f"{kind}:{key}", body__isnull=False).exclude(body=NOTHING)
    return tuple(words.order_by("id").values_list("digest", flat=True))


def erase(kind: str, key: str, *, why: str, by: str, note: str = "", form: str = "") -> int:
    """Take the words of a thing out for good; returns the number of the entry that says so. why: of WHYS; note: more of
    it. form: the id of the form; the same form erases once. Raises Refused: an unknown thing or reason, nothing to
    erase, what the rulebook orders kept (with the day from which it may go), a person who works here, an open draft."""
    if why not in WHYS:
        raise Refused(f"Say why: one of {', '.join(WHYS)}.", "why")
    with writing() as ledger:
        posted = ledger.posted(form) if form else None
        if posted is not None:
            return posted
        found = find(kind, key)
        if not found.digests:
            raise Refused(f"{found.title} has no words to erase: nothing was written, or it is erased already.", "key")
        if found.row is not None and kind in refusals:
            refusals[kind](found.row)
        held = found.held_by()
        if held is not None:
            raise Refused(
                f"The words of {found.title} are kept until their time is over. {held.said} ({held.cited})", "key"
            )
        number = ledger.post(
            Draft(
                kind="erasure",
                day=today(),
                recorded_by=by,
                note=note,
                detail={"why": why, "of": f"{kind}:{key}"},
                key=form or str(uuid.uuid4()),
            )
        )
        if found.row is not None and kind in afterwards:
            afterwards[kind](found.row)
        _take(ledger, found)
        transaction.on_commit(_gone, robust=True)
    return number


def _take(ledger: Writer, found: Erasable) -> None:
    """Name the digests under the voucher at hand, and blank words and row."""
    ledger.state(ERASED, f"{found.kind}:{found.key}", {"digests": list(found.digests)}, new=True)
    ledger.flush()
    with connection.cursor() as cursor:
        cursor.executemany(
            "UPDATE inventory_record SET salt = NULL, body = NULL WHERE kind = %s AND key = %s AND digest = %s",
            [(WORDS, f"{found.kind}:{found.key}", digest) for digest in found.digests],
        )
        if found.kind == ENTRY:
            cursor.execute("UPDATE inventory_voucher SET note = '' WHERE number = %s", [int(found.key)])
    if found.row is not None:
        _blank(kind_called(found.kind), found.row, found.key)


def _blank(kind: RecordKind, row: Model, key: str) -> None:
    """Take the words out of the row, of its parts, and of the columns that are worked out from them."""
    values = {name: _nothing(row, name) for name in kind.words}
    if kind.called:
        values[kind.called] = key
    for name, value in values.items():
        setattr(row, name, value)
    if hasattr(row, "fold"):
        row.fold()
        values |= {name: getattr(row, name) for name in kind.left_out}
    type(row)._base_manager.filter(pk=row.pk).update(**values)
    for part in kind.parts:
        worded = {name: _nothing(part.model, name) for name in part.words}
        if worded:
            part.model._base_manager.filter(**{part.parent: row.pk}).update(**worded)


def _nothing(row: Model | type[Model], name: str) -> object:
    own = row._meta.get_field(name)
    kind = own.get_internal_type()
    if kind == "JSONField":
        return own.get_default()
    return None if own.null else ""


# -- the list of all that was erased -----------------------------------------------------------------------


def erased_digests() -> list[str]:
    """The digests of all that was erased, in their order."""
    return list(Record.objects.filter(body__isnull=True).order_by("id").values_list("digest", flat=True))


def write_list(folder: Path | None = None, also: Sequence[str] = ()) -> None:
    """Keep the list in a folder, that of the data where none is named: a backup of before is erased again by it. What
    stands there already stays, as does what is given: another backup may hold it still. Where nothing was ever erased
    there is none."""
    path = (folder or settings.DATA_DIR) / "erased.txt"
    there = path.read_text(errors="replace").split() if path.is_file() else []
    digests = dict.fromkeys([*(one for one in there if len(one) == DIGEST), *also, *erased_digests()])
    if not digests and not path.exists():
        return
    unfinished = path.with_name(f".{path.name}-{uuid.uuid4().hex[:8]}")
    try:
        unfinished.write_text("".join(f"{digest}\n" for digest in digests))
        os.replace(unfinished, path)
    finally:
        unfinished.unlink(missing_ok=True)


def _gone() -> None:
    """What is done once the words are gone for good. What cannot be done now is done by the night's work."""
    for act in (write_list, _vacuum, *once_gone):
        try:
            act()
        except OSError as error:
            logger.warning("after an erasure: %s", error)


def _vacuum() -> None:
    """PostgreSQL keeps the old row until it is told; SQLite overwrites it (`secure_delete` in the settings)."""
    if connection.vendor == "postgresql" and not connection.in_atomic_block:
        with connection.cursor() as cursor:
            cursor.execute("VACUUM inventory_record")


def erase_again(digests: Sequence[str], by: str) -> int | None:
    """Erase what a list names and this ledger still holds, as a restored backup of before may; returns the number of
    the entry, None where there is nothing."""
    there = Record.objects.filter(kind=WORDS, body__isnull=False, digest__in=list(digests))
    keys = list(dict.fromkeys(there.order_by("id").values_list("key", flat=True)))
    if not keys:
        return None
    wanted = set(digests)
    with writing() as ledger:
        number = ledger.post(Draft(kind="erasure", day=today(), recorded_by=by, detail={"why": "restored"}))
        for words in keys:
            kind, _, key = words.partition(":")
            table = kind_called(kind)
            row = _row(table, key) if table else None
            named = tuple(one for one in _digests(kind, key) if one in wanted)
            still = set(_digests(kind, key)) - wanted
            _take(ledger, Erasable(kind, key, words, None if still else row, named))
    return number
