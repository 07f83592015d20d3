"""What is done to a draft on its page: a step saved or skipped, a clock, an entry, a photo, the signature."""

import datetime as dt

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.asking.asked import ask, doubts, settled
from inventory.attachments.actions import Photo
from inventory.containers.models import Location, Scale
from inventory.reference.refrigerants import UnknownRefrigerant
from inventory.shop.access import everybody
from inventory.shop.back import back_of
from inventory.shop.forms import add_refused, number_in
from inventory.text.refusal import Refused
from jobs.drafts import actions, clocks, photos, steps
from jobs.drafts.fields import BY_NAME, CLOCKS
from jobs.drafts.models import Job
from jobs.drafts.queries import jobs_for
from jobs.lines.posting import ACTIONS, STEP_OF
from jobs.pages import page, readings
from jobs.pages.access import by_now, job_or_404
from jobs.pages.entry_forms import HoseForm, LineForm, PhotoForm, VacuumForm
from jobs.pages.forms import STEPS
from jobs.pages.quick import ASKED, Wanted, quick_form, remember_unit
from jobs.planning.hose import hold_up_mg
from jobs.signing import actions as signing


@everybody
def job_version(request: HttpRequest, pk: int) -> JsonResponse:
    """How often a job was changed, and whether it still is a draft: asked every few seconds by an open page."""
    shown = get_object_or_404(jobs_for(request.user).select_related(None).only("version", "state"), pk=pk)
    return JsonResponse({"version": shown.version, "draft": shown.is_draft})


def answer(request: HttpRequest, shown: Job, section: str, status: int = 200, **more: object) -> HttpResponse:
    """The work of the job again: for a script all of it, else its page (or a redirect where nothing is wrong). section:
    the step that is on top where something is wrong in it."""
    if status == 200 and not request.htmx:
        return redirect(f"{reverse('job', args=[shown.pk])}#{section}")
    said = page.context(request, shown, step=section if status != 200 else "", **more)
    return render(request, "jobs/_bay.html" if request.htmx else "jobs/job.html", said, status=status)


@everybody
@require_POST
def job_step(request: HttpRequest, pk: int, step: str) -> HttpResponse:
    """Save the fields of one step."""
    shown = job_or_404(request, pk)
    if step not in STEPS:
        raise Http404
    return _save_step(request, shown, step, request.POST)


def _save_step(request: HttpRequest, shown: Job, step: str, data: QueryDict) -> HttpResponse:
    form = STEPS[step](settled(data), job=shown, person=request.user)
    if form.is_valid():
        ask(form, doubts(form, readings.known_of_step(shown, form, request.shop), form.recorded))
    if form.is_valid():
        shown_marks, changes = form.cleaned_data["shown"], form.changes()
        if sure := readings.confirmed(form, step):
            changes["reasons"] = {**shown.reasons, **sure}
        try:
            actions.change_job(shown.pk, by=request.user, shown=shown_marks, step=step, **changes)
        except actions.ChangedMeanwhile as changed:
            add_refused(form, changed)
            form.beside(job_or_404(request, shown.pk), changed.clashes)
        except Refused as refused:
            add_refused(form, refused)
        else:
            return answer(request, by_now(request, shown), step)
    return answer(request, job_or_404(request, shown.pk), step, 422, **{step: form})


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
        return answer(request, job_or_404(request, pk), step, 422, **said)
    return answer(request, by_now(request, shown), step)


@everybody
@require_POST
def job_clock(request: HttpRequest, pk: int, clock: str) -> HttpResponse:
    """One tap: this moment, on the server's clock. It is kept first, since nobody can type it again; what else
    stood in the step's fields is then saved with it."""
    shown = job_or_404(request, pk)
    if clock not in CLOCKS:
        raise Http404
    tapped = clocks.tap_clock(shown.pk, by=request.user, clock=clock, at=_tapped(request.POST.get("tapped", "")))
    moment, step = getattr(tapped, clock), BY_NAME[clock].step
    shown = job_or_404(request, pk)
    if "shown" not in request.POST:
        return answer(request, shown, step)
    data = request.POST.copy()
    data[clock] = timezone.localtime(moment).strftime("%Y-%m-%dT%H:%M") if moment else ""
    return _save_step(request, shown, step, data)


def _tapped(written: str) -> dt.datetime | None:
    """The moment of what found no network, as the phone wrote it down. None: it is this request."""
    if not written:
        return None
    try:
        moment = dt.datetime.fromisoformat(written[:40])
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise Refused("The moment that the phone wrote down cannot be read; enter it by hand.")
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
    data = settled(request.POST)
    quick = (action, data.get("quick", "")) in ASKED
    if quick:
        form = quick_form(request, scales, Wanted(action, data["quick"]), data)
    else:
        picking = [] if "pick" in data else None
        form = LineForm(data, action=action, person=request.user, scales=scales, choices=picking)
    section = "oil" if action.startswith("oil") else STEP_OF[action]
    if form.is_valid() and _taken(request, shown, action, form):
        return answer(request, by_now(request, shown), section)
    more = {"quick": {section: form}} if quick else {"line": form}
    return answer(request, job_or_404(request, pk), section, 422, **more)


