"""The pages of jobs: the list, a new job, the job in the bay, its signature and its correction."""

import datetime as dt

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.text import get_valid_filename
from django.views.decorators.http import require_POST

from inventory.containers.models import Container, Location, Scale, Weighing
from inventory.ledger.refusal import Refused
from inventory.reference.refrigerants import UnknownRefrigerant
from inventory.shop.forms import add_refused
from inventory.shop.lists import export, paged
from inventory.supply.costs import cost, money
from jobs.people.access import role_required
from jobs.people.models import Person
from jobs.units.models import Unit
from jobs.units.queries import find_units
from jobs.units.tables import charge_text
from jobs.units.views import new_unit_address
from jobs.work import actions, bay, oil_plan, page, sheet, steps
from jobs.work.forms import STEPS, CorrectForm, HoseForm, LineForm, PhotoForm, StartJobForm
from jobs.work.hose import hold_up_mg
from jobs.work.models import Job
from jobs.work.posting import ACTIONS
from jobs.work.queries import jobs_for, photos_of, posted_lines
from jobs.work.signing import STEP_OF
from jobs.work.tables import JobFilter, JobTable

everybody = role_required("technician", "office", "owner")


def job_or_404(request: HttpRequest, pk: int) -> Job:
    """The job, where this person may see it: a technician their own."""
    jobs = jobs_for(request.user).select_related("unit__customer", "technician", "voucher", "corrects", "signed_by")
    return get_object_or_404(jobs, pk=pk)


@everybody
def jobs(request: HttpRequest) -> HttpResponse:
    found = jobs_for(request.user)
    if not request.GET.get("state"):
        found = found.exclude(state="dropped")
    listed = JobFilter(request.GET, queryset=found, request=request)
    rows = listed.qs if listed.is_valid() else found
    exclude = ("technician",) if request.user.role == "technician" else ()
    answer = export(request, JobTable(rows, exclude=exclude), "jobs")
    if answer is not None:
        return answer
    every = not exclude and not any(request.GET.get(name) for name in listed.filters)
    counted = (lambda: Job.objects.count() - Job.objects.filter(state="dropped").count()) if every else None
    table = paged(request, JobTable(rows, exclude=exclude), name="jobs", counted=counted)
    return render(request, "jobs/jobs.html", {"table": table, "filter": listed})


@everybody
def scan(request: HttpRequest, code: str) -> HttpResponse:
    """Where a container's label leads: to its weighing field on the one job that the person has under way, else
    to the container. What the camera read only fills the field in; the reading is still typed."""
    shown = Container.objects.filter(code=code, void=False).first()
    if shown is None:
        messages.error(
            request,
            f"There is no container {code[:60]} in this shop's book. Its label may be another shop's; check the code, "
            "or receive it first.",
        )
        return redirect("stock")
    drafts = Job.objects.filter(state="draft", technician=request.user)
    using = list(drafts.filter(lines__container=shown).distinct()[:2]) or list(drafts[:2])
    if len(using) == 1 and shown.retired_on is None:
        step = "oil" if shown.is_oil else "charge" if shown.single_use or shown.kind != "recovery" else "recover"
        return redirect(f"{reverse('job', args=[using[0].pk])}?{urlencode({'scanned': code})}#{step}")
    return redirect("container", code)


@everybody
def job_new(request: HttpRequest) -> HttpResponse:
    """Find the unit; one tap on it starts the job."""
    text = request.GET.get("text", "")[:100].strip()
    found = list(find_units(text)[:12])
    form = StartJobForm(person=request.user)
    return render(
        request,
        "jobs/job_new.html",
        {
            "units": [(unit, charge_text(unit, request.user.mass_unit)) for unit in found],
            "text": text,
            "form": form,
            "new_address": new_unit_address(text, then_job=True),
        },
    )


@everybody
@require_POST
def job_start(request: HttpRequest, unit: int) -> HttpResponse:
    chosen = get_object_or_404(Unit, pk=unit)
    form = StartJobForm(request.POST, person=request.user)
    if not form.is_valid():
        for errors in form.errors.values():
            messages.error(request, " ".join(errors))
        return redirect(f"{reverse('job-new')}?text={chosen.code}")
    technician: Person = form.cleaned_data.get("technician") or request.user
    job = actions.start_job(unit=chosen, technician=technician, by=request.user, key=form.cleaned_data["key"])
    return redirect("job", job.pk)


