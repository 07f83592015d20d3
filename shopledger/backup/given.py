"""What a backup is told when it takes the place of a ledger: which entries are given up for it, and what was erased
since it was made."""

import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path

from django.conf import settings
from django.db import connection

from inventory.ledger.erasing import erased_digests
from inventory.ledger.models import ChainHead
from inventory.text.refusal import Refused
from shopledger.backup import archive

ERASED = "erased.txt"
PAGE = 5000


@dataclass(frozen=True)
class Given:
    """common: the last entry that backup and ledger share; 0 where they share none. gives_up: the digests of the
    ledger's entries after it, in their order. erased: digests of words that are not to come back; listed: whether any
    list of these was found."""

    common: int = 0
    gives_up: list[str] = field(default_factory=list)
    erased: list[str] = field(default_factory=list)
    listed: bool = False

    def write(self, path: Path) -> None:
        path.write_text(json.dumps(asdict(self)))


def read(path: Path) -> Given:
    return Given(**json.loads(path.read_text()))


def given(reader: archive.Reader, backup: Path, erased: Path | None, empty: bool) -> Given:
    """From the ledger that is there, the folder of the data, that of the backup, and a list that was named. Raises
    Refused for a list that cannot be read."""
    lists = [path for path in (settings.DATA_DIR / ERASED, backup.parent / ERASED) if path.is_file()]
    lists += [erased] if erased else []
    digests = dict.fromkeys(digest for path in lists for digest in _lines(path))
    if empty:
        return Given(erased=list(digests), listed=bool(lists))
    digests |= dict.fromkeys(erased_digests())
    common = _common(reader)
    return Given(common, _after(common) if common else [], list(digests), True)


def _lines(path: Path) -> list[str]:
    try:
        lines = [line.strip() for line in path.read_text().splitlines() if line.strip()]
    except (OSError, UnicodeDecodeError):
        raise Refused(f"The list {path} of what was erased cannot be read.", "erased") from None
    if any(len(line) != 64 or not set(line) <= set("0123456789abcdef") for line in lines):
        raise Refused(f"{path} is no list of what was erased: each line is a digest of 64 letters.", "erased")
    return lines


def _common(reader: archive.Reader) -> int:
    """The last entry that both ledgers hold with the same digest."""
    head = ChainHead.objects.filter(id=1).first()
    if head is None or reader.manifest["head"].get("ledger_id") != head.ledger_id:
        return 0
    ours, common = _digests(), 0
    columns, rows = reader.rows("inventory_voucher")
    number, digest = columns.index("number"), columns.index("digest")
    for theirs, mine in zip(rows, ours, strict=False):
        if (theirs[number], theirs[digest]) != mine:
            break
        common = theirs[number]
    rows.close()
    return common


def _digests(after: int = 0) -> Iterator[tuple[int, str]]:
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


def _after(common: int) -> list[str]:
    return [digest for _, digest in _digests(common)]
