"""What is done beside a draft: a colleague added or ended, the job handed over, the unit's ports, as last time."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from inventory.shop.access import everybody
from inventory.shop.forms import add_refused
from inventory.text.refusal import Refused
from jobs.drafts import hands
from jobs.drafts.actions import check_own_draft
from jobs.drafts.last_time import carry_over
from jobs.drafts.models import Job
from jobs.drafts.queries import jobs_for
from jobs.pages.access import job_or_404
from jobs.pages.draft_views import answer
from jobs.pages.hand_forms import HandForm, HandOverForm, PortsForm, does_jobs
from jobs.units.actions import change_unit


def _again(request: HttpRequest, shown: Job, part: str, **form: object) -> HttpResponse:
    """The page with a form that was refused."""
    fresh = job_or_404(request, shown.pk)
    if not fresh.is_draft:
        messages.error(request, f"Job {fresh.title} is {fresh.state} and no longer changes.")
        return redirect("job", fresh.pk)
    return answer(request, fresh, part, 422, **form)


@everybody
@require_POST
def job_hand(request: HttpRequest, pk: int) -> HttpResponse:
    """Add a colleague."""
    shown = job_or_404(request, pk)
    form = HandForm(request.POST, people=does_jobs(), auto_id="hand-%s")
    if form.is_valid():
        try:
            hands.add_hand(shown.pk, person=form.cleaned_data["person"], by=request.user)
        except Refused as refused:
            add_refused(form, refused)
        else:
            return answer(request, job_or_404(request, pk), "hands")
    return _again(request, shown, "hands", hand=form)


@everybody
@require_POST
def job_hand_end(request: HttpRequest, pk: int, hand: int) -> HttpResponse:
    """A colleague no longer works on it; whoever ends themselves sees it no more."""
    shown = job_or_404(request, pk)
    hands.end_hand(shown.pk, hand=hand, by=request.user)
    if request.user.is_technician and not _mine(request, shown):
        messages.success(request, f"You are no longer on job {shown.title}. What you wrote stays.")
        return redirect("jobs")
    return answer(request, job_or_404(request, pk), "hands")


def _mine(request: HttpRequest, shown: Job) -> bool:
    return jobs_for(request.user).filter(pk=shown.pk).exists()


@everybody
@require_POST
def job_hand_over(request: HttpRequest, pk: int) -> HttpResponse:
    """Give the draft to another technician."""
    shown = job_or_404(request, pk)
    form = HandOverForm(request.POST, people=does_jobs(), auto_id="over-%s")
    if form.is_valid():
        data = form.cleaned_data
        try:
            job = hands.hand_over(shown.pk, to=data["to"], by=request.user, note=data["note"])
        except Refused as refused:
            add_refused(form, refused)
        else:
            messages.success(request, f"Job {job.title} is {job.technician.name}'s now.")
            return answer(request, job_or_404(request, pk), "hands")
    return _again(request, shown, "hands", hand_over=form)


@everybody
@require_POST
def job_ports(request: HttpRequest, pk: int) -> HttpResponse:
    """Where the service ports of the job's unit are."""
    shown = job_or_404(request, pk)
    form = PortsForm(request.POST, auto_id="ports-%s")
    if form.is_valid():
        try:
            check_own_draft(shown, request.user)
            change_unit(shown.unit, by=request.user, ports=form.cleaned_data["ports"])
        except Refused as refused:
            add_refused(form, refused)
        else:
            return answer(request, job_or_404(request, pk), "ports")
    return _again(request, shown, "ports", ports=form)


@everybody
@require_POST
def job_carry_over(request: HttpRequest, pk: int) -> HttpResponse:
    """As last time."""
    shown = job_or_404(request, pk)
    carry_over(shown.pk, by=request.user)
    return answer(request, job_or_404(request, pk), "last-time")