@everybody
def job(request: HttpRequest, pk: int) -> HttpResponse:
    shown = job_or_404(request, pk)
    if not shown.is_draft:
        return signed_page(request, shown)
    return render(request, "jobs/job.html", page.context(request, shown))


@everybody
def job_version(request: HttpRequest, pk: int) -> JsonResponse:
    """How often a job was changed, and whether it still is a draft: asked every few seconds by an open page."""
    shown = get_object_or_404(jobs_for(request.user).select_related(None).only("version", "state"), pk=pk)
    return JsonResponse({"version": shown.version, "draft": shown.is_draft})


def _answer(request: HttpRequest, shown: Job, section: str, status: int = 200, **more: object) -> HttpResponse:
    """The page again: for htmx the section and the figures, else all of it (or a redirect where nothing is wrong)."""
    if not request.htmx:
        if status == 200:
            return redirect(f"{reverse('job', args=[shown.pk])}#{'figures' if section == 'charge' else section}")
        return render(request, "jobs/job.html", page.context(request, shown, **more), status=status)
    said = page.context(request, shown, **more)
    return render(
        request, "jobs/_answer.html", {**said, "section": f"jobs/steps/{section}.html", "step": section}, status=status
    )


@everybody
@require_POST
def job_step(request: HttpRequest, pk: int, step: str) -> HttpResponse:
    """Save the fields of one step."""
    shown = job_or_404(request, pk)
    if step not in STEPS:
        raise Http404
    return _save_step(request, shown, step, request.POST)


def _save_step(request: HttpRequest, shown: Job, step: str, data: QueryDict) -> HttpResponse:
    form = STEPS[step](data, job=shown, person=request.user)
    if form.is_valid():
        shown_marks = form.cleaned_data["shown"]
        try:
            actions.change_job(shown.pk, by=request.user, shown=shown_marks, step=step, **form.changes())
        except actions.ChangedMeanwhile as changed:
            add_refused(form, changed)
            form.beside(job_or_404(request, shown.pk), changed.clashes)
        except Refused as refused:
            add_refused(form, refused)
        else:
            return _answer(request, job_or_404(request, shown.pk), step)
    return _answer(request, job_or_404(request, shown.pk), step, 422, **{step: form})


@everybody
@require_POST
def job_skip(request: HttpRequest, pk: int, step: str) -> HttpResponse:
    """Pass over a step, with the reason."""
    shown = job_or_404(request, pk)
    if step not in steps.STEPS:
        raise Http404
    reason = request.POST.get("reason", "")
    try:
        actions.skip_step(shown.pk, by=request.user, step=step, reason=reason)
    except Refused as refused:
        said = {"skip": {"step": step, "error": refused.message, "reason": reason[:300]}}
        return _answer(request, job_or_404(request, pk), step, 422, **said)
    return _answer(request, job_or_404(request, pk), step)


@everybody
@require_POST
def job_clock(request: HttpRequest, pk: int, clock: str) -> HttpResponse:
    """One tap: this moment, on the server's clock. It is kept first, since nobody can type it again; what else
    stood in the step's fields is then saved with it."""
    shown = job_or_404(request, pk)
    if clock not in actions.CLOCKS:
        raise Http404
    tapped = actions.tap_clock(shown.pk, by=request.user, clock=clock, at=_tapped(request.POST.get("tapped", "")))
    moment = getattr(tapped, clock)
    shown = job_or_404(request, pk)
    if "shown" not in request.POST:
        return _answer(request, shown, "evacuate")
    data = request.POST.copy()
    data[clock] = timezone.localtime(moment).strftime("%Y-%m-%dT%H:%M") if moment else ""
    return _save_step(request, shown, "evacuate", data)


def _tapped(written: str) -> dt.datetime | None:
    """The moment of a tap that found no network, as the phone wrote it down. None: the tap is this request."""
    if not written:
        return None
    try:
        moment = dt.datetime.fromisoformat(written[:40])
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise Refused("The moment of this tap cannot be read; enter the time by hand.")
    return moment


