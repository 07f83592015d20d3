"""What happened beside the ledger, told from the records: each beside the one before it of the same thing."""

import datetime as dt
import json
from collections.abc import Iterable, Iterator, Sequence

from django.db.models import Model, OuterRef, Q, QuerySet, Subquery

from inventory.audit.changes import Change, differing, kind_of
from inventory.audit.recording import SIGN_IN
from inventory.ledger.clocks import CLOCK, SEEN
from inventory.ledger.models import Record
from inventory.ledger.records import WORDS, kind_called, record_kinds
from inventory.shop.models import Shop

ERASED = {"words": "erased"}
TOLD_ALONE = {SIGN_IN, CLOCK, SEEN}  # a new password is not what became of the one before


beside: dict[str, tuple[str, ...]] = {}  # kinds without a table whose keys are those of another kind


def followed() -> list[str]:
    """The kinds of thing that the trail tells of."""
    return sorted([*(kind.name for kind in record_kinds.values() if kind.trail), *TOLD_ALONE])


def records_told(kinds: Iterable[str] | None = None) -> QuerySet[Record]:
    """The records that the trail is told from, of some kinds or of all: documents, and the words beside them."""
    names = followed() if kinds is None else list(kinds)
    about = Q(kind__in=names)
    for name in names:
        about |= Q(kind=WORDS, key__startswith=f"{name}:")
    return Record.objects.filter(about)


def records_between(
    first: dt.date | None, last: dt.date | None, kinds: Iterable[str] | None = None
) -> QuerySet[Record]:
    """Those stated on the shop's days from first to last, both included; None is open."""
    zone = Shop.current().zone
    found = records_told(kinds)
    if first:
        found = found.filter(voucher__recorded_at__gte=_moment(dt.datetime.combine(first, dt.time.min, zone)))
    if last:
        end = min(last, dt.date.max - dt.timedelta(days=1)) + dt.timedelta(days=1)
        found = found.filter(voucher__recorded_at__lt=_moment(dt.datetime.combine(end, dt.time.min, zone)))
    return found


def _moment(at: dt.datetime) -> str:
    return at.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def changes(records: QuerySet[Record], most: int | None = None, titled: bool = True) -> list[Change]:
    """Records as lines of the trail, in their order. A document and its words, stated together, are one line."""
    rows = list(_beside(records)[:most])
    titles = _titles(rows) if titled else {}
    found: list[Change] = []
    half: Record | None = None  # what the last line was made of, where that was one record
    for row in rows:
        one = _change(row, titles)
        if half is not None and _belong_together(half, row):
            found[-1], half = _joined(found[-1], one), None
        else:
            found.append(one)
            half = row
    return found


def _belong_together(one: Record, other: Record) -> bool:
    """Whether one is a document and the other its words, which are stated after it. Two documents of one thing under
    one voucher are two lines."""
    document, words = sorted((one, other), key=lambda row: row.pk)
    if document.voucher_id != words.voucher_id or document.kind == WORDS or words.kind != WORDS:
        return False
    return _subject(document) == _subject(words)


def changes_of(record: Model, most: int = 50) -> list[Change]:
    """What happened to one thing, the latest first."""
    kind = record_kinds[type(record)]
    key = kind.key_of(record)
    about = Q(kind=kind.name, key=key) | Q(kind=WORDS, key=f"{kind.name}:{key}")
    for other in beside.get(kind.name, ()):
        about |= Q(kind=other, key=key)
    return changes(Record.objects.filter(about).order_by("-id"), most)


def as_lines(records: QuerySet[Record]) -> Iterator[bytes]:
    """JSON, a line a change, the oldest first; things are called by their codes, and words are left out."""
    bare = records.exclude(kind=WORDS).order_by("id")
    last = 0
    while page := changes(bare.filter(id__gt=last), 1000, titled=False):
        last = page[-1].pk
        for one in page:
            said = {
                "number": one.pk,
                "voucher": one.voucher,
                "at": one.at.isoformat(),
                "by": one.by,
                "kind": one.kind,
                "what": one.what,
                "key": one.key,
                "before": one.before,
                "after": one.after,
            }
            yield (json.dumps(said, ensure_ascii=False) + "\n").encode()


def _beside(records: QuerySet[Record]) -> QuerySet[Record]:
    """Each with `was`, the body of the record before it of the same thing, and `first`, whether there is none."""
    before = Record.objects.filter(kind=OuterRef("kind"), key=OuterRef("key"), id__lt=OuterRef("id")).order_by("-id")
    found = records.select_related("voucher").defer("voucher__detail")
    return found.annotate(was=Subquery(before.values("body")[:1]), before=Subquery(before.values("id")[:1]))


def _subject(row: Record) -> tuple[str, str]:
    """Kind and key of what a record is about."""
    if row.kind != WORDS:
        return row.kind, row.key
    kind, _, key = row.key.partition(":")
    return kind, key


def _change(row: Record, titles: dict[tuple[str, str], str]) -> Change:
    was = None if row.before is None else ERASED if row.was is None else json.loads(row.was)
    now = ERASED if row.body is None else json.loads(row.body)
    what, key = _subject(row)
    if what in TOLD_ALONE:
        was = None
    before, after = ({}, ERASED) if row.body is None else differing(was, now)
    voucher = row.voucher
    return Change(
        row.pk,
        voucher.number,
        voucher.recorded,
        voucher.recorded_by,
        kind_of(was, now) if row.kind != WORDS or row.before is None else "changed",
        what,
        key,
        titles.get((what, key), key),
        before,
        after,
    )


def _joined(one: Change, other: Change) -> Change:
    """Two lines of one thing and one voucher. What is not the words says whether it was made."""
    kind = one.kind if other.kind == "changed" or one.kind == other.kind else other.kind
    values = {**vars(one), "kind": kind, "pk": min(one.pk, other.pk)}
    return Change(**values | {"before": {**one.before, **other.before}, "after": {**one.after, **other.after}})


def _titles(rows: Sequence[Record]) -> dict[tuple[str, str], str]:
    """What things are called now, by kind and key; one question a kind."""
    asked: dict[str, set[str]] = {}
    for row in rows:
        kind, key = _subject(row)
        asked.setdefault(kind, set()).add(key)
    found: dict[tuple[str, str], str] = {}
    for name, its in asked.items():
        kind = kind_called(name)
        if kind is None or len(kind.key) > 1:
            continue
        there = kind.model._base_manager.filter(**{f"{kind.key[0]}__in": its}).select_related()
        found |= {(name, kind.key_of(one)): str(one) for one in there}
    return found