def _taken(request: HttpRequest, shown: Job, action: str, form: LineForm) -> bool:
    """Whether an entry was kept; what is doubted or refused stands in its form."""
    given = {name: value for name, value in form.cleaned_data.items() if name != "action"}
    usual = actions.usual_scale()
    line = shown.lines.filter(key=given["key"]).first()
    before = {name: getattr(line, name) for name in ("before", "after", "quantity")} if line else {}
    found = doubts(form, readings.known_of_line(shown, form, action, usual), before)
    if found:
        ask(form, found)
        return False
    given |= {
        "at": _tapped(request.POST.get("tapped", "")),
        "sure": readings.confirmed(form, given.get("container", "")),
    }
    try:
        actions.enter_line(shown.pk, by=request.user, action=action, **given)
    except Refused as refused:
        add_refused(form, refused)
        if isinstance(refused, actions.ChangedMeanwhile):
            form.data = form.data.copy()
            form.data["shown"] = actions.line_mark(shown.lines.get(key=given["key"]))
        return False
    remember_unit(request, form.data)
    return True


@everybody
@require_POST
def job_vacuum(request: HttpRequest, pk: int, mark: str) -> HttpResponse:
    """A reading of the vacuum, and with the same tap the moment: the pump stops and the hold starts, or it ends."""
    shown = job_or_404(request, pk)
    if mark not in clocks.MARKS:
        raise Http404
    form = VacuumForm(settled(request.POST), altitude_m=request.shop.altitude_m)
    if form.is_valid():
        known = {"reading": readings.vacuum_known(shown, mark == clocks.HELD, request.shop)}
        ask(form, doubts(form, known, {}))
    if form.is_valid():
        data, at = form.cleaned_data, _tapped(request.POST.get("tapped", ""))
        read = clocks.VacuumRead(data["said"], data["pascal"], readings.confirmed(form, mark))
        try:
            clocks.mark_vacuum(shown.pk, by=request.user, mark=mark, read=read, at=at)
        except Refused as refused:
            add_refused(form, refused)
        else:
            request.session[page.VACUUM_IN] = form.cleaned_data["unit"]
            return answer(request, by_now(request, shown), "evacuate")
    return answer(request, job_or_404(request, pk), "evacuate", 422, reach={mark: form})


@everybody
@require_POST
def job_photo(request: HttpRequest, pk: int) -> HttpResponse:
    """Add a photo."""
    shown = job_or_404(request, pk)
    form = PhotoForm(request.POST, request.FILES, auto_id="photo-%s")
    if form.is_valid():
        data = form.cleaned_data
        try:
            photos.add_photo(
                shown.pk,
                by=request.user,
                upload=data["file"],
                title=data["title"],
                key=data["key"],
                photo=Photo(data["chosen"], data["proves"]),
            )
        except Refused as refused:
            add_refused(form, refused)
        else:
            return answer(request, job_or_404(request, pk), "photos")
    return answer(request, job_or_404(request, pk), "photos", 422, photo=form)


@everybody
@require_POST
def job_photo_change(request: HttpRequest, pk: int, photo: int) -> HttpResponse:
    """Onto the sheet, off it, or withdrawn with a reason."""
    shown = job_or_404(request, pk)
    chosen = {"on": True, "off": False}.get(request.POST.get("chosen", ""))
    try:
        photos.change_photo(shown.pk, by=request.user, photo=photo, chosen=chosen, why=request.POST.get("why", ""))
    except Refused as refused:
        said = {"photo_error": refused.message}
        return answer(request, job_or_404(request, pk), "photos", 422, **said)
    return answer(request, job_or_404(request, pk), "photos")


@everybody
@require_POST
def job_place(request: HttpRequest, pk: int) -> HttpResponse:
    """From which place's containers this person charges; it stays for the next jobs."""
    shown = job_or_404(request, pk)
    chosen = request.POST.get("place", "")
    known = chosen.isascii() and chosen.isdigit() and len(chosen) < 19
    place = Location.objects.filter(pk=int(chosen), closed=False).first() if known else None
    request.session[page.PLACE] = place.pk if place else None
    return answer(request, shown, "charge")


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
    return answer(request, job_or_404(request, pk), section)


@everybody
@require_POST
def job_sign(request: HttpRequest, pk: int) -> HttpResponse:
    shown = job_or_404(request, pk)
    reasons = reasons_given(request.POST)
    version, follows = number_in(request.POST, "version"), number_in(request.POST, "follows")
    try:
        signed = signing.sign_job(shown.pk, by=request.user, reasons=reasons, version=version, follows=follows)
    except Refused as refused:
        keep_reasons(request, shown, reasons)
        fresh = job_or_404(request, pk)
        if not fresh.is_draft:
            raise
        error = "" if isinstance(refused, signing.NotSignable) else refused.message
        said = page.context(request, fresh, error=error)
        return render(request, "jobs/job.html", {**said, "refused": True}, status=422)
    messages.success(request, f"Job {signed.title} is signed as voucher {signed.voucher_id}.")
    return redirect(back_of(request) or reverse("job", args=[signed.pk]))


REASON = "reason-"  # how the name of a field begins that holds the reason for one objection


def reasons_given(data: QueryDict) -> dict[str, str]:
    """What was typed as a reason for each objection, by its key."""
    return {name.removeprefix(REASON): text[:500] for name, text in data.items() if name.startswith(REASON)}


def keep_reasons(request: HttpRequest, shown: Job, reasons: dict[str, str]) -> None:
    """Reasons typed for a signature that was refused stay with the draft."""
    given = {key: text.strip() for key, text in reasons.items() if text.strip()}
    if shown.is_draft and given:
        actions.change_job(shown.pk, by=request.user, reasons={**shown.reasons, **given})