@everybody
@require_POST
def job_line(request: HttpRequest, pk: int) -> HttpResponse:
    """Enter or change a line."""
    shown = job_or_404(request, pk)
    action = request.POST.get("action", "")
    if action not in ACTIONS:
        raise Http404
    scales = list(Scale.objects.filter(retired=False))
    quick = action == "charge" and request.POST.get("quick") in page.ASKED
    if quick:
        form = page.quick_form(request.user, scales, request.POST, asked=request.POST["quick"])
    else:
        picking = [] if "pick" in request.POST else None
        form = LineForm(request.POST, action=action, person=request.user, scales=scales, choices=picking)
    section = STEP_OF[action]
    if form.is_valid():
        given = {name: value for name, value in form.cleaned_data.items() if name != "action"}
        try:
            actions.enter_line(shown.pk, by=request.user, action=action, **given)
        except Refused as refused:
            add_refused(form, refused)
            if isinstance(refused, actions.ChangedMeanwhile):
                form.data = form.data.copy()
                form.data["shown"] = actions.line_mark(shown.lines.get(key=given["key"]))
        else:
            return _answer(request, job_or_404(request, pk), section)
    return _answer(request, job_or_404(request, pk), section, 422, **{"quick" if quick else "line": form})


@everybody
@require_POST
def job_photo(request: HttpRequest, pk: int) -> HttpResponse:
    """Add a photo."""
    shown = job_or_404(request, pk)
    form = PhotoForm(request.POST, request.FILES, auto_id="photo-%s")
    if form.is_valid():
        data = form.cleaned_data
        try:
            actions.add_photo(
                shown.pk, by=request.user, upload=data["file"], title=data["title"], key=data["key"],
                chosen=data["chosen"],
            )  # fmt: skip
        except Refused as refused:
            add_refused(form, refused)
        else:
            return _answer(request, job_or_404(request, pk), "photos")
    return _answer(request, job_or_404(request, pk), "photos", 422, photo=form)


@everybody
@require_POST
def job_photo_change(request: HttpRequest, pk: int, photo: int) -> HttpResponse:
    """Onto the sheet, off it, or withdrawn with a reason."""
    shown = job_or_404(request, pk)
    chosen = {"on": True, "off": False}.get(request.POST.get("chosen", ""))
    try:
        actions.change_photo(shown.pk, by=request.user, photo=photo, chosen=chosen, why=request.POST.get("why", ""))
    except Refused as refused:
        said = {"photo_error": refused.message}
        return _answer(request, job_or_404(request, pk), "photos", 422, **said)
    return _answer(request, job_or_404(request, pk), "photos")


@everybody
@require_POST
def job_place(request: HttpRequest, pk: int) -> HttpResponse:
    """From which place's containers this person charges; it stays for the next jobs."""
    shown = job_or_404(request, pk)
    chosen = request.POST.get("place", "")
    known = chosen.isascii() and chosen.isdigit() and len(chosen) < 19
    place = Location.objects.filter(pk=int(chosen), closed=False).first() if known else None
    request.session[page.PLACE] = place.pk if place else None
    return _answer(request, shown, "charge")


@everybody
def job_hose(request: HttpRequest, pk: int) -> HttpResponse:
    """What an uncleared hose holds, offered as a line loss that is still to be saved."""
    shown = job_or_404(request, pk)
    form, offered, held = HoseForm(request.GET), None, None
    if form.is_valid():
        data = form.cleaned_data
        try:
            held = hold_up_mg(shown.substance or "unknown", data["length_m"], data["inner_diameter_mm"], data["phase"])
        except (Refused, UnknownRefrigerant) as refused:
            form.add_error(None, str(refused))
        else:
            offered = LineForm(action="line-loss", person=request.user, scales=[])
            offered.initial |= {
                "quantity": held,
                "note": f"hose {data['length_m']:g} m x {data['inner_diameter_mm']:g} mm, {data['phase']}",
            }
    page = "jobs/_hose.html" if request.htmx else "jobs/hose.html"
    said = {"job": shown, "hose": form, "offered": offered, "held": held}
    return render(request, page, said, status=422 if form.errors else 200)


@everybody
@require_POST
def job_line_remove(request: HttpRequest, pk: int, key) -> HttpResponse:
    shown = job_or_404(request, pk)
    line = shown.lines.filter(key=key).first()
    section = STEP_OF[line.action] if line else "charge"
    actions.remove_line(shown.pk, by=request.user, key=key)
    return _answer(request, job_or_404(request, pk), section)


@everybody
@require_POST
def job_sign(request: HttpRequest, pk: int) -> HttpResponse:
    shown = job_or_404(request, pk)
    reasons = {name.removeprefix("reason-"): text[:500] for name, text in request.POST.items()
               if name.startswith("reason-")}  # fmt: skip
    version = request.POST.get("version", "")
    seen = int(version) if version.isascii() and version.isdigit() and len(version) < 10 else None
    try:
        signed = actions.sign_job(shown.pk, by=request.user, reasons=reasons, version=seen)
    except Refused as refused:
        _keep_reasons(request, shown, reasons)
        fresh = job_or_404(request, pk)
        if not fresh.is_draft:
            raise
        error = "" if isinstance(refused, actions.NotSignable) else refused.message
        said = page.context(request, fresh, error=error)
        return render(request, "jobs/job.html", {**said, "refused": True}, status=422)
    messages.success(request, f"Job {signed.title} is signed as voucher {signed.voucher_id}.")
    return redirect("job", signed.pk)


