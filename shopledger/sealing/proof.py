"""What `verify` proves of reports as they were issued. Nothing here draws a report: every command loads this."""

from collections.abc import Iterator
from pathlib import Path

from inventory.ledger.files import read_kept
from inventory.ledger.verify import Proof
from inventory.text.refusal import Refused
from shopledger.sealing.models import IssuedReport


def read_issued(row: IssuedReport) -> bytes:
    """The file, proved by its digest. Raises Refused where it is not as it was issued."""
    return read_kept(row.path, row.sha256, f"The {row}", "issued")


def issued_files() -> Iterator[tuple[str, Path]]:
    """Every file that is named: its place in the folder of the data, and its path."""
    for row in IssuedReport.objects.only("sha256").order_by("id").iterator(2000):
        yield f"issued/{row.sha256[:2]}/{row.sha256}", row.path


def check_issued(proof: Proof) -> None:
    """What `verify` proves of issued reports: each file is as it was issued, and its ledger is the one that stands."""
    for row in IssuedReport.objects.order_by("id").iterator(200):
        try:
            read_issued(row)
        except Refused as refused:
            proof.fault(refused.message)
