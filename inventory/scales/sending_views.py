"""What a scale sends: its page, where its form is confirmed once, and the reading of what it sent in the bay."""

import json

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from inventory.containers.models import Scale
from inventory.scales.forms import ConnectionForm, LineForm, MeaningForm
from inventory.scales.sending import (
    CONNECTION,
    Connection,
    confirm_form,
    connect_scale,
    connection_said,
    take_form_back,
    taken_from,
)
from inventory.scales.string_forms import FORMS, TICKET_FORM
from inventory.scales.strings import Guess
from inventory.scales.taking import meanings
from inventory.shop.access import everybody, office
from inventory.shop.forms import add_refused
from inventory.text.refusal import Refused


@office
def scale_sends(request: HttpRequest, pk: int) -> HttpResponse:
    """How it is connected, and what its lines mean; `line`: one that it sent, to see what it can mean."""
    shown = get_object_or_404(Scale, pk=pk)
    return _page(request, shown, line=LineForm(request.GET) if "line" in request.GET else None)


def _page(request: HttpRequest, shown: Scale, **forms_back: forms.Form | None) -> HttpResponse:
    """forms_back: `connection`, `line` and `meaning`, as they came back."""
    line, meaning = forms_back.get("line"), forms_back.get("meaning")
    known, refusals = _guesses(shown, line) if line is not None and line.is_valid() else ([], [])
    if meaning is None and known:
        meaning = MeaningForm(guesses=known, initial={"line": line.cleaned_data["line"]})
    said = {
        "scale": shown,
        "connection": forms_back.get("connection")
        or ConnectionForm(initial={name: getattr(shown, name) for name in CONNECTION}),
        "line": line or LineForm(),
        "meaning": meaning,
        "refusals": refusals,
        "example": FORMS.get(shown.form, ""),
        "port": json.dumps({**connection_said(shown), "ticket": shown.form == TICKET_FORM}),
    }
    faulty = any(form is not None and form.errors for form in forms_back.values())
    return render(request, "inventory/scale_sends.html", said, status=422 if faulty else 200)


def _guesses(shown: Scale, line: LineForm) -> tuple[list[Guess], list[str]]:
    """The readings of a line, and the reasons of the forms that know it and take none from it."""
    try:
        found = meanings(line.cleaned_data["line"], shown.readability_mg)
    except Refused as refused:
        add_refused(line, refused)
        return [], []
    known = [one for one in found if one.reading is not None]
    refusals = list(dict.fromkeys(one.refusal.message for one in found if one.refusal is not None))
    if not known and not refusals:
        line.add_error(
            "line",
            "No form that this program knows reads this line: look whether it is whole, and whether baud, bits and "
            "parity are the scale's. Until then its display is read and typed.",
        )
    return known, refusals


@office
@require_POST
def scale_connects(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep how it is connected."""
    shown = get_object_or_404(Scale, pk=pk)
    form = ConnectionForm(request.POST)
    if form.is_valid():
        try:
            connect_scale(shown, connection=Connection(**form.cleaned_data))
        except Refused as refused:
            add_refused(form, refused)
        else:
            messages.success(request, f"How scale {shown.code} is connected is kept.")
            return redirect("scale-sends", pk)
    return _page(request, get_object_or_404(Scale, pk=pk), connection=form)


@office
@require_POST
def scale_form(request: HttpRequest, pk: int) -> HttpResponse:
    """Confirm the form of its lines by what its display showed."""
    shown = get_object_or_404(Scale, pk=pk)
    line = LineForm(request.POST)
    known = _guesses(shown, line)[0] if line.is_valid() else []
    form = MeaningForm(request.POST, guesses=known)
    if line.is_valid() and form.is_valid():
        data = form.cleaned_data
        try:
            confirm_form(shown, **data, by=request.user.username)
        except Refused as refused:
            add_refused(form, refused)
        else:
            messages.success(request, f"What scale {shown.code} sends is confirmed: it can be read in the bay.")
            return redirect("scale-sends", pk)
    return _page(request, get_object_or_404(Scale, pk=pk), line=line, meaning=form)


@office
@require_POST
def scale_form_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Take the confirmed form back."""
    shown = take_form_back(get_object_or_404(Scale, pk=pk))
    messages.success(request, f"Scale {shown.code} is not read any longer, until its form is confirmed again.")
    return redirect("scale-sends", pk)


@everybody
@require_POST
def scale_read(request: HttpRequest, code: str) -> JsonResponse:
    """What a scale's line says: `sent`, written out as strings.visible does it. Nothing is kept by it.

    weight: as a field for weights takes it; said: gross or net, and how it is known that the load stood still; sent:
    what goes with the weight. Where none is taken, `why` says it in a sentence."""
    shown = get_object_or_404(Scale, code=code, retired=False)
    try:
        taken = taken_from(shown, request.POST.get("sent", ""))
    except Refused as refused:
        return JsonResponse({"why": refused.message})
    return JsonResponse(
        {
            "figure": taken.reading.figure,
            "weight": taken.value,
            "said": taken.said,
            "basis": taken.reading.basis,
            "stable": taken.reading.stable,
            "sent": taken.sent,
        }
    )
