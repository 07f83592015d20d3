"""What of the ledger a bundle holds: the texts of its entries, the records that they name, and all links.

The entries of the period are those from the first to the last that is dated in it, with whatever was entered between
them and whatever was dated before its end and entered later: so figures can be worked out, and the chain has no gap.
All their records are in it, in every version.

What was stated outside them is in it where the period rests on it: the latest version before it of what stands until it
is changed (`STANDING`), of customers, units, parties and containers only where the period names them; of files and
issued reports where the bundle holds them; seals and erasures. Jobs, counts and words of other periods are not, so that
a bundle tells no more of people than its period does. Such an entry's text is in it too, as it names the record.
"""

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import IO

from django.db.models import Exists, OuterRef, QuerySet

from inventory.containers.models import ContainerEntry
from inventory.ledger import canonical
from inventory.ledger.canonical import canonical_json
from inventory.ledger.chain import links
from inventory.ledger.models import Account, Movement, Record, Seal, Voucher
from inventory.ledger.record_proof import ERASED
from inventory.ledger.records import WORDS
from inventory.ledger.seals import balances_text
from shopledger.inspection.who import CODES, Who
from shopledger.reporting.report import Period

NAMED = ("unit", "customer", "party", "container")  # in this order: a unit names its customer
STANDING = (
    *("ledger", "settings", "rulebook", "place", "substance", "scale", "scale-check", "machine", "machine-check"),
    *("person", "certificate", *NAMED),
)
PAGE = 500


@dataclass(frozen=True)
class Entries:
    """first, last: the period's entries, where there are none the one after the head and the head. head: the ledger's
    last entry. outside: (entry, line) of each record from elsewhere."""

    first: int
    last: int
    head: int
    outside: tuple[tuple[int, int], ...] = ()

    @property
    def count(self) -> int:
        return self.last - self.first + 1

    def holds(self, number: int) -> bool:
        return self.first <= number <= self.last


def entries_of(period: Period, head: int) -> Entries:
    """The entries of a period, without what was stated elsewhere."""
    before = Voucher.objects.filter(day__lte=period.last)
    first = before.filter(day__gte=period.first).order_by("number").values_list("number", flat=True).first()
    if first is None:
        return Entries(head + 1, head, head)
    return Entries(first, before.order_by("-number").values_list("number", flat=True)[0], head)


def with_records(found: Entries, files: Iterable[int], issued: Iterable[int]) -> Entries:
    """With the records from elsewhere that the period rests on. files, issued: the attachments and the issued reports
    that go with it, by their numbers."""
    names = _names(found)
    kept: set[tuple[int, int]] = set()
    worded: set[str] = set()
    before = _latest(Record.objects.filter(voucher__lt=found.first), found.first)
    for kind in (*NAMED, *(one for one in STANDING if one not in NAMED)):
        for key, body, at in _rows(before.filter(kind=kind)):
            if kind not in NAMED or key in names:
                names.update(CODES.findall(body or ""))
                kept.add(at)
                worded.add(f"{kind}:{key}")
    attached = {f"attachment:{number}" for number in files}
    for kind in {one.partition(":")[0] for one in worded}:
        words = before.filter(kind=WORDS, key__gte=f"{kind}:", key__lt=f"{kind};")
        kept.update(at for key, _, at in _rows(words) if key in worded)
    elsewhere = Record.objects.exclude(voucher__gte=found.first, voucher__lte=found.last)
    kept.update(at for _, _, at in _rows(elsewhere.filter(kind__in=["seal", ERASED])))
    for kind, keys in (
        (WORDS, attached),
        ("attachment", {one.partition(":")[2] for one in attached}),
        ("issued", {str(number) for number in issued}),
    ):
        for page in _pages(sorted(keys)):
            kept.update(at for _, _, at in _rows(elsewhere.filter(kind=kind, key__in=page)))
    return Entries(found.first, found.last, found.head, tuple(sorted(kept)))


