"""The page of one form that does one action."""

from collections.abc import Callable

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from inventory.shop.back import back_of
from inventory.shop.forms import add_refused
from inventory.text.refusal import Refused


def act(
    request: HttpRequest,
    form: forms.Form,
    do: Callable[[dict], object],
    *,
    heading: str,
    back: str,
    done: str,
    **more: object,
) -> HttpResponse:
    """A page with one form that does one action: errors at their fields, what was typed kept, then on to `back`, or to
    where the address says (`back.py`). more: what else the page shows, as its template names it: intro, button, lists,
    hidden, residues; will: what the action comes to, which is asked about before it is done."""
    back = back_of(request, back)
    if form.is_bound and form.is_valid() and not more.get("will"):
        try:
            do(form.cleaned_data)
        except Refused as refused:
            add_refused(form, refused)
        else:
            messages.success(request, done)
            return redirect(back)
    said = {"form": form, "heading": heading, "back": back, "button": "Save", **more}
    return render(request, "inventory/form.html", said, status=422 if form.errors else 200)
