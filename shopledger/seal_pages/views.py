"""Closing days for good, and the reports as they were then."""

import datetime as dt

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from inventory.ledger.models import Seal
from inventory.ledger.queries import last_seal
from inventory.measures.days import said_day
from inventory.shop.access import office, owner
from inventory.shop.back import back_of
from inventory.shop.clock import today
from inventory.shop.forms import add_refused
from inventory.text.refusal import Refused
from jobs.people.queries import names_of_people
from shopledger import background
from shopledger.monthend.queries import steps
from shopledger.reports.registry import REPORTS
from shopledger.sealing.actions import hand_out, seal_period
from shopledger.sealing.forms import HandedForm, SealForm
from shopledger.sealing.models import IssuedReport
from shopledger.sealing.proof import read_issued
from shopledger.sealing.queries import entry_of, first_day, handed_out, missing, not_handed_out, period_of, would_seal
from shopledger.sealing.receipt import entered, filename, receipt_pdf


@office
def seals(request: HttpRequest) -> HttpResponse:
    found = list(Seal.objects.order_by("-through")[:200])
    names = names_of_people({one.made_by for one in found})
    rows = [(one, names.get(one.made_by, one.made_by)) for one in found]
    return render(request, "sealing/seals.html", {"seals": rows, "waiting": not_handed_out()})


@owner
def seal(request: HttpRequest) -> HttpResponse:
    """Seal the days up to one. Shows what is still open in them."""
    eve = today().replace(day=1) - dt.timedelta(days=1)
    asked = request.POST.get("through") or request.GET.get("through") or str(eve)
    form = SealForm(request.POST or None, initial={"through": asked})
    if form.is_valid():
        try:
            made = seal_period(form.cleaned_data["through"], request.user.username)
        except Refused as refused:
            add_refused(form, refused)
        else:
            background.start("keep_issued", str(made.pk))
            messages.success(
                request, f"All days up to {said_day(made.through)} are sealed. Their reports are being kept."
            )
            return redirect(back_of(request) or reverse("sealed", args=[made.pk]))
    before = last_seal()
    try:
        through = dt.date.fromisoformat(asked)
    except ValueError:
        through = eve
    first = before.through + dt.timedelta(days=1) if before else first_day() or through
    since = max(first, through.replace(day=1))
    open_steps = [one for one in steps(first, through, since) if one.count] if first <= through else []
    said = {"form": form, "before": before, "open": open_steps, "first": first, "through": through}
    said["sealing"] = would_seal(through)
    return render(request, "sealing/seal.html", said, status=422 if form.errors else 200)


@office
def sealed(request: HttpRequest, pk: int) -> HttpResponse:
    """One seal: what it closed, and the reports as issued."""
    made = get_object_or_404(Seal, pk=pk)
    period = period_of(made)
    kept: dict[str, list[IssuedReport]] = {}
    for row in made.issued.all():
        kept.setdefault(row.report, []).append(row)
    handed = handed_out(made)
    said = {
        "seal": made,
        "by": names_of_people([made.made_by]).get(made.made_by, made.made_by),
        "through": made.through.isoformat(),
        "entry": entry_of(made),
        "handed": handed,
        "handed_look": "" if handed else "primary",
        "period": period,
        "missing": len(missing(made)) if period else 0,
        "kept": [(REPORTS[name].title if name in REPORTS else name, rows) for name, rows in kept.items()],
    }
    return render(request, "sealing/sealed.html", said)


@owner
def seal_keep(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep the reports of a seal that were not kept yet."""
    made = get_object_or_404(Seal, pk=pk)
    if request.method == "POST":
        background.start("keep_issued", str(made.pk))
        messages.success(request, "The reports are being kept.")
    return redirect("sealed", made.pk)


@office
def seal_receipt(request: HttpRequest, pk: int) -> HttpResponse:
    """The page to give away, as a file."""
    made = get_object_or_404(Seal, pk=pk)
    try:
        body, name = receipt_pdf(made), filename(made, entered(made))
    except Refused as refused:
        raise Http404(refused.message) from None
    answer = HttpResponse(body, content_type="application/pdf")
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


@owner
def seal_handed(request: HttpRequest, pk: int) -> HttpResponse:
    """Enter who holds a receipt now."""
    made = get_object_or_404(Seal, pk=pk)
    form = HandedForm(request.POST or None)
    if form.is_valid():
        data = form.cleaned_data
        try:
            hand_out(made, to=data["to"], day=data["day"], by=request.user.username, key=str(data["key"]))
        except Refused as refused:
            add_refused(form, refused)
        else:
            messages.success(request, f"The receipt is marked as handed out on {said_day(data['day'])}.")
            return redirect(back_of(request) or reverse("sealed", args=[made.pk]))
    said = {"form": form, "seal": made, "back": back_of(request, reverse("sealed", args=[made.pk]))}
    return render(request, "sealing/handed.html", said, status=422 if form.errors else 200)


@office
def issued(request: HttpRequest, pk: int) -> HttpResponse:
    """One report as it was issued, as a file."""
    row = get_object_or_404(IssuedReport, pk=pk)
    try:
        body = read_issued(row)
    except Refused as refused:
        raise Http404(refused.message) from None
    answer = HttpResponse(body, content_type={"pdf": "application/pdf", "csv": "text/csv; charset=utf-8"}[row.format])
    answer["Content-Disposition"] = f'attachment; filename="{row.filename}"'
    return answer
