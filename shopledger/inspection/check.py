"""`verify --bundle`: what a bundle proves of itself, and whose it is.

What is proved without a ledger is what `verify.py` proves, which lies in each bundle. Here comes in besides that the
ZIP as a whole is as it was written, and what the ledger beside it says, where there is one.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured
from django.db import DatabaseError, InterfaceError, connection

from inventory.ledger.canonical import chained, genesis, link
from inventory.ledger.models import ChainHead, Voucher
from inventory.text.refusal import Refused
from shopledger.backup import archive
from shopledger.database import refusal
from shopledger.inspection.bundle import MANIFEST, RECEIPT
from shopledger.inspection.verify import Bundle, Wrong

PAGE = 5000
KIND = "inspection bundle"


@dataclass(frozen=True)
class Checked:
    """A bundle that holds. proved: what, in sentences. attested: whether somebody says whose it is; whose: what is said
    of that. number, digest: the ledger's head in it; entry: the one that names its list."""

    files: int
    vouchers: int
    jobs: int
    number: int
    digest: str
    entry: int
    proved: str
    attested: bool
    whose: str


def check_bundle(path: Path, head: str = "") -> Checked:
    """Read a whole bundle. head: a digest that was kept elsewhere. Raises Refused naming the first file, or entry, that
    is not as it was written."""
    wanted = head.strip().lower()
    try:
        reader = archive.Reader(path, MANIFEST, RECEIPT)
        reader.prove()
        reader.close()
        if reader.manifest.get("kind") != KIND:
            raise archive.Damaged(f"{path} is no inspection bundle.")
        found = Bundle(path)
        proved, whose = found.prove(wanted)
    except (archive.Damaged, Wrong) as damaged:
        raise Refused(f"The bundle does not hold. {damaged}") from None
    except archive.UNREADABLE as error:
        raise Refused(f"The bundle does not hold. It is not written as a bundle is: {error!r}.") from None
    jobs = sum(name.startswith("jobs/") for name in reader.manifest["files"])
    attested, said = _whose(found, wanted, whose)
    at, (first, last) = found.manifest["head"], found.manifest["entries"]
    return Checked(
        len(found.manifest["files"]),
        last - first + 1,
        jobs,
        at["number"],
        at["digest"],
        found.number,
        proved,
        attested,
        said,
    )


def _whose(found: Bundle, wanted: str, whose: str) -> tuple[bool, str]:
    """Whether anything attests it, and what is to be said of that. whose: what the bundle itself says."""
    ours = _ledger()
    holds, beside = _beside(found, ours) if ours else (False, "")
    if wanted and not found.at and holds:
        later = Voucher.objects.filter(digest=wanted).first()
        if later is not None:
            return True, f"{beside} The digest given is that of entry {later.number}, which came after it."
    if wanted:
        return found.at > 0, f"{whose} {beside}".strip()
    return holds, beside or whose


def _ledger() -> ChainHead | None:
    """The ledger beside it; None where there is none, or none that can be asked, or one that nobody wrote in."""
    file = connection.vendor == "sqlite" and not connection.is_in_memory_db()
    if file and not Path(connection.settings_dict["NAME"]).exists():  # asking for it would make it
        return None
    try:
        tables = connection.introspection.table_names()
        if ChainHead._meta.db_table not in tables or refusal(connection, record_only=True):
            return None
        ours = ChainHead.objects.filter(id=1).first()
    except (DatabaseError, InterfaceError, ImproperlyConfigured):
        return None
    return ours if ours is not None and ours.number else None


def _beside(found: Bundle, ours: ChainHead) -> tuple[bool, str]:
    """Whether our ledger holds the entry that names the list, and what is to be said of the two."""
    if ours.ledger_id != found.manifest["ledger"]:
        return False, "It is of another ledger than the one here, which cannot say whether it is true."
    if Voucher.objects.filter(number=found.number, digest=found.digest).exists():
        return True, f"Attested: this ledger holds entry {found.number}, in which the list of its files stands."
    common = _common(found)
    ends = ", where this ledger ends" if common == ours.number else ""
    if not common:
        return False, "It says that it is of this ledger, and this ledger parts from it before the first entry."
    return False, f"This ledger parts from it after entry {common}{ends}."


def _common(found: Bundle) -> int:
    """The number of the last entry that both hold."""
    last = 0
    held = Voucher.objects.order_by("number").values_list("digest", flat=True).iterator(PAGE)
    for number, (theirs, ours) in enumerate(zip(_digests(found), held, strict=False), 1):
        if theirs != ours:
            break
        last = number
    return last


def _digests(found: Bundle) -> Iterator[str]:
    """The digests of the bundle's chain, from the first entry on."""
    digest = genesis(found.manifest["ledger"])
    with found.open("links.bin") as file:
        linked = chain(iter(lambda: file.read(32).hex(), ""), found.receipt["links"], [link(found.receipt["text"])])
        for one in linked:
            digest = chained(digest, one)
            yield digest
