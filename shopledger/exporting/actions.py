"""All of a shop out again, in the files of a log (shopledger/logbook): loaded into an empty database it has the same
reports. What was corrected is exported as what stands; what these files cannot hold is counted and said."""

import csv
import io
import json
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from inventory.correcting.again import Said
from inventory.ledger.models import BESIDE_STOCK, Voucher
from inventory.ledger.records import record_kinds
from inventory.ledger.snapshot import one_moment
from inventory.shop.clock import zone
from jobs.drafts.models import Job
from shopledger.exporting import register
from shopledger.exporting.jobs import Jobs
from shopledger.exporting.moments import Moments
from shopledger.exporting.stock import KINDS, Stock
from shopledger.logbook.doubting import EXPORTED
from shopledger.logbook.folder import ANSWERS, FILES, LEFT, columns, digest_of

FOLLOWS = {"reversal", "restatement"} | BESIDE_STOCK  # what follows from other entries, or states something
Cells = dict[str, str]


@dataclass
class Exported:
    """rows: by file. left: what is not carried, each a sentence."""

    rows: dict[str, list[Cells]] = field(default_factory=dict)
    left: list[str] = field(default_factory=list)

    def add(self, file: str, cells: Cells) -> None:
        self.rows.setdefault(file, []).append(cells)

    def add_all(self, file: str, rows: Iterable[Cells]) -> None:
        for cells in rows:
            self.add(file, cells)

    def texts(self) -> Iterator[tuple[str, str]]:
        """Each file as text, with the columns that must stand there and those in which something does."""
        for name in FILES:
            rows = self.rows.get(name, [])
            if not rows:
                continue
            needed = {column.rstrip("*") for column in FILES[name] if column.endswith("*")}
            heads = [column for column in columns(name) if column in needed or any(row.get(column) for row in rows)]
            out = io.StringIO(newline="")
            writer = csv.DictWriter(out, heads, extrasaction="ignore", restval="")
            writer.writeheader()
            writer.writerows(rows)
            yield name, out.getvalue()

    def files(self) -> Iterator[tuple[str, str]]:
        """All that is written. With the answer to what loading it asks: what can hardly be was asked about when it was
        entered, or loaded, and is right."""
        texts = list(self.texts())
        yield from texts
        digest = digest_of((name, text.encode()) for name, text in texts)
        yield ANSWERS, json.dumps({EXPORTED: digest}) + "\n"
        yield LEFT, "Not in these files:\n" + "".join(f"{one}\n" for one in self.left)

    @property
    def count(self) -> int:
        return sum(len(rows) for rows in self.rows.values())


def export() -> Exported:
    """Everything that stands, read from one moment of the ledger."""
    with one_moment():
        return _export()


def _export() -> Exported:
    found = Exported()
    acts = [Said(one) for one in Voucher.objects.standing().exclude(kind__in=FOLLOWS).order_by("number")]
    told = [act for act in acts if "event" in act.detail and (act.voucher.kind in KINDS or act.voucher.kind == "job")]
    moments = Moments(zone())
    for act in told:
        first = act.voucher.first_revision_id or act.voucher.number
        moments.note(act.voucher.number, act.event, first)
    moments.settle()
    for name, rows in REGISTER.items():
        found.add_all(name, rows())
    stock = Stock(moments)
    jobs = Jobs(stock)
    for act in told:
        for file, cells in jobs.of(act) if act.voucher.kind == "job" else stock.of(act):
            found.add(file, cells)
    found.add_all("reasons.csv", register.reasons(moments))
    found.left = list(_left(len(acts) - len(told)))
    return found


REGISTER = {
    "shop.csv": register.shop,
    "people.csv": register.people,
    "parties.csv": register.parties,
    "scales.csv": register.scales,
    "customers.csv": register.customers,
    "premises.csv": register.premises,
    "methods.csv": register.methods,
    "units.csv": register.units,
    "full_charges.csv": register.full_charges,
    "scale_checks.csv": register.scale_checks,
    "machines.csv": register.machines,
    "machine_checks.csv": register.machine_checks,
    "container_checks.csv": register.container_checks,
    "leak_events.csv": register.leak_events,
}


# Kinds of records of which these files say all that a report asks for.
CARRIED = {
    "settings",
    "person",
    "certificate",
    "party",
    "scale",
    "scale-check",
    "machine",
    "machine-check",
    "container-check",
    "customer",
    "premises",
    "leak-rate-method",
    "unit",
    "full-charge",
    "leak-event",
    "job",
    "substance",
    "place",
    "container",
    "count-reason",
}


def _left(others: int) -> Iterator[str]:
    """What a log's files do not hold, as far as there is any of it."""
    counted = {
        "drafts of jobs": Job.objects.filter(state="draft").count(),
        "checks for leaks of containers that were not here on that day": register.container_checks_left(),
        "entries that take back or restate others": Voucher.objects.filter(kind__in=FOLLOWS - BESIDE_STOCK).count(),
        "entries of a kind that a log has no file for": others,
    }
    for model, kind in record_kinds.items():
        if kind.name not in CARRIED:
            counted[f"records of kind {kind.name.replace('-', ' ')}"] = model._base_manager.count()
    yield from (f"{count} {what}" for what, count in counted.items() if count)
    yield "passwords, and who recorded what when: the record begins anew where it is loaded"


def write_folder(found: Exported, folder: Path) -> None:
    """Raises FileExistsError where the folder holds something, OSError where it cannot be written."""
    folder.mkdir(parents=True, exist_ok=True)
    if any(folder.iterdir()):
        raise FileExistsError(f"{folder} is not empty; name one that is new or empty.")
    for name, text in found.files():
        (folder / name).write_text(text, encoding="utf-8", newline="")


def as_zip(found: Exported) -> bytes:
    """The same files in one."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in found.files():
            archive.writestr(name, text)
    return out.getvalue()
