"""What a backup is told when it takes the place of a ledger: which entries are given up for it, and what was erased
since it was made."""

import csv
import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path

from django.conf import settings
from django.db import connection

from inventory.ledger.erasing import erased_digests
from inventory.ledger.models import ChainHead, Voucher
from inventory.text.refusal import Refused
from shopledger.backup import archive

ERASED = "erased.txt"
PAGE = 5000
SHOWN = 20
COLUMNS = ("number", "day", "kind", "recorded_by", "done_by", "document")


@dataclass(frozen=True)
class Given:
    """common: the last entry that backup and ledger share; 0 where they share none. gives_up: the digests of the
    ledger's entries after it, in their order. erased: digests of words that are not to come back; listed: whether any
    list of these was found. replaced: the head of the ledger that it takes the place of. undoes: the entry of the
    restoring that it takes back."""

    common: int = 0
    gives_up: list[str] = field(default_factory=list)
    erased: list[str] = field(default_factory=list)
    listed: bool = False
    replaced: dict[str, object] | None = None
    undoes: int | None = None

    def write(self, path: Path) -> None:
        path.write_text(json.dumps(asdict(self)))


def read(path: Path) -> Given:
    return Given(**json.loads(path.read_text()))


def given(reader: archive.Reader, backup: Path, erased: Path | None, undoes: int | None = None) -> Given:
    """From the ledger that is there, the folder of the data, that of the backup, and a list that was named. Raises
    Refused for a list that cannot be read."""
    lists = [path for path in (settings.DATA_DIR / ERASED, backup.parent / ERASED) if path.is_file()]
    lists += [erased] if erased else []
    digests = dict.fromkeys(digest for path in lists for digest in _lines(path))
    if not connection.introspection.table_names():
        return Given(erased=list(digests), listed=bool(lists))
    digests |= dict.fromkeys(erased_digests())
    head = ChainHead.objects.get(id=1)
    replaced = {"ledger_id": head.ledger_id, "number": head.number, "digest": head.digest}
    common = common_with(reader)
    # Of another ledger the head alone is kept, which answers for all of it.
    gives_up = [digest for _, digest in digests_from(common)] if same_ledger(reader) else []
    return Given(common, gives_up, list(digests), True, replaced, undoes)


def _lines(path: Path) -> list[str]:
    try:
        lines = [line.strip() for line in path.read_text().splitlines() if line.strip()]
    except (OSError, UnicodeDecodeError):
        raise Refused(f"The list {path} of what was erased cannot be read.", "erased") from None
    if any(len(line) != 64 or not set(line) <= set("0123456789abcdef") for line in lines):
        raise Refused(f"{path} is no list of what was erased: each line is a digest of 64 letters.", "erased")
    return lines


# -- how far two copies of a ledger are the same ---------------------------------------------------------


def same_ledger(reader: archive.Reader) -> bool:
    """Whether a backup is of this ledger: one of its own, or of a copy that went on by itself."""
    return ChainHead.objects.filter(id=1, ledger_id=reader.manifest["head"]["ledger_id"]).exists()


def common_with(reader: archive.Reader) -> int:
    """The last entry that both ledgers hold with the same digest; 0 where there is none. Raises archive.Damaged."""
    if not same_ledger(reader):
        return 0
    ours, common = digests_from(), 0
    columns, rows = reader.rows("inventory_voucher")
    if not {"number", "digest"} <= set(columns):
        raise archive.Damaged("Its entries have no number or no digest.")
    number, digest = columns.index("number"), columns.index("digest")
    for theirs, mine in zip(rows, ours, strict=False):
        if (theirs[number], theirs[digest]) != mine:
            break
        common = theirs[number]
    rows.close()
    return common


def digests_from(after: int = 0) -> Iterator[tuple[int, str]]:
    """Number and digest of this ledger's entries after one, in their order."""
    while True:
        with connection.cursor() as cursor:
            cursor.execute(
                f"SELECT number, digest FROM inventory_voucher WHERE number > %s ORDER BY number LIMIT {PAGE}", [after]
            )
            page = cursor.fetchall()
        yield from page
        if len(page) < PAGE:
            return
        after = page[-1][0]


# -- which entries that is to be said of ----------------------------------------------------------------


@dataclass(frozen=True)
class Going:
    """Entries that somebody made and that would go, in their order: number, day, kind, who entered and who did it,
    document. What a restoring itself entered is none of them."""

    rows: list[tuple] = field(default_factory=list)

    @property
    def first(self) -> int | None:
        return self.rows[0][0] if self.rows else None

    def counted(self) -> str:
        """e.g. `2 entries, 12 and 13`"""
        numbers = [row[0] for row in self.rows]
        if len(numbers) == 1:
            return f"one entry, {numbers[0]}"
        runs: list[list[int]] = []
        for number in numbers:
            if runs and number == runs[-1][1] + 1:
                runs[-1][1] = number
            else:
                runs.append([number, number])
        said = [str(a) if a == b else f"{a} {'and' if b == a + 1 else 'to'} {b}" for a, b in runs]
        return f"{len(numbers)} entries, {', '.join(said)}"

    def listed(self) -> str:
        """The first of them, a line each; how many more there are."""
        lines = [_line(row) for row in self.rows[:SHOWN]]
        if len(self.rows) > SHOWN:
            lines.append(f"  and {len(self.rows) - SHOWN} more, the last:")
            lines.append(_line(self.rows[-1]))
        return "\n".join(lines)

    def keep(self, path: Path) -> None:
        """All of them as CSV, to enter them again from."""
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(COLUMNS)
            writer.writerows([_inert(value) for value in row] for row in self.rows)


def _line(row: tuple) -> str:
    number, day, kind, recorded_by, done_by, document = row
    who = recorded_by if done_by in ("", recorded_by) else f"{recorded_by} for {done_by}"
    return f"  {number}  {day}  {kind}  {who}  {document}".rstrip()


def _inert(value: object) -> object:
    """No spreadsheet takes it for a formula."""
    return f"'{value}" if isinstance(value, str) and value[:1] in {"=", "+", "-", "@", "\t", "\r"} else value


def going(after: int) -> Going:
    """The entries of this ledger after one that people made."""
    made = Voucher.objects.filter(number__gt=after).exclude(kind="restore").order_by("number")
    made = made.exclude(kind="erasure", detail__contains='"why":"restored"')
    return Going(list(made.values_list(*COLUMNS)))


def refuse_unless_said(goes: Going, lose_from: int | None, other: bool) -> None:
    """Raises Refused where entries would go that nobody said, or where others were said. other: whether the backup is
    of another ledger."""
    if goes.first == lose_from:
        return
    if goes.first is None:
        raise Refused(
            f"No entry would be given up for this backup, and --lose-from {lose_from} was said. Leave it out, if this "
            "is the backup that was meant.",
            "lose_from",
        )
    whose = "The backup is of another ledger, so all of this one would go" if other else "These are not in the backup"
    said = "" if lose_from is None else f"--lose-from {lose_from} was said, and the first that would go is another. "
    raise Refused(
        f"{whose}: {goes.counted()}.\n{goes.listed()}\n{said}If they are to be given up, say so with "
        f"--lose-from {goes.first}; they are then kept beside the database, and can be put back.",
        "lose_from",
    )
