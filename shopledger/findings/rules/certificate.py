"""Work on refrigerant by someone without a certificate that allows it, valid on the day."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.reference.rule import WORK, System
from inventory.reference.rulebook import Rulebook
from jobs.drafts.models import Job
from jobs.people.queries import certificates_by_person
from jobs.signing.objections import in_training
from shopledger.findings.finding import Finding, cited
from shopledger.reporting.report import Period, Worded, called, joined


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    held = certificates_by_person()
    jobs = Job.objects.filter(state="signed", day__gte=period.first, day__lte=period.last)
    for job in jobs.select_related("technician", "unit").prefetch_related("lines").order_by("day", "id"):
        done = {line.action for line in job.lines.all()} & {"recover", "charge"}
        if job.leak_result != "not checked":
            done.add("leak-check")
        schemes = [one.scheme for one in held[job.technician_id] if one.valid_on(job.day)]
        who = called(job.technician.username, job.technician.name)
        system = System(job.unit.equipment, job.substance, job.charge_max_mg, job.unit.sealed)
        for work in sorted(done):
            demand = rules.certificate_demand(work, job.unit.equipment, job.substance, job.day)
            if demand is None or any(rules.grant(scheme, work, system, job.day) for scheme in schemes):
                continue
            supervised = job.reasons.get(f"certificate-{work}", "")
            if supervised and in_training(job.technician.trainee_since, job.day, demand):
                yield Finding(
                    "low",
                    "trainee",
                    cited(demand),
                    joined(
                        f"Job {job.title} of {job.day}: ",
                        who,
                        f", in training since {job.technician.trainee_since}, had to {WORK[work]} under supervision",
                        Worded(f": {supervised}", ""),
                        ".",
                    ),
                    reverse("person", args=[job.technician_id]),
                    job.day,
                )
                continue
            yield Finding(
                "high",
                "certificate",
                cited(demand),
                joined(
                    f"Job {job.title} of {job.day}: ",
                    who,
                    f" had no certificate on file that allowed to {WORK[work]} ({job.substance}) on that day.",
                ),
                reverse("person", args=[job.technician_id]),
                job.day,
            )
