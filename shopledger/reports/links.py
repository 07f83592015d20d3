"""The pages behind rows of reports."""

from django.urls import reverse

from jobs.drafts.models import Job


def job_links(job: Job) -> dict[str, str]:
    """Of a row about a job; needs its unit and voucher."""
    return {
        "job": reverse("job", args=[job.pk]),
        "voucher": reverse("voucher", args=[job.voucher_id]),
        "unit": reverse("unit", args=[job.unit_id]),
    }
