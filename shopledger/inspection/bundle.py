"""The inspection bundle: one ZIP that answers an inspector's questions without this program, and proves itself.

index.html            what is in it, with links
check.html            how anyone recomputes the chain with standard tools
reports/NAME.pdf .csv every report of the period
jobs/NUMBER.pdf       every job sheet of the period
certificates.csv      whoever did the work, and under which certificate
papers/               invoices, receipts and photos of the period, scans of certificates
issued/               reports as they were issued when days of the period were sealed
trail.jsonl           what happened outside the ledger, a line a change: who, when, before, after
vouchers.jsonl        a line a voucher: its text, its digest, the digest before
who.csv               the names behind the codes of parties and customers, as they are now
seals.json            sealed days
manifest.json         last: the period, the ledger's head, SHA-256 and size of every other file
"""

import html
import json
import os
import re
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from django.db.models import QuerySet
from django.utils import timezone

from inventory.attachments.actions import read_bytes
from inventory.attachments.models import Attachment
from inventory.audit.queries import as_lines, changes_between
from inventory.ledger import canonical
from inventory.ledger.chain import links
from inventory.ledger.models import Seal, Voucher
from inventory.ledger.queries import head, revisions_of
from inventory.ledger.snapshot import standing_copy
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from jobs.drafts.models import Job
from jobs.people.models import Certificate
from jobs.sheet.job_sheet import job_sheet
from shopledger.backup import archive
from shopledger.inspection.who import Who
from shopledger.reporting.output import make, written
from shopledger.reporting.report import Period
from shopledger.reports.registry import REPORTS
from shopledger.sealing.models import IssuedReport
from shopledger.sealing.proof import read_issued

MANIFEST = "manifest.json"
Say = Callable[[int, int], None]


@dataclass(frozen=True)
class Bundled:
    """What a bundle holds: how many files, vouchers, job sheets, and the ledger's head in it."""

    files: int
    vouchers: int
    jobs: int
    number: int
    digest: str


def write_bundle(period: Period, path: Path, made_by: str, say: Say = lambda done, total: None) -> Bundled:
    """Write a bundle of one moment of the ledger to a file that is not there yet; what lies on the disk beside the
    ledger never changes. Raises Refused where that cannot be."""
    if path.exists():
        raise Refused(f"{path} is there already; a bundle never takes another's place. Name a new file.", "output")
    if not path.parent.is_dir():
        raise Refused(f"There is no folder {path.parent}; make it first, or name another.", "output")
    unfinished = path.with_name(f".unfinished-{os.getpid()}-{path.name}")
    try:
        writer = archive.Writer(unfinished, MANIFEST)
        with standing_copy():
            done = _write(writer, period, made_by, say)
        os.replace(unfinished, path)
        return done
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
        self.who = Who()
        self.done = 0

    def put(self, name: str, body: bytes | Iterable[bytes], title: str) -> None:
        self.writer.member(name, [body] if isinstance(body, bytes) else body)
        self.listed.append((name, title))

    def step(self) -> None:
        self.done += 1
        self.say(self.done, self.total)


def _write(writer: archive.Writer, period: Period, made_by: str, say: Say) -> Bundled:
    number, digest = head()
    jobs = Job.objects.filter(state__in=["signed", "corrected"], day__gte=period.first, day__lte=period.last)
    jobs = jobs.select_related("unit__customer", "technician", "voucher", "signed_by", "corrects").order_by("day", "id")
    into = _Contents(writer, len(REPORTS) + jobs.count() + 2, say)
    _put_reports(into, period, made_by)
    sheets = _put_sheets(into, jobs)
    _put_papers(into, period, made_by)
    vouchers = _put_records(into, period)
    into.put("check.html", _page("How to check this bundle", CHECK).encode(), "How to check this bundle")
    writer.member("index.html", [_index(period, made_by, into.listed, number, digest).encode()])
    into.step()
    shop = Shop.current()
    manifest = {
        "kind": "inspection bundle",
        "shop": shop.name,
        "from": str(period.first),
        "to": str(period.last),
        "made_at": timezone.now().isoformat(),
        "made_by": made_by,
        "rulebook": str(shop.rules),
        "head": {"number": number, "digest": digest},
    }
    writer.close(manifest)
    return Bundled(len(writer.files), vouchers, sheets, number, digest)


