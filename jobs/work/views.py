"""The pages of jobs: the list, a new job, the job in the bay, its signature and its correction."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.text import get_valid_filename
from django.views.decorators.http import require_POST

from inventory.containers.models import Container, Scale
from inventory.ledger.refusal import Refused
from inventory.reference.refrigerants import UnknownRefrigerant
from inventory.reference.rulebook import rulebook
from inventory.shop.forms import add_refused
from inventory.shop.lists import paged
from jobs.people.access import role_required
from jobs.people.models import Person
from jobs.units.models import Unit
from jobs.units.notices import unit_notices
from jobs.units.queries import find_units
from jobs.units.tables import charge_text
from jobs.work import actions, bay, sheet
from jobs.work.forms import STEPS, CorrectForm, HoseForm, LineForm, StartJobForm
from jobs.work.hose import hold_up_mg
from jobs.work.models import Job
from jobs.work.posting import ACTIONS
from jobs.work.queries import chargeable, earlier_jobs, entries_of, in_use, jobs_for
from jobs.work.tables import JobFilter, JobTable

everybody = role_required("technician", "office", "owner")
CLOCKS = ("evacuation_started", "evacuation_ended", "hold_started", "hold_ended")
SECTION_OF = {
    "recover": "recover", "oil-drain": "oil", "oil-add": "oil", "charge": "charge", "line-loss": "charge",
}  # fmt: skip


def job_or_404(request: HttpRequest, pk: int) -> Job:
    """The job, where this person may see it: a technician their own."""
    jobs = jobs_for(request.user).select_related("unit__customer", "technician", "voucher", "corrects", "signed_by")
    return get_object_or_404(jobs, pk=pk)


@everybody
def jobs(request: HttpRequest) -> HttpResponse:
    found = jobs_for(request.user)
    if not request.GET.get("state"):
        found = found.exclude(state="dropped")
    listed = JobFilter(request.GET, queryset=found)
    rows = listed.qs if listed.is_valid() else found
    exclude = ("technician",) if request.user.role == "technician" else ()
    table = paged(request, JobTable(rows, exclude=exclude))
    return render(request, "jobs/jobs.html", {"table": table, "filter": listed})


@everybody
def scan(request: HttpRequest, code: str) -> HttpResponse:
    """Where a container's label leads: to its weighing field on the one job that the person has under way, else
    to the container. What the camera read only fills the field in; the reading is still typed."""
    shown = get_object_or_404(Container, code=code)
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
        {"units": [(unit, charge_text(unit, request.user.mass_unit)) for unit in found], "text": text, "form": form},
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
    return render(request, "jobs/job.html", context(request, shown))


def context(request: HttpRequest, shown: Job, **more: object) -> dict[str, object]:
    """Everything on a draft's page. more: a form that came back with errors, by its name."""
    lines = entries_of(shown)
    scales = list(Scale.objects.all())
    usual = next((scale for scale in scales if scale.usual), None)
    scales = [scale for scale in scales if not scale.retired]
    stock = list(chargeable(shown.substance)[: bay.STOCK]) if shown.substance else []
    busy = in_use(container.code for container in stock)
    figures = bay.figures(shown, lines, usual, stock, busy)
    book = rulebook(request.shop.rulebook)
    said: dict[str, object] = {
        "job": shown,
        "unit": shown.unit,
        "lines": lines,
        "figures": figures,
        "range": _range(shown, request.user),
        "vacuum": bay.vacuum(shown, request.shop),
        "objections": bay.objections_with_reasons(shown, lines, usual, request.shop),
        "earlier": earlier_jobs(shown)[:5],
        "notices": unit_notices(shown.unit),
        "cautions": {
            place: book.cautions(place, shown.day, shown.substance or None)
            for place in ("identify", "recover", "evacuate", "oil", "charge", "leak-check")
        },
        "entries": _entries(request, shown, lines, scales, {"next": figures.next, **more}),
        "forms": {
            name: more.get(name) or form(job=shown, person=request.user) for name, form in STEPS.items()
        },
        "hose": HoseForm(),
        "choices": _choices(shown, stock, busy),
        "may_sign": request.user.pk == shown.technician_id or request.user.role == "owner",
        "now": timezone.now(),
    }  # fmt: skip
    return {**said, "error": more.get("error", "")}


def _range(shown: Job, person: Person) -> str:
    unit = Unit(charge_min_mg=shown.charge_min_mg, charge_max_mg=shown.charge_max_mg)
    return charge_text(unit, person.mass_unit)


def _entries(request: HttpRequest, shown: Job, lines: list, scales: list, more: dict) -> dict[str, dict]:
    """For each action: its lines with their forms, and the empty form."""
    came_back: LineForm | None = more.get("line")
    found = {}
    for action in ACTIONS:
        rows = []
        for line in lines:
            if line.action != action:
                continue
            form = LineForm(action=action, person=request.user, scales=scales, line=line)
            if came_back is not None and came_back.data.get("key") == str(line.key):
                form = came_back
            rows.append({"line": line, "form": form})
        empty = LineForm(action=action, person=request.user, scales=scales)
        if action == "charge" and more["next"] and not more["next"].weighed:
            empty.initial["container"] = more["next"].draw.code
        if "container" in empty.fields and request.GET.get("scanned"):
            empty.initial["container"] = request.GET["scanned"][:60]
        keys = {str(line.key) for line in lines}
        if came_back is not None and came_back.data.get("action") == action and came_back.data.get("key") not in keys:
            empty = came_back
        found[action.replace("-", "_")] = {"rows": rows, "empty": empty}
    return found