def _names(found: Entries) -> set[str]:
    """The codes of customers, units, parties and containers that the period's entries name."""
    inside = {"voucher__gte": found.first, "voucher__lte": found.last}
    names = set(ContainerEntry.objects.filter(**inside).values_list("container__code", flat=True))
    for end in ("source", "target"):
        ends = Movement.objects.filter(**inside).order_by().values(end)
        names.update(Account.objects.filter(id__in=ends).values_list("name", flat=True))
    records = Record.objects.filter(**inside, salt="").values_list("body", flat=True)
    details = Voucher.objects.filter(number__gte=found.first, number__lte=found.last).values_list("detail", flat=True)
    for said in (records, details):
        for text in said.iterator(PAGE):
            names.update(CODES.findall(text))
    return names


def _latest(records: QuerySet[Record], before: int) -> QuerySet[Record]:
    newer = Record.objects.filter(kind=OuterRef("kind"), key=OuterRef("key"), voucher__lt=before, id__gt=OuterRef("id"))
    return records.filter(~Exists(newer))


def _rows(records: QuerySet[Record]) -> Iterator[tuple[str, str | None, tuple[int, int]]]:
    """Key, body, and where it stands, of each."""
    found = records.order_by("id").values_list("key", "body", "voucher_id", "line")
    return ((key, body, (voucher, line)) for key, body, voucher, line in found.iterator(PAGE))


def _pages(keys: Sequence) -> Iterator[Sequence]:
    return (keys[start : start + PAGE] for start in range(0, len(keys), PAGE))


# -- the files -----------------------------------------------------------------------------------------------------


def texts(found: Entries, who: Who, aside: IO[bytes]) -> Iterator[bytes]:
    """vouchers.jsonl, in one walk over the whole ledger. aside: takes links.bin meanwhile."""
    elsewhere = {voucher for voucher, _ in found.outside}
    for link in links(1, found.head):
        aside.write(bytes.fromhex(canonical.link(link.text)))
        if found.holds(link.number):
            who.read_text(link.text)
            yield link.as_line()
        elif link.number in elsewhere:
            yield link.as_line()


def records(found: Entries, who: Who) -> Iterator[bytes]:
    """records.jsonl, in the order of the entries."""
    erased = _erased()
    before = [at for at in found.outside if at[0] < found.first]
    after = [at for at in found.outside if at[0] > found.last]
    inside = Record.objects.filter(voucher__gte=found.first, voucher__lte=found.last).order_by("voucher", "line")
    for part in (_elsewhere(before), inside.iterator(PAGE), _elsewhere(after)):
        for one in part:
            said = {"voucher": one.voucher_id, "line": one.line, "kind": one.kind, "key": one.key}
            if one.body is None:
                said |= {"digest": one.digest, "erased": erased.get(one.digest)}
            else:
                said |= {"salt": one.salt, "body": one.body, "digest": one.digest}
                if not one.salt:
                    who.read_text(one.body)
            yield canonical_json(said).encode() + b"\n"


def _elsewhere(places: Sequence[tuple[int, int]]) -> Iterator[Record]:
    for page in _pages(places):
        wanted = set(page)
        rows = Record.objects.filter(voucher__in={voucher for voucher, _ in page}).order_by("voucher", "line")
        yield from (one for one in rows.iterator(PAGE) if (one.voucher_id, one.line) in wanted)


def _erased() -> dict[str, int]:
    """The entry that erased it, by the digest of what is gone."""
    found: dict[str, int] = {}
    for body, voucher in Record.objects.filter(kind=ERASED).values_list("body", "voucher_id"):
        found |= dict.fromkeys(json.loads(body)["digests"], voucher)
    return found


def opening(period: Period) -> bytes | None:
    """opening.jsonl: what each account held on the eve of the period, where a seal keeps that, in the very text that
    its digest stands for; None where none does."""
    seal = Seal.objects.filter(through=period.eve).first()
    if seal is None:
        return None
    return balances_text(seal).encode()
