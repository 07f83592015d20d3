"""The inspection bundle: one ZIP that answers an inspector's questions without this program, and proves itself.

index.html            what it proves, what to read first, what is in it
check.html            how anyone checks it by hand
verify.py             checks it with Python alone
reports/NAME.pdf .csv every report of the period
jobs/NUMBER.pdf       every job sheet of the period
certificates.csv      whoever did the work, and under which certificate
papers/               invoices, receipts and photos of the period, scans of certificates
issued/               reports as they were issued when days of the period were sealed
trail.jsonl           what happened outside the ledger, a line a change: who, when, before, after
vouchers.jsonl        a line an entry of the ledger: its text, its digest, the digest before (`contents.py` says which)
records.jsonl         a line a record that these name: its body, or of an erased one the entry that erased it
links.bin             32 bytes an entry, from the first on: what the chain's digests are made of
opening.jsonl         what each account held before the period, where a seal keeps that
who.csv               the names behind the codes of parties, customers, units and people, as they are now
seals.json            sealed days
manifest.json         the period, the ledger's id and head, SHA-256 and size of every other file
receipt.json          last: the entry that holds the SHA-256 of manifest.json, and the links up to it (`handout.py`)
"""

import json
import os
import re
import sqlite3
import tempfile
import uuid
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from django.db.models import QuerySet
from django.utils import timezone

from inventory.attachments.actions import read_bytes
from inventory.attachments.models import Attachment
from inventory.audit.queries import as_lines, records_between
from inventory.ledger.models import ChainHead, Seal, Voucher
from inventory.ledger.queries import head, revisions_of
from inventory.ledger.snapshot import standing_copy
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from jobs.drafts.models import Job
from jobs.people.models import Certificate
from jobs.sheet.job_sheet import job_sheet
from shopledger.backup import archive
from shopledger.inspection import contents, handout, index
from shopledger.inspection.who import Who
from shopledger.reporting.output import make, written
from shopledger.reporting.report import Period, Report, Worded
from shopledger.reports.registry import REPORTS, wanted
from shopledger.sealing.models import IssuedReport
from shopledger.sealing.proof import read_issued

MANIFEST, RECEIPT = "manifest.json", "receipt.json"
IN_MEMORY = 1 << 22  # bytes of links; more go through a file
Say = Callable[[int, int], None]


@dataclass(frozen=True)
class Bundled:
    """What a bundle holds: how many files, entries of its period, job sheets, and the ledger's head in it. entry,
    attests: the entry that names its list, and the digest of that, which attests all of it."""

    files: int
    vouchers: int
    jobs: int
    number: int
    digest: str
    entry: int = 0
    attests: str = ""


def write_bundle(
    period: Period, path: Path, made_by: str, say: Say = lambda done, total: None, key: uuid.UUID | None = None
) -> Bundled:
    """Write a bundle of one moment of the ledger to a file that is not there yet, and enter it in the ledger; what lies
    on the disk beside the ledger never changes. made_by: a username. key: of the bundle, made here where there is none.
    Raises Refused where that cannot be; it may then be entered all the same."""
    if path.exists():
        raise Refused(f"{path} is there already; a bundle never takes another's place. Name a new file.", "output")
    if not path.parent.is_dir():
        raise Refused(f"There is no folder {path.parent}; make it first, or name another.", "output")
    unfinished = path.with_name(f".unfinished-{os.getpid()}-{path.name}")
    try:
        writer = archive.Writer(unfinished, MANIFEST)
        with standing_copy():
            done, manifest = _write(writer, period, made_by, say)
        entry = handout.enter(manifest, writer.enlist(manifest), str(key or uuid.uuid4()), made_by)
        receipt, attests = handout.receipt(done.number, entry)
        writer.beside(RECEIPT, receipt)
        writer.close()
        os.replace(unfinished, path)
        return replace(done, entry=entry, attests=attests)
    except (OSError, sqlite3.Error) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise Refused(f"The bundle could not be written to {path}: {why}.", "output") from None
    finally:
        unfinished.unlink(missing_ok=True)


class _Contents:
    """What is written into a bundle, and its list for the index. say: is told how many of `total` pieces are done."""

    def __init__(self, writer: archive.Writer, total: int, say: Say):
        self.writer, self.total, self.say = writer, total, say
        self.listed: list[tuple[str, str]] = []
        self.rows: dict[str, int] = {}  # of each report
        self.papers: list[int] = []  # the attachments that the period rests on
        self.issued: list[int] = []  # the reports as they were issued
        self.who = Who()
        self.done = 0

    def put(self, name: str, body: bytes | Iterable[bytes], title: str) -> None:
        self.writer.member(name, [body] if isinstance(body, bytes) else body)
        self.listed.append((name, title))

    def step(self) -> None:
        self.done += 1
        self.say(self.done, self.total)


