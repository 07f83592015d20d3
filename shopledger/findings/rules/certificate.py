"""Work on refrigerant by someone without a certificate that allows it, valid on the day; and what is open about it."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.reference.kinds import with_trait
from inventory.reference.rule import WORK
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.verdict import Verdict
from inventory.verdicts.work import SUPERVISOR_ASKED, Worker, by_paper, working
from jobs.drafts.models import Job
from jobs.people.queries import certificates_by_person
from jobs.signing.doing import done_with, handled_in, worked_on, works_of
from jobs.units.queries import full_charges
from shopledger.findings.charged import full_charge_of
from shopledger.findings.finding import Finding
from shopledger.reporting.report import Period, Worded, called, joined


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    held, confirmed = certificates_by_person(), set()
    jobs = Job.objects.filter(state="signed", day__gte=period.first, day__lte=period.last)
    jobs = list(jobs.select_related("technician", "unit").prefetch_related("lines__container").order_by("day", "id"))
    charges = full_charges([job.unit for job in jobs], period.last)
    for job in jobs:
        papers = [one.scheme for one in held[job.technician_id] if one.valid_on(job.day)]
        lines = list(job.lines.all())
        for work in works_of((line.action for line in lines), job.leak_checked):
            supervised = job.reasons.get(f"certificate-{work}", "")
            worker = Worker(papers, job.technician.trainee_since, bool(supervised))
            system = done_with(worked_on(job, full_charge_of(job, charges)), _by_machine(lines, work))
            verdict = working(rules, work, system, worker, job.day)
            once = (job.technician_id, work, verdict.rules[:1])
            if verdict.answer != "confirm" or once not in confirmed:  # which is asked of the authority once
                yield from _findings(job, work, verdict, papers, supervised)
            confirmed |= {once} if verdict.answer == "confirm" else set()


def _by_machine(lines: list, work: str) -> list[bool]:
    stations = with_trait("recycles")
    return [line.container.kind in stations for line in lines if line.container and line.action in handled_in(work)]


def _findings(job: Job, work: str, verdict: Verdict, papers: list[str], supervised: str) -> Iterator[Finding]:
    person = job.technician
    who, about = called(person.username, person.name), f"Job {job.title} of {job.day}: "
    mended, key = reverse("person", args=[job.technician_id]), "certificate"
    if verdict.answer == "met" and not by_paper(verdict):
        said = (f", in training since {person.trainee_since}, had to {WORK[work]} under supervision",)
        said, severity, key = (*said, Worded(f": {supervised}", ""), "."), "low", "trainee"
    elif SUPERVISOR_ASKED in verdict.ask:
        said, severity, key = (f" is in training, and nobody says who supervised to {WORK[work]}.",), "high", "trainee"
    elif verdict.is_open:
        said, severity, mended = (f": {verdict.said}",), "low", reverse("job", args=[job.pk])
    elif verdict.answer == "confirm":
        said, severity = (f": {verdict.said}",), "low"
    elif verdict.is_breach and by_paper(verdict):
        said, severity = (f": {verdict.said}",), "medium"
    elif verdict.is_breach:
        said = (f" had no certificate on file that allowed to {WORK[work]} ({job.substance}) on that day.",)
        severity = "high"
    else:
        return
    yield Finding(severity, key, verdict.cited, joined(about, who, *said), mended, job.day, verdict)
