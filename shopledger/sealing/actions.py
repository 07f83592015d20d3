"""Sealing a period, keeping its reports as they are then, and giving its receipt away."""

import datetime as dt
import hashlib
import os
import uuid
from collections.abc import Sequence
from itertools import groupby
from operator import itemgetter
from pathlib import Path

from inventory.ledger.actions import Draft, writing
from inventory.ledger.models import Seal
from inventory.ledger.seals import seal
from inventory.measures.days import said_day
from inventory.shop.clock import today
from inventory.shop.models import Shop
from inventory.text.clean import clean
from inventory.text.refusal import Refused
from shopledger.reporting.output import Made, make, written
from shopledger.reports.registry import REPORTS, wanted
from shopledger.reports.usage import NotBalanced
from shopledger.sealing.models import IssuedReport
from shopledger.sealing.queries import FORMATS, HANDED, missing, period_of
from shopledger.sealing.receipt import entered, place_of, receipt_pdf

MOST_TO = 200  # characters of whom a receipt was given to


def seal_period(through: dt.date, by: str) -> Seal:
    """Close all days up to and including `through`. A day that is the last of an earlier seal answers with that seal.
    Raises Refused for another day that is sealed already, for one that has not ended, and where the ledger contradicts
    itself. by: a username. The reports are kept by `issue`, which may be called again until it has kept them all."""
    known = Seal.objects.filter(through=through).first()
    if known:
        return known
    return seal(through, by, owed(through))


def owed(through: dt.date) -> list[str]:
    """The report files that a seal which is made now owes."""
    return [f"{name}.{kind}" for name in wanted(Shop.current().rules, through) for kind in FORMATS]


def issue(made: Seal, by: str) -> list[IssuedReport]:
    """Keep every report of the sealed period that is not kept yet; returns those that were kept now. Raises Refused
    where a file cannot be written; what was kept before stays."""
    period = period_of(made)
    if period is None:
        return []
    drawn: list[IssuedReport] = []
    try:
        for name, kinds in groupby(missing(made), key=itemgetter(0)):
            try:
                report = make(REPORTS[name], period, None, by, drawn=True)
            except NotBalanced as fault:
                raise Refused(f"The {name} report cannot be issued. {fault}") from None
            drawn += [_drawn(made, report, kind) for _, kind in kinds]
    finally:
        kept = _enter(made, drawn)
    return kept


def keep_receipt(made: Seal) -> Path:
    """Where the receipt lies on the disk, written now where it is not there yet; what is there stays as it is. Raises
    Refused where it cannot be written, or where no entry of the chain made this seal."""
    path = place_of(made)
    if not path.exists():
        _store(path, receipt_pdf(made), "The receipt")
    return path


def hand_out(made: Seal, *, to: str, day: dt.date, by: str, key: str) -> int:
    """Enter that somebody holds a receipt of this seal; returns the entry's number. key: of the form; the same form
    enters once. Raises Refused: nobody named, a day before the seal or one to come, a seal that no entry made."""
    with writing() as ledger:
        posted = ledger.posted(key)
        if posted is not None:
            return posted
        entry, to = entered(made), clean(to, "to", MOST_TO)
        if not to:
            raise Refused("Name who holds it now.", "to")
        if day < entry.day:
            raise Refused(
                f"The receipt is of {said_day(entry.day)}: nobody had it before. Enter that day or a later one.", "day"
            )
        if day > today():
            raise Refused(f"{said_day(day)} is still to come. Enter it once somebody has the receipt.", "day")
        through = made.through.isoformat()
        said = {"seal_voucher": entry.number, "sealed_through": through, "handed_out_on": day.isoformat()}
        number = ledger.post(Draft(kind="handout", day=today(), recorded_by=by, detail=said, key=key))
        body = {"day": day.isoformat(), "entry": entry.number, "digest": entry.digest}
        ledger.state(HANDED, through, body, {"to": to}, new=True)  # given twice in the same words, it is said twice
        return number


def _drawn(made: Seal, report: Made, kind: str) -> IssuedReport:
    body = written(report, kind, in_codes=True)
    row = IssuedReport(
        seal=made,
        report=report.report.name,
        format=kind,
        first=report.period.first,
        last=report.period.last,
        number=report.number,
        digest=report.digest,
        sha256=hashlib.sha256(body).hexdigest(),
        size=len(body),
        made_at=report.made_at,
        made_by=report.made_by,
    )
    _store(row.path, body, "The report")
    return row


def _enter(made: Seal, drawn: Sequence[IssuedReport]) -> list[IssuedReport]:
    """Enter the reports whose files are kept, as one entry; those that another process entered first are left out."""
    if not drawn:
        return []
    with writing():
        wanted = set(missing(made))
        kept = [row for row in drawn if (row.report, row.format) in wanted]
        for row in kept:
            row.save(force_insert=True)
    return kept


def _store(path: Path, body: bytes, what: str) -> None:
    """Whole on the disk before its row is. what: it is, at the beginning of a sentence."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        unfinished = path.with_name(f".{path.name}-{uuid.uuid4().hex[:8]}")
        try:
            with unfinished.open("xb") as file:
                file.write(body)
                file.flush()
                os.fsync(file.fileno())
            os.replace(unfinished, path)
        finally:
            unfinished.unlink(missing_ok=True)
    except OSError as error:
        raise Refused(
            f"{what} could not be kept: {error.strerror}. Free some room on the server, then keep the rest."
        ) from None
