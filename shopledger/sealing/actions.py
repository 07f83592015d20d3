"""Sealing a period, and keeping its reports as they are then."""

import datetime as dt
import hashlib
import os
import uuid
from pathlib import Path

from django.db import DatabaseError, transaction

from inventory.ledger.models import Seal
from inventory.ledger.seals import seal
from inventory.text.refusal import Refused
from shopledger.reporting.output import make, written
from shopledger.reports.registry import REPORTS
from shopledger.reports.usage import NotBalanced
from shopledger.sealing.models import IssuedReport
from shopledger.sealing.queries import FORMATS, missing, period_of


def seal_period(through: dt.date, by: str) -> Seal:
    """Close all days up to and including `through`. A day that is the last of an earlier seal answers with that seal.
    Raises Refused for another day that is sealed already, for one that has not ended, and where the ledger contradicts
    itself. The reports are kept by `issue`, which may be called again until it has kept them all."""
    known = Seal.objects.filter(through=through).first()
    if known:
        return known
    return seal(through, by)


def issue(made: Seal, by: str) -> list[IssuedReport]:
    """Keep every report of the sealed period that is not kept yet; returns those that were kept now. Raises Refused
    where a file cannot be written; what was kept before stays."""
    period = period_of(made)
    if period is None:
        return []
    kept = []
    wanted = missing(made)
    for name in dict.fromkeys(name for name, _ in wanted):
        try:
            report = make(REPORTS[name], period, None, by, drawn=True)
        except NotBalanced as fault:
            raise Refused(f"The {name} report cannot be issued. {fault}") from None
        for kind in FORMATS:
            if (name, kind) not in wanted:
                continue
            body = written(report, kind)
            row = IssuedReport(
                seal=made,
                report=name,
                format=kind,
                first=period.first,
                last=period.last,
                number=report.number,
                digest=report.digest,
                sha256=hashlib.sha256(body).hexdigest(),
                size=len(body),
                made_at=report.made_at,
                made_by=by,
            )
            _store(row.path, body)
            try:
                with transaction.atomic():
                    row.save(force_insert=True)
            except DatabaseError:
                if (name, kind) in missing(made):
                    raise
            else:  # otherwise another process kept it first
                kept.append(row)
    return kept


def _store(path: Path, body: bytes) -> None:
    """Whole on the disk before its row is."""
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
            f"The report could not be kept: {error.strerror}. Free some room on the server, then keep the rest."
        ) from None