def _write(writer: archive.Writer, period: Period, made_by: str, say: Say) -> tuple[Bundled, dict[str, object]]:
    """Everything but the list of the files; returns what is in it, and what the list will say."""
    number, digest = head()
    jobs = Job.objects.filter(state__in=["signed", "corrected"], day__gte=period.first, day__lte=period.last)
    jobs = jobs.select_related("unit__customer", "technician", "voucher", "signed_by", "corrects").order_by("day", "id")
    reports = wanted(Shop.current().rules, period.last).values()
    into = _Contents(writer, len(reports) + jobs.count() + 2, say)
    by = into.who.person(made_by)
    _put_reports(into, reports, period, by)
    sheets = _put_sheets(into, jobs)
    _put_papers(into, period, by)
    entries = _put_records(into, period, number)
    into.put("verify.py", index.verifier(), "Checks this bundle with Python alone")
    into.put("check.html", index.check_page().encode(), "How to check this bundle by hand")
    told = index.Told(period, by, (number, digest), into.listed, into.rows)
    writer.member("index.html", [index.index_page(told).encode()])
    into.step()
    shop = Shop.current()
    manifest = {
        "kind": "inspection bundle",
        "shop": shop.name,
        "from": str(period.first),
        "to": str(period.last),
        "made_at": timezone.now().isoformat(),
        "made_by": by.coded,
        "rulebook": str(shop.rules),
        "ledger": ChainHead.objects.get(id=1).ledger_id,
        "head": {"number": number, "digest": digest},
        "entries": [entries.first, entries.last],
    }
    return Bundled(len(writer.files), entries.count, sheets, number, digest), manifest


def _put_reports(into: _Contents, reports: Iterable[Report], period: Period, by: Worded) -> None:
    for report in reports:
        made = make(report, period, None, by, drawn=True)
        into.who.read_table(made.table)
        into.rows[report.name] = len(made.table.rows)
        into.put(f"reports/{report.name}.pdf", written(made, "pdf"), f"{report.title}, to read")
        into.put(f"reports/{report.name}.csv", written(made, "csv"), f"{report.title}, to count with")
        into.step()


def _put_sheets(into: _Contents, jobs: QuerySet[Job]) -> int:
    """Every job sheet; returns how many."""
    sheets = 0
    for job in jobs.iterator(200):
        name = re.sub(r"[^\w.-]", "-", f"{job.number}-rev{job.revision}")
        into.put(f"jobs/{name}-{job.pk}.pdf", job_sheet(job), f"Job sheet {job.title}, {job.day}")
        sheets += 1
        into.step()
    return sheets


def _put_papers(into: _Contents, period: Period, by: Worded) -> None:
    people = make(REPORTS["people"], period, None, by)
    into.put("certificates.csv", written(people, "csv"), "Certificates")
    for one in _papers(period):
        into.papers.append(one.pk)
        if one.withdrawn_at is None and one.sha256:  # blank: erased
            into.put(f"papers/{one.pk}{Path(one.name).suffix}", read_bytes(one), f"{one} ({one.subject})")
    into.step()


def _put_records(into: _Contents, period: Period, number: int) -> contents.Entries:
    """Entries and their records, seals, reports as issued, the trail, and last whom all of it names by codes; returns
    which entries. number: the ledger's last."""
    kept = ("number", "digest", "made_at", "made_by")
    seals = [
        {"through": str(one.through), **{name: getattr(one, name) for name in kept}}
        for one in Seal.objects.order_by("through")
    ]
    said = json.dumps(seals, indent=1)
    into.who.read_text(said)
    into.put("seals.json", said.encode(), "Sealed days")
    for row in IssuedReport.objects.filter(first__gte=period.first, last__lte=period.last):
        body = read_issued(row)
        if row.format == "csv":
            into.who.read_csv(body.decode())
        into.issued.append(row.pk)
        into.put(f"issued/{row.filename}", body, f"{row}, as issued when the days were sealed")
    entries = contents.with_records(contents.entries_of(period, number), into.papers, into.issued)
    with tempfile.SpooledTemporaryFile(IN_MEMORY) as aside:
        texts = contents.texts(entries, into.who, aside)
        into.put("vouchers.jsonl", texts, "Every entry of the period, as the chain's digests stand for it")
        aside.seek(0)
        links = iter(lambda: aside.read(1 << 20), b"")
        into.put("links.bin", links, "What the digests of all entries are made of, 32 bytes each")
    into.put("records.jsonl", contents.records(entries, into.who), "The records that these entries name")
    opening = contents.opening(period)
    if opening is not None:
        into.put("opening.jsonl", opening, "What each account held before the period, as a seal keeps it")
    trail = into.who.reading(as_lines(records_between(period.first, period.last)))
    into.put("trail.jsonl", trail, "What happened outside the ledger: people, certificates, units, settings")
    into.put("who.csv", into.who.as_csv(), "Who is meant by P-000001, C-000001 and so on")
    return entries


def _papers(period: Period) -> Iterator[Attachment]:
    """Files that the period rests on, also those that are gone: of its vouchers and its jobs, and scans of the
    certificates of who did them."""
    days = {"day__gte": period.first, "day__lte": period.last}
    jobs = Job.objects.filter(state__in=["signed", "corrected"], **days)
    certificates = Certificate.objects.filter(person__in=jobs.order_by().values("technician"))
    kept = {
        "voucher": set(revisions_of(Voucher.objects.filter(**days)).values_list("number", flat=True)),
        "job": set(jobs.values_list("pk", flat=True)),
        "certificate": set(certificates.values_list("pk", flat=True)),
    }
    for one in Attachment.objects.order_by("id").iterator(500):
        kind, _, key = one.subject.partition(":")
        if key.isdigit() and int(key) in kept.get(kind, ()):
            yield one
