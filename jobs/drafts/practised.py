"""A practice job, of which nothing is kept (jobs/practice): what it can reach. Its containers are invented with it and
known by their codes; the shop's own stay out of it."""

from django.db.models import QuerySet

from inventory.containers.models import Container
from inventory.text.refusal import Refused
from jobs.drafts.models import Job

PRACTICE = 0  # its key, as addresses have it: no job that is kept has it
CODES = "PRACTICE-"  # what the codes of invented containers begin with


def is_practice(job: Job) -> bool:
    return job.pk == PRACTICE


def within_reach(job: Job, containers: QuerySet[Container]) -> QuerySet[Container]:
    """Those of the containers that a job is offered: in practice the invented ones."""
    return containers.filter(code__startswith=CODES) if is_practice(job) else containers


def refuse_real(job: Job, container: Container | None) -> None:
    """Raises Refused where a practice job names one of the shop's own containers."""
    if is_practice(job) and container is not None and not container.code.startswith(CODES):
        raise Refused(
            f"{container.code} is a real container, and this is practice: nothing is taken out of it here. Practise "
            f"with the containers whose codes begin with {CODES}.",
            "container",
        )
