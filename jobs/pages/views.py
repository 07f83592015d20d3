"""The pages of jobs: the list, a new job, the job in the bay, its signature and its correction."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.text import get_valid_filename
from django.views.decorators.http import require_POST

from inventory.containers.costs import cost
from inventory.containers.models import Container, Weighing
from inventory.measures.money import show_money
from inventory.shop.access import everybody
from inventory.shop.back import back_of
from inventory.shop.forms import add_refused
from inventory.shop.lists import export, paged
from inventory.text.refusal import Refused
from jobs.drafts import actions
from jobs.drafts.models import Job
from jobs.drafts.photos import photos_told
from jobs.drafts.queries import jobs_for, totals_by_substance, worked_on_by
from jobs.drafts.signatures import signature_of
from jobs.drafts.signed import Signed, signed
from jobs.drafts.wording import Fact, Section, reader_of, sections_of
from jobs.lines.totals import totals_of
from jobs.pages import page
from jobs.pages.access import job_or_404
from jobs.pages.beside import wrote
from jobs.pages.entry_forms import CorrectForm, StartJobForm
from jobs.pages.figures import static
from jobs.pages.tables import JobFilter, JobTable
from jobs.pages.unit_views import new_unit_address
from jobs.people.models import Person
from jobs.sheet import job_sheet as sheet
from jobs.sheet.customer_sheet import customer_sheet, standing
from jobs.sheet.reasons import reasons_of
from jobs.signing import actions as signing
from jobs.signing.judged import judged
from jobs.units.models import Unit
from jobs.units.queries import find_units
from jobs.units.tables import charge_text


@everybody
def jobs(request: HttpRequest) -> HttpResponse:
    found = jobs_for(request.user)
    if not request.GET.get("state"):
        found = found.exclude(state="dropped")
    listed = JobFilter(request.GET, queryset=found, request=request)
    rows = listed.qs if listed.is_valid() else found
    mine = request.user.is_technician
    # Whose job it is need not be said where all are the reader's own.
    exclude = ("technician",) if mine and not found.exclude(technician=request.user).exists() else ()
    answer = export(request, JobTable(rows, exclude=exclude), "jobs")
    if answer is not None:
        return answer
    every = not mine and not any(request.GET.get(name) for name in listed.filters)
    counted = (lambda: Job.objects.count() - Job.objects.filter(state="dropped").count()) if every else None
    table = paged(request, JobTable(rows, exclude=exclude), name="jobs", counted=counted)
    narrowed = listed.is_valid() and listed.form.has_changed()
    said = {"table": table, "filter": listed, "totals": totals_by_substance(rows) if narrowed else []}
    return render(request, "jobs/jobs.html", said)


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
    drafts = Job.objects.filter(worked_on_by(request.user), state="draft")
    using = list(drafts.filter(lines__container=shown).distinct()[:2]) or list(drafts[:2])
    if len(using) == 1 and shown.retired_on is None:
        return redirect(f"{reverse('job', args=[using[0].pk])}?{urlencode({'scanned': code})}#{page.step_of(code)}")
    return redirect("container", code)


@everybody
def job_new(request: HttpRequest) -> HttpResponse:
    """Find the unit; one tap on it starts the job."""
    text = request.GET.get("text", "")[:100].strip()
    return _units_to_start(request, text, StartJobForm(person=request.user))


def _units_to_start(request: HttpRequest, text: str, form: StartJobForm, status: int = 200) -> HttpResponse:
    found = list(find_units(text)[:12])
    said = {
        "units": [(unit, charge_text(unit, request.user.mass_unit)) for unit in found],
        "text": text,
        "form": form,
        "new_address": new_unit_address(text, then_job=True),
    }
    return render(request, "jobs/job_new.html", said, status=status)


@everybody
@require_POST
def job_start(request: HttpRequest, unit: int) -> HttpResponse:
    chosen = get_object_or_404(Unit, pk=unit)
    form = StartJobForm(request.POST, person=request.user)
    if form.is_valid():
        technician: Person = form.cleaned_data.get("technician") or request.user
        try:
            job = actions.start_job(unit=chosen, technician=technician, by=request.user, key=form.cleaned_data["key"])
        except Refused as refused:
            add_refused(form, refused)
        else:
            return redirect("job", job.pk)
    return _units_to_start(request, chosen.code, form, 422)


@everybody
def job(request: HttpRequest, pk: int) -> HttpResponse:
    shown = job_or_404(request, pk)
    if not shown.is_draft:
        return signed_page(request, shown)
    template = "jobs/_bay.html" if request.htmx else "jobs/job.html"
    return render(request, template, page.context(request, shown))


def signed_page(request: HttpRequest, shown: Job) -> HttpResponse:
    stood = signed(shown)
    shown, lines = stood.job, stood.lines
    revisions = Job.objects.filter(number=shown.number).order_by("revision").select_related("voucher")
    may_correct = shown.state == "signed" and request.user.role in {"owner", "office"}
    may_correct = may_correct or (shown.state == "signed" and shown.technician_id == request.user.pk)
    return render(
        request,
        "jobs/signed.html",
        {
            "job": shown,
            "lines": lines,
            "totals": totals_of(lines),
            "revisions": revisions,
            "range": page.label_range(shown, request.user),
            "may_correct": may_correct,
            "photos": photos_told(shown, lines, reader_of(request.user, request.shop.zone)),
            "signature": signature_of(shown),
            "cost": _cost(request, lines),
            "differences": _differences(shown),
            "sections": _sections(request, stood),
            "erased": stood.erased,
            "ruled": judged(shown.verdicts),
            "others": stood.others,
            "wrote": wrote(stood.steps, lines),
            "stands": any(one.is_signed for one in revisions),
        },
    )


def _sections(request: HttpRequest, stood: Signed) -> list[Section]:
    """What was entered, what the pressure at rest says of it, and the reasons that were given."""
    shown = stood.job
    found = sections_of(shown, request.shop, reader_of(request.user, request.shop.zone))
    at_rest = static(shown)
    if at_rest is not None:
        found["after"].facts.append(Fact("Verdict", at_rest.sentence))
    return [section for section in (*found.values(), reasons_of(shown, stood.steps)) if section.facts]


def _differences(shown: Job) -> list[Weighing]:
    """What its weighings found that weighing cannot explain, posted with it."""
    if not shown.voucher_id:
        return []
    found = Weighing.objects.filter(voucher=shown.voucher_id, restates=None, outcome__startswith="unexplained")
    return list(found.select_related("container").order_by("line"))


def _cost(request: HttpRequest, lines: list) -> str:
    """What the refrigerant and oil of a job cost, for those who answer for it."""
    if request.user.role == "technician":
        return ""
    taken = [line for line in lines if line.action in {"charge", "oil-add"} and line.container and line.amount]
    if not taken:
        return ""
    minor, known = cost((line.amount, line.container.price_minor, line.container.nominal) for line in taken)
    return show_money(minor, request.shop.currency) + ("" if known else ", without containers that have no price")


@everybody
def job_sheet(request: HttpRequest, pk: int) -> HttpResponse:
    shown = job_or_404(request, pk)
    answer = HttpResponse(sheet.job_sheet(shown), content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="job-{get_valid_filename(shown.title)}.pdf"'
    return answer


@everybody
def job_customer_sheet(request: HttpRequest, pk: int) -> HttpResponse:
    """The sheet for the customer, of the revision that stands."""
    shown = job_or_404(request, pk)
    stands = standing(shown)
    if stands is None:
        messages.error(request, f"Job {shown.title} is not signed; the sheet for the customer is made of a signed job.")
        return redirect("job", shown.pk)
    answer = HttpResponse(customer_sheet(stands), content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="job-{get_valid_filename(stands.title)}-customer.pdf"'
    return answer


@everybody
def job_correct(request: HttpRequest, pk: int) -> HttpResponse:
    shown = job_or_404(request, pk)
    form = CorrectForm(request.POST or None)
    if form.is_valid():
        try:
            new = signing.correct_job(shown.pk, by=request.user, note=form.cleaned_data["note"])
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
        return redirect(back_of(request) or reverse("jobs"))
    if not shown.is_draft:
        return redirect("job", shown.pk)
    return render(request, "jobs/drop.html", {"job": shown})
