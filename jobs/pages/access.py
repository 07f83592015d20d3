"""Which jobs a page shows to whom."""

from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from django.urls import reverse

from inventory.ledger.models import Voucher
from jobs.drafts.models import Job
from jobs.drafts.queries import jobs_for
from jobs.people.models import Person


def job_or_404(request: HttpRequest, pk: int) -> Job:
    """The job, where this person may see it: a technician their own."""
    jobs = jobs_for(request.user).select_related("unit__customer", "technician", "voucher", "corrects", "signed_by")
    return get_object_or_404(jobs, pk=pk)


def by_now(request: HttpRequest, shown: Job) -> Job:
    """The job as it is by now, to answer with; as it was, where nobody sees the answer (jobs/practice)."""
    return shown if getattr(request, "unseen", False) else job_or_404(request, shown.pk)


def correcting_address(voucher: Voucher, person: Person) -> str:
    """Where the job of a voucher is corrected; blank where this person may not, or it does not stand."""
    job = Job.objects.filter(voucher=voucher, state="signed").first()
    may = job is not None and (person.role != "technician" or job.technician_id == person.pk)
    return reverse("job-correct", args=[job.pk]) if may else ""
