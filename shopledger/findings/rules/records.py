"""Jobs, leak checks, disposals and units whose record does not say what a rule asks of it."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.reference.rulebook import Rulebook
from inventory.shop.models import Shop
from inventory.verdicts.records import Asked, records
from inventory.verdicts.verdict import Verdict
from jobs.drafts.models import Job
from jobs.units.models import Unit
from shopledger.findings.finding import Finding
from shopledger.findings.said import ALWAYS, Kept, of_jobs, of_units
from shopledger.reporting.report import Period, called, joined

OURS = ("contractor", "technician")  # whose records a shop keeps of its work


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    can_lack = [rule for rule in rules.sections["record"] if not ALWAYS.issuperset(rule.fields)]
    asked = {rule.record for rule in can_lack}
    jobs = Job.objects.filter(state="signed", day__gte=period.first, day__lte=period.last)
    if asked & {"job", "leak-check", "disposal"}:
        by_grade = any(rule.grades != ("*",) for rule in can_lack)
        yield from _of_jobs(jobs.prefetch_related("lines__container") if by_grade else jobs, rules, by_grade)
    if "equipment" in asked:
        yield from _of_units(jobs, rules, period)


def _of_jobs(jobs, rules: Rulebook, by_grade: bool) -> Iterator[Finding]:
    """by_grade: whether any rule asks what was charged; the entries of the jobs are not looked at otherwise."""
    loaded = jobs.select_related("technician", "unit__customer", "unit__premises").order_by("day", "id")
    for kept in of_jobs(loaded, Shop.current(), by_grade):
        job = kept.job
        for kind in _kinds(job):
            for why in _wanting(kind, kept, rules):
                yield Finding(
                    "medium" if why.is_breach else "low",
                    "record",
                    why.cited,
                    f"Job {job.title} of {job.day}. {why.said}",
                    reverse("job", args=[job.pk]),
                    job.day,
                    why,
                )


def _kinds(job: Job) -> list[str]:
    """Which records a job is."""
    asked = {
        "job": bool(job.charged_mg or job.recovered_mg),
        "leak-check": job.leak_checked,
        "disposal": job.recover_why == "disposal",
    }
    return [kind for kind, is_one in asked.items() if is_one]


def _wanting(kind: str, kept: Kept, rules: Rulebook) -> list[Verdict]:
    found = [
        why for by in OURS for why in records(rules, Asked(kind, by, kept.system, kept.grades), kept.said, kept.job.day)
    ]
    return [why for why in found if why.is_breach or why.is_open]


def _of_units(jobs, rules: Rulebook, period: Period) -> Iterator[Finding]:
    """The owner's record of a unit that was worked on, as far as it is kept here."""
    units = Unit.objects.filter(pk__in=jobs.values("unit")).select_related("customer", "premises").order_by("id")
    for unit, system, said in of_units(units, period.last):
        for why in records(rules, Asked("equipment", "owner", system), said, period.last):
            if why.is_breach or why.is_open:
                yield Finding(
                    "low",
                    "record of a unit",
                    why.cited,
                    joined("Unit ", called(unit.code, unit.title), f". {why.said}"),
                    reverse("unit", args=[unit.pk]),
                    verdict=why,
                )
