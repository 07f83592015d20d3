"""Pages about what happened about the leaks of a unit. Everybody who works here may enter it, and void it."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from inventory.attachments.queries import attachments_of
from inventory.shop.access import everybody
from inventory.shop.forms import add_refused
from inventory.text.refusal import Refused
from jobs.leaks import actions
from jobs.leaks.forms import LeakEventForm, VoidForm
from jobs.leaks.models import LeakEvent
from jobs.leaks.queries import all_events_of, visits_to_name
from jobs.leaks.released import asked_of, cautions
from jobs.units.queries import unit_list


@everybody
def unit_leak_events(request: HttpRequest, pk: int) -> HttpResponse:
    """All that happened about the leaks of a unit, the latest first."""
    shown = get_object_or_404(unit_list(), pk=pk)
    page = Paginator(all_events_of(shown), 50).get_page(request.GET.get("page"))
    return render(request, "units/leak_events.html", {"unit": shown, "page": page})


@everybody
def unit_leak_event(request: HttpRequest, pk: int) -> HttpResponse:
    """What happened is chosen first: it decides what is asked."""
    shown = get_object_or_404(unit_list(), pk=pk)
    back, kind = reverse("unit", args=[pk]), request.GET.get("kind", "")
    kinds = dict(LeakEvent.KINDS)
    if not kind:
        said = {"unit": shown, "kinds": LeakEvent.KINDS, "back": back}
        return render(request, "units/leak_event_kind.html", said)
    if kind not in kinds:
        raise Http404
    form = LeakEventForm(request.POST or None, kind=kind, jobs=visits_to_name(shown, request.user))
    if form.is_valid():
        try:
            kept = actions.add_leak_event(shown, by=request.user, **form.said())
        except Refused as refused:
            add_refused(form, refused)
        else:
            messages.success(request, f"The {kept.get_kind_display()} is kept.")
            return redirect("leak-event", kept.pk) if kind == "release" else redirect("unit", pk)
    said = {"unit": shown, "form": form, "heading": kinds[kind].capitalize(), "back": back}
    return render(request, "units/leak_event_form.html", said, status=422 if form.errors else 200)


def _event(pk: int) -> LeakEvent:
    return get_object_or_404(LeakEvent.objects.select_related("unit", "person", "job", "by", "voided_by"), pk=pk)


@everybody
def leak_event(request: HttpRequest, pk: int) -> HttpResponse:
    """One of them whole, with its papers."""
    shown, rules = _event(pk), request.shop.rules
    said = {"event": shown, "files": list(attachments_of(f"leak-event:{pk}"))}
    if shown.kind == "release" and not shown.is_void:
        said |= {"asked": asked_of(shown, rules), "cautions": cautions(shown, rules)}
    return render(request, "units/leak_event.html", said)


@everybody
def leak_event_void(request: HttpRequest, pk: int) -> HttpResponse:
    """Say that it is void, with the reason."""
    shown = _event(pk)
    form = VoidForm(request.POST or None)
    back = reverse("leak-event", args=[pk])
    if form.is_valid():
        try:
            actions.void_leak_event(shown, by=request.user, reason=form.cleaned_data["reason"])
        except Refused as refused:
            add_refused(form, refused)
        else:
            messages.success(request, "It is void from now on.")
            return redirect(back)
    said = {"event": shown, "form": form, "back": back}
    return render(request, "units/leak_event_void.html", said, status=422 if form.errors else 200)
