"""Which jobs a page shows to whom."""

from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from jobs.drafts.models import Job
from jobs.drafts.queries import jobs_for


def job_or_404(request: HttpRequest, pk: int) -> Job:
    """The job, where this person may see it: a technician their own."""
    jobs = jobs_for(request.user).select_related("unit__customer", "technician", "voucher", "corrects", "signed_by")
    return get_object_or_404(jobs, pk=pk)
