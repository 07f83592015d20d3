"""The owner's pages about inspectors."""

import datetime as dt

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from inventory.shop.access import owner
from inventory.shop.clock import today
from inventory.shop.forms import DayField, add_refused
from inventory.text.refusal import Refused
from shopledger.inspectors.actions import end_access, issue_access
from shopledger.inspectors.models import InspectorAccess
from shopledger.reporting.periods import quarter

SHOWN = 200


class AccessForm(forms.Form):
    name = forms.CharField(label="Inspector's name and office", max_length=150)
    first = DayField(label="May see records from", initial=lambda: quarter(today()).first)
    last = DayField(label="May see records to")
    until = DayField(label="May sign in through", initial=lambda: today() + dt.timedelta(days=7))


@owner
def inspectors(request: HttpRequest) -> HttpResponse:
    form = AccessForm(request.POST or None)
    if form.is_valid():
        try:
            access, password = issue_access(by=request.user, **form.cleaned_data)
        except Refused as refused:
            add_refused(form, refused)
        else:
            request.session["inspector_password"] = [access.pk, password]  # until it is shown, once
            return redirect("inspector", access.pk)
    found = InspectorAccess.objects.select_related("person")[:SHOWN]
    day = today()
    said = {"form": form, "accesses": [(one, one.open_on(day)) for one in found]}
    return render(request, "inspectors/inspectors.html", said, status=422 if form.errors else 200)


@owner
def inspector(request: HttpRequest, pk: int) -> HttpResponse:
    access = get_object_or_404(InspectorAccess.objects.select_related("person"), pk=pk)
    shown = request.session.get("inspector_password") or [None, ""]
    password = ""
    if shown[0] == pk and request.method == "GET":
        password = request.session.pop("inspector_password")[1]
    said = {
        "access": access,
        "open": access.open_on(today()),
        "password": password,
        "looks": access.looks.all()[:SHOWN],
    }
    return render(request, "inspectors/inspector.html", said)


@owner
@require_POST
def inspector_end(request: HttpRequest, pk: int) -> HttpResponse:
    access = end_access(get_object_or_404(InspectorAccess, pk=pk).pk, by=request.user)
    messages.success(request, f"The access of {access.person.name} has ended.")
    return redirect("inspector", pk)