def _put_reports(into: _Contents, period: Period, made_by: str) -> None:
    for report in REPORTS.values():
        made = make(report, period, None, made_by, drawn=True)
        into.who.read_table(made.table)
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


def _put_papers(into: _Contents, period: Period, made_by: str) -> None:
    people = make(REPORTS["people"], period, None, made_by)
    into.put("certificates.csv", written(people, "csv"), "Certificates")
    for one in _papers(period):
        into.put(f"papers/{one.pk}-{one.name}", read_bytes(one), f"{one} ({one.subject})")
    into.step()


def _put_records(into: _Contents, period: Period) -> int:
    """Vouchers, whom they name by codes, seals, reports as issued, and the trail; returns how many vouchers."""
    vouchers, first, last = _range(period)
    lines = _lines(first, last, into.who) if vouchers else iter(())
    into.put("vouchers.jsonl", lines, "Every voucher of the period, as the chain's digests stand for it")
    into.put("who.csv", into.who.as_csv(), "Who is meant by P-000001, C-000001 and so on")
    kept = ("number", "digest", "made_at", "made_by")
    seals = [
        {"through": str(one.through), **{name: getattr(one, name) for name in kept}}
        for one in Seal.objects.order_by("through")
    ]
    into.put("seals.json", json.dumps(seals, indent=1).encode(), "Sealed days")
    for row in IssuedReport.objects.filter(first__gte=period.first, last__lte=period.last):
        into.put(f"issued/{row.filename}", read_issued(row), f"{row}, as issued when the days were sealed")
    trail = as_lines(changes_between(period.first, period.last))
    into.put("trail.jsonl", trail, "What happened outside the ledger: people, certificates, units, settings")
    return vouchers


def _lines(first: int, last: int, who: Who) -> Iterator[bytes]:
    for link in links(first, last):
        who.read_text(link.text)
        yield link.as_line()


def _range(period: Period) -> tuple[int, int, int]:
    """How many vouchers lie between the first and the last number that the period has: entries of other days that
    were recorded between them are among them, so that the chain has no gap."""
    numbers = Voucher.objects.filter(day__gte=period.first, day__lte=period.last).order_by("number")
    first = numbers.values_list("number", flat=True).first()
    last = numbers.values_list("number", flat=True).last()
    return (last - first + 1, first, last) if first else (0, 1, 0)


def _papers(period: Period) -> Iterator[Attachment]:
    """Files that the period rests on: of its vouchers and its jobs, and scans of the certificates of who did them."""
    days = {"day__gte": period.first, "day__lte": period.last}
    jobs = Job.objects.filter(state__in=["signed", "corrected"], **days)
    certificates = Certificate.objects.filter(person__in=jobs.order_by().values("technician"))
    kept = {
        "voucher": set(revisions_of(Voucher.objects.filter(**days)).values_list("number", flat=True)),
        "job": set(jobs.values_list("pk", flat=True)),
        "certificate": set(certificates.values_list("pk", flat=True)),
    }
    for one in Attachment.objects.filter(withdrawn_at=None).iterator(500):
        kind, _, key = one.subject.partition(":")
        if key.isdigit() and int(key) in kept.get(kind, ()):
            yield one


def _page(title: str, body: str) -> str:
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{html.escape(title)}</title></head>'
        f"<body><h1>{html.escape(title)}</h1>{body}</body></html>"
    )


