"""Setting up a second factor, turning it off, and letting somebody in again who typed a wrong password too often."""

import segno
from axes.utils import reset
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from inventory.shop.access import everybody, owner
from inventory.shop.forms import add_refused
from inventory.text.refusal import Refused
from jobs.people.models import Person
from shopledger.errors.views import fault
from shopledger.signin import second
from shopledger.signin.forms import CodeForm, PasswordAgainForm


@everybody
def second_factor(request: HttpRequest) -> HttpResponse:
    """On: turned off with the password. Off: set up with the first code."""
    person = request.user
    if second.has_second_factor(person):
        form = PasswordAgainForm(request.POST or None, person=person)
        if form.is_valid():
            second.remove(person)
            messages.success(request, "The second factor is off: your password alone signs you in.")
            return redirect("second-factor")
        said = {"form": form, "on": True}
        return render(request, "signin/second.html", said, status=422 if form.errors else 200)
    form = CodeForm(request.POST or None)
    device = second.prepare(person)
    if form.is_valid():
        try:
            codes = second.confirm(person, form.cleaned_data["code"])
        except Refused as refused:
            add_refused(form, refused)
        else:
            answer = render(request, "signin/paper.html", {"codes": codes})
            answer["Cache-Control"] = "no-store"
            return answer
    said = {
        "form": form,
        "on": False,
        "secret": device.config_url.partition("secret=")[2].partition("&")[0],
        "picture": segno.make(device.config_url).svg_data_uri(scale=5, border=2, light="#fff"),
    }
    answer = render(request, "signin/second.html", said, status=422 if form.errors else 200)
    answer["Cache-Control"] = "no-store"
    return answer


@owner
@require_POST
def person_let_in(request: HttpRequest, pk: int) -> HttpResponse:
    """After too many wrong passwords: the next try counts again. With `second`, the second factor goes too."""
    person = get_object_or_404(Person, pk=pk)
    reset(username=person.username)
    if request.POST.get("second") and second.remove(person):
        messages.success(request, f"{person.name} signs in with the password alone, until they set up another device.")
    else:
        messages.success(request, f"{person.name} can try to sign in again.")
    return redirect("person", pk)


def locked_out(request: HttpRequest, credentials: dict | None = None, *_args, **_kwargs) -> HttpResponse:
    """Too many wrong passwords for a name from one address. The same is said of names that do not exist."""
    return fault(
        request,
        429,
        "Too many tries",
        "A wrong password was entered several times. Nobody is signed in with that name from here for 15 minutes.",
        "Wait, then try again; or ask an owner of the shop, who lets you in from your page under People.",
    )
