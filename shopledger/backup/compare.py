"""Two copies of one ledger: which one is ahead, and after which entry they parted where both went on."""

from contextlib import closing
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from inventory.ledger.models import ChainHead, Voucher
from inventory.text.refusal import Refused
from shopledger.backup import archive
from shopledger.backup.given import COLUMNS, Going, common_with, same_ledger
from shopledger.backup.staging import prove


@dataclass(frozen=True)
class Compared:
    """said: in sentences. holds: whether this ledger holds all that the other one does."""

    said: str
    holds: bool


def compare(path: Path) -> Compared:
    """This ledger beside a backup of another copy, entry by entry, by their digests. Raises Refused where the file
    cannot be read."""
    try:
        with closing(prove(path)) as reader:
            head = ChainHead.objects.get(id=1)
            if not same_ledger(reader):
                theirs = reader.manifest["head"]["ledger_id"]
                return Compared(f"{path.name} is of another ledger: {theirs}, and this one is {head.ledger_id}.", False)
            common = common_with(reader)
            theirs = _theirs(reader, common)
    except archive.Damaged as damaged:
        raise Refused(f"{damaged} Take another backup.", "file") from None
    ours = Going(list(Voucher.objects.filter(number__gt=common).order_by("number").values_list(*COLUMNS)))
    return Compared(_said(path.name, common, ours, theirs), not theirs.rows)


def _theirs(reader: archive.Reader, common: int) -> Going:
    columns, rows = reader.rows(Voucher._meta.db_table)
    if not set(COLUMNS) <= set(columns):
        raise archive.Damaged("Its entries lack what every entry says.")
    places = [columns.index(name) for name in COLUMNS]
    # In the order of their numbers, which have no gaps: the common ones stand first.
    return Going([tuple(row[place] for place in places) for row in islice(rows, common, None)])


def _said(name: str, common: int, ours: Going, theirs: Going) -> str:
    if not ours.rows and not theirs.rows:
        return f"The same: this ledger and {name} both end with entry {common}."
    if not theirs.rows:
        return f"This ledger is ahead of {name}, which ends with entry {common}. Here came since: {_side(ours)}"
    if not ours.rows:
        return f"{name} is ahead of this ledger, which ends with entry {common}. There came since: {_side(theirs)}"
    if common:
        day = Voucher.objects.values_list("day", flat=True).get(number=common)
        where = f"after entry {common} of {day}"
    else:
        where = "before their first entry"
    return (
        f"They parted {where}: both copies were written to since. Go on with one of them, and enter there what only "
        f"the other has.\nOnly here: {_side(ours)}\nOnly in {name}: {_side(theirs)}"
    )


def _side(going: Going) -> str:
    return f"{going.counted()}.\n{going.listed()}"