def _choices(shown: Job, charge: list[Container], busy: dict[str, Job]) -> dict[str, list]:
    """Containers offered for each kind of entry."""
    others = Container.objects.filter(retired_on=None, void=False, kind__in=["recovery", "machine", "oil"])
    others = list(others.select_related("account", "location", "substance").order_by("kind", "code")[:60])
    for container in charge:
        container.busy = busy.get(container.code) if busy.get(container.code) != shown else None
    return {
        "charge": charge,
        "recover": [c for c in others if c.kind != "oil" and (not c.substance or c.substance.code == shown.substance)],
        "oil_add": [c for c in others if c.kind == "oil" and c.content],
    }


def _answer(request: HttpRequest, shown: Job, section: str, status: int = 200, **more: object) -> HttpResponse:
    """The page again: for htmx the section and the figures, else all of it (or a redirect where nothing is wrong)."""
    if not request.htmx:
        if status == 200:
            return redirect(f"{reverse('job', args=[shown.pk])}#{section}")
        return render(request, "jobs/job.html", context(request, shown, **more), status=status)
    said = context(request, shown, **more)
    return render(request, "jobs/_answer.html", {**said, "section": f"jobs/steps/{section}.html"}, status=status)


@everybody
@require_POST
def job_step(request: HttpRequest, pk: int, step: str) -> HttpResponse:
    """Save the fields of one step."""
    shown = job_or_404(request, pk)
    if step not in STEPS:
        raise Http404
    form = STEPS[step](request.POST, job=shown, person=request.user)
    if form.is_valid():
        try:
            actions.change_job(shown.pk, by=request.user, version=form.cleaned_data["version"], **form.changes())
        except Refused as refused:
            add_refused(form, refused)
            fresh = job_or_404(request, pk)
            form.data = form.data.copy()
            form.data["version"] = fresh.version
        else:
            return _answer(request, job_or_404(request, pk), step)
    return _answer(request, job_or_404(request, pk), step, 422, **{step: form})


@everybody
@require_POST
def job_clock(request: HttpRequest, pk: int, clock: str) -> HttpResponse:
    """One tap: this moment, on the server's clock."""
    shown = job_or_404(request, pk)
    if clock not in CLOCKS:
        raise Http404
    actions.change_job(shown.pk, by=request.user, **{clock: timezone.now().replace(second=0, microsecond=0)})
    return _answer(request, job_or_404(request, pk), "evacuate")


@everybody
@require_POST
def job_line(request: HttpRequest, pk: int) -> HttpResponse:
    """Enter or change a line."""
    shown = job_or_404(request, pk)
    action = request.POST.get("action", "")
    if action not in ACTIONS:
        raise Http404
    form = LineForm(request.POST, action=action, person=request.user, scales=list(Scale.objects.filter(retired=False)))
    section = SECTION_OF[action]
    if form.is_valid():
        given = {name: value for name, value in form.cleaned_data.items() if name != "action"}
        try:
            actions.enter_line(shown.pk, by=request.user, action=action, **given)
        except Refused as refused:
            add_refused(form, refused)
        else:
            return _answer(request, job_or_404(request, pk), section)
    return _answer(request, job_or_404(request, pk), section, 422, line=form)


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
    section = SECTION_OF[line.action] if line else "charge"
    actions.remove_line(shown.pk, by=request.user, key=key)
    return _answer(request, job_or_404(request, pk), section)


@everybody
@require_POST
def job_sign(request: HttpRequest, pk: int) -> HttpResponse:
    shown = job_or_404(request, pk)
    reasons = {name.removeprefix("reason-"): text[:500] for name, text in request.POST.items()
               if name.startswith("reason-")}  # fmt: skip
    if shown.is_draft and any(reasons.values()):
        kept = {**shown.reasons, **{key: text.strip() for key, text in reasons.items() if text.strip()}}
        actions.change_job(shown.pk, by=request.user, reasons=kept)
    try:
        signed = actions.sign_job(shown.pk, by=request.user, reasons=reasons)
    except Refused as refused:
        fresh = job_or_404(request, pk)
        said = context(request, fresh, error="" if isinstance(refused, actions.NotSignable) else refused.message)
        return render(request, "jobs/job.html", {**said, "refused": True}, status=422)
    messages.success(request, f"Job {signed.title} is signed as voucher {signed.voucher_id}.")
    return redirect("job", signed.pk)


def signed_page(request: HttpRequest, shown: Job) -> HttpResponse:
    lines = list(shown.lines.select_related("container__substance", "scale"))
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
            "range": _range(shown, request.user), "may_correct": may_correct,
            "vacuum": bay.vacuum(shown, request.shop),
        },
    )  # fmt: skip


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
    return render(request, "jobs/correct.html", {"job": shown, "form": form}, status=422 if form.errors else 200)


@everybody
def job_drop(request: HttpRequest, pk: int) -> HttpResponse:
    shown = job_or_404(request, pk)
    if request.method == "POST":
        actions.drop_job(shown.pk, by=request.user)
        messages.success(request, f"Job {shown.title} was given up. It moved nothing.")
        return redirect("jobs")
    return render(request, "jobs/drop.html", {"job": shown})
