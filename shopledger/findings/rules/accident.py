"""Refrigerant that got out by accident: what is reported of it, what nobody said was done, what may leak still."""

import datetime as dt
from collections.abc import Iterator

from django.urls import reverse

from inventory.containers.models import ContainerCheck
from inventory.measures.quantity import show
from inventory.reference.rulebook import Rulebook
from inventory.releases.asked import report_of
from inventory.releases.causes import ITSELF
from inventory.releases.queries import Released, released_in
from jobs.drafts.models import Job
from jobs.leaks.models import LeakEvent
from jobs.leaks.released import asked_of
from shopledger.findings.finding import GOOD_PRACTICE, Finding
from shopledger.reporting.report import Period, called, joined

REPAIRED = "found and repaired"


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    for one in released_in(period.first, period.last):
        if not one.container.is_oil:
            yield from _of_container(one, rules)
    events = LeakEvent.objects.filter(kind="release", voided_on=None, day__gte=period.first, day__lte=period.last)
    for event in events.select_related("unit").order_by("day", "id"):
        yield from _of_unit(event, rules)


def _of_container(one: Released, rules: Rulebook) -> Iterator[Finding]:
    where, day = reverse("voucher", args=[one.voucher.number]), one.voucher.day
    much = f"{show(one.quantity, 'kg')} of {one.substance}"
    what = f"{much} got out of {one.container.code}, voucher {one.voucher.number}"
    report = report_of(rules, one.substance, one.quantity, day)
    if report is not None and (report.by is not None or report.is_open):
        severity = "low" if report.is_open else "high"
        yield Finding(severity, "release", report.cited, f"{what}. {report.said}", where, day, report)
    if not one.voucher.note.strip():
        said = f"{what}, and nothing says what was done about it."
        yield Finding("low", "release", GOOD_PRACTICE, said, where, day)
    if one.cause in ITSELF and not one.container.retired_on and one.container.content and not _tight(one):
        said = f"{what}; it is in use, and no check since says that it is tight."
        yield Finding("medium", "container leaks", GOOD_PRACTICE, said, where, day)


def _tight(one: Released) -> bool:
    checks = ContainerCheck.objects.filter(container=one.container, day__gte=one.voucher.day)
    return checks.values_list("leaks", flat=True).order_by("-day", "-id").first() is False


def _of_unit(event: LeakEvent, rules: Rulebook) -> Iterator[Finding]:
    where = reverse("leak-event", args=[event.pk])
    much = "Refrigerant" if event.released_mg is None else show(event.released_mg, "kg")
    what = [f"{much} got out of ", called(event.unit.code, event.unit.title), f" on {event.day}"]
    repair, *reports = asked_of(event, rules)
    for report in reports:
        if report.by is not None or report.is_open:
            severity = "low" if report.is_open else "high"
            yield Finding(
                severity, "release", report.cited, joined(*what, f". {report.said}"), where, event.day, report
            )
    if not _repaired(event.unit_id, event.day):
        said = joined(*what, f", and no repair since is on record. {repair.said}")
        severity = "low" if repair.is_open else "medium"
        yield Finding(severity, "leak not repaired", repair.cited or GOOD_PRACTICE, said, where, event.day, repair)


def _repaired(unit_id: int, since: dt.date) -> bool:
    repairs = LeakEvent.objects.filter(unit=unit_id, kind="repair", voided_on=None, day__gte=since)
    jobs = Job.objects.filter(unit=unit_id, state="signed", leak_result=REPAIRED, day__gte=since)
    return repairs.exists() or jobs.exists()