def _keep_reasons(request: HttpRequest, shown: Job, reasons: dict[str, str]) -> None:
    """Reasons typed for a signature that was refused stay with the draft."""
    given = {key: text.strip() for key, text in reasons.items() if text.strip()}
    if shown.is_draft and given:
        actions.change_job(shown.pk, by=request.user, reasons={**shown.reasons, **given})


def signed_page(request: HttpRequest, shown: Job) -> HttpResponse:
    lines = posted_lines(shown)
    revisions = Job.objects.filter(number=shown.number).order_by("revision").select_related("voucher")
    totals = {
        "charged": sum(line.amount or 0 for line in lines if line.action == "charge")
        - sum(line.amount or 0 for line in lines if line.action == "line-loss"),
        "recovered": sum(line.amount or 0 for line in lines if line.action == "recover"),
        "oil_added": sum(line.amount or 0 for line in lines if line.action == "oil-add"),
        "oil_drained": sum(line.amount or 0 for line in lines if line.action == "oil-drain"),
    }  # fmt: skip
    may_correct = shown.state == "signed" and request.user.role in {"owner", "office"}
    may_correct = may_correct or (shown.state == "signed" and shown.technician_id == request.user.pk)
    return render(
        request,
        "jobs/signed.html",
        {
            "job": shown, "lines": lines, "totals": totals, "revisions": revisions,
            "range": page.label_range(shown, request.user), "may_correct": may_correct,
            "photos": photos_of(shown), "cost": _cost(request, lines),
            "differences": _differences(shown),
            "vacuum": bay.vacuum(shown, request.shop), "static": bay.static(shown),
            "reasons": [(sheet.reason_title(key), reason) for key, reason in sorted(shown.reasons.items())],
            "skipped": [(steps.STEPS[one.step].title, one.skipped) for one in shown.steps.exclude(skipped="")
                        if one.step in steps.STEPS],
            "parts": ", ".join(oil_plan.parts().get(part, part) for part in shown.parts),
        },
    )  # fmt: skip


def _differences(shown: Job) -> list[Weighing]:
    """What its weighings found that weighing cannot explain, posted with it."""
    if not shown.voucher_id:
        return []
    found = Weighing.objects.filter(voucher=shown.voucher_id, again=None, outcome__startswith="unexplained")
    return list(found.select_related("container").order_by("line"))


def _cost(request: HttpRequest, lines: list) -> str:
    """What the refrigerant and oil of a job cost, for those who answer for it."""
    if request.user.role == "technician":
        return ""
    taken = [line for line in lines if line.action in {"charge", "oil-add"} and line.container and line.amount]
    if not taken:
        return ""
    minor, known = cost((line.amount, line.container.price_minor, line.container.nominal) for line in taken)
    return money(minor, request.shop.currency) + ("" if known else ", without containers that have no price")


@everybody
def job_sheet(request: HttpRequest, pk: int) -> HttpResponse:
    shown = job_or_404(request, pk)
    answer = HttpResponse(sheet.job_sheet(shown), content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="job-{get_valid_filename(shown.title)}.pdf"'
    return answer


@everybody
def job_correct(request: HttpRequest, pk: int) -> HttpResponse:
    shown = job_or_404(request, pk)
    form = CorrectForm(request.POST or None)
    if form.is_valid():
        try:
            new = actions.correct_job(shown.pk, by=request.user, note=form.cleaned_data["note"])
        except Refused as refused:
            add_refused(form, refused)
        else:
            return redirect("job", new.pk)
    if shown.state != "signed":
        return redirect("job", shown.pk)
    return render(request, "jobs/correct.html", {"job": shown, "form": form}, status=422 if form.errors else 200)


@everybody
def job_drop(request: HttpRequest, pk: int) -> HttpResponse:
    shown = job_or_404(request, pk)
    if request.method == "POST":
        actions.drop_job(shown.pk, by=request.user)
        messages.success(request, f"Job {shown.title} was given up. It moved nothing.")
        return redirect("jobs")
    if not shown.is_draft:
        return redirect("job", shown.pk)
    return render(request, "jobs/drop.html", {"job": shown})