def _index(period: Period, made_by: str, listed: list[tuple[str, str]], number: int, digest: str) -> str:
    shop = Shop.current()
    book = shop.rules
    rows = "".join(
        f'<li><a href="{html.escape(name)}">{html.escape(title)}</a> <small>{html.escape(name)}</small></li>'
        for name, title in listed
    )
    cautions = " ".join(html.escape(caution.sentence) for caution in book.cautions("report", period.last))
    invented = "<p><strong>An invented shop: nothing in it is real.</strong></p>" if shop.invented else ""
    body = (
        f"<p>{html.escape(shop.name)}, {html.escape(shop.address)}</p>{invented}"
        f"<p>{period.first} to {period.last}. Made {timezone.now():%Y-%m-%d %H:%M} UTC by {html.escape(made_by)}. "
        f"Rulebook: {html.escape(str(book))}.</p>"
        f"<p>The ledger stood at voucher {number}; its digest was <code>{digest}</code>.</p>"
        f"<ul>{rows}</ul><p>{cautions}</p><p>Check local rules; licensed practice comes first.</p>"
    )
    return _page("Inspection bundle", body)


CHECK = """<p>Each line of <code>vouchers.jsonl</code> is a voucher: <code>text</code> is all that it says,
<code>digest</code> is the SHA-256 of <code>previous</code>, a line feed and <code>text</code>, in UTF-8. The first
voucher of a ledger has 64 zeros before it. Whoever changes a word changes the digest, and every one after it.</p>
<p>A supplier, reclaimer, destroyer or customer stands there by a code, e.g. <code>P-000003</code>, since a name may
change. <code>who.csv</code> says who is meant, as they were called when the bundle was made.</p>
<p>One voucher by hand: <code>printf '%s\\n%s' "$previous" "$text" | sha256sum</code>. All of them:</p>
<pre>python3 - &lt;&lt;'END'
import hashlib, json
before = None
for line in open("vouchers.jsonl", encoding="utf-8"):
    v = json.loads(line)
    assert before in (None, v["previous"]), ("a gap before", v["number"])
    made = hashlib.sha256((v["previous"] + "\\n" + v["text"]).encode()).hexdigest()
    assert made == v["digest"], ("changed", v["number"])
    assert json.loads(v["text"])[1] == v["number"]
    before = v["digest"]
print("the chain holds, its last digest is", before)
END</pre>
<p>The files: <code>manifest.json</code> names the SHA-256 of each; <code>sha256sum FILE</code> says what it is now.
The shop's ledger says whether it still holds a digest: its page Proof, or <code>manage.py verify --head DIGEST</code>.
Papers printed earlier carry the digest of their day: it must stand in this chain, or in one that
goes on from it.</p>"""


def check_bundle(path: Path) -> Bundled:
    """Read a whole bundle; raises Refused naming the first file, or voucher, that is not as it was written."""
    try:
        reader = archive.Reader(path, MANIFEST)
        reader.prove()
        if reader.manifest.get("kind") != "inspection bundle":
            raise archive.Damaged(f"{path} is no inspection bundle.")
        count = _check_chain(reader)
    except archive.Damaged as damaged:
        raise Refused(f"The bundle does not hold. {damaged}") from None
    jobs = sum(name.startswith("jobs/") for name in reader.manifest["files"])
    at = reader.manifest["head"]
    reader.close()
    return Bundled(len(reader.manifest["files"]), count, jobs, at["number"], at["digest"])


def _check_chain(reader: archive.Reader) -> int:
    count, before, left = 0, None, b""
    for chunk in reader.chunks("vouchers.jsonl"):
        *lines, left = (left + chunk).split(b"\n")
        for line in lines:
            said = json.loads(line)
            if before not in (None, said["previous"]):
                raise archive.Damaged(f"vouchers.jsonl: before voucher {said['number']} one is missing.")
            if canonical.digest(said["previous"], said["text"]) != said["digest"]:
                raise archive.Damaged(f"vouchers.jsonl: voucher {said['number']} is not what its digest was made from.")
            before = said["digest"]
            count += 1
    return count
