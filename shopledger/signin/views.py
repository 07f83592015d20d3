"""The second factor, proving again who somebody is, and letting somebody in again who guessed too often."""

import segno
from axes.utils import reset
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from inventory.shop.access import ROLES, owner, role_required
from inventory.shop.forms import add_refused
from inventory.text.refusal import Refused
from jobs.people.models import Person
from shopledger.errors.views import fault
from shopledger.signin import opened, passkeys, second
from shopledger.signin.forms import AgainForm, CodeForm, PasswordAgainForm

SHOWN = "second_factor_shown"  # in a session: the number of the device whose secret it was shown
whoever = role_required(*ROLES)  # an inspector comes this far only where a second factor is demanded of inspectors


@whoever
def second_factor(request: HttpRequest) -> HttpResponse:
    """Codes: on, turned off with the password; off, set up with the first one. Beside them the passkeys."""
    person = request.user
    if second.has_code(person):
        form = PasswordAgainForm(request.POST or None, request=request)
        if form.is_valid():
            try:
                second.remove(person)
            except Refused as refused:
                add_refused(form, refused)
            else:
                messages.success(request, "The codes are off.")
                return redirect("second-factor")
        return _page(request, {"form": form, "on": True})
    form = CodeForm(request.POST or None)
    device = second.prepare(person, request.session.get(SHOWN))
    request.session[SHOWN] = device.pk
    if form.is_valid():
        try:
            codes = second.confirm(person, form.cleaned_data["code"])
        except Refused as refused:
            add_refused(form, refused)
        else:
            return _paper(request, codes, "The second factor is on")
    said = {
        "form": form,
        "on": False,
        "secret": device.config_url.partition("secret=")[2].partition("&")[0],
        "picture": segno.make(device.config_url).svg_data_uri(scale=5, border=2, light="#fff"),
    }
    return _page(request, said)


def _page(request: HttpRequest, said: dict) -> HttpResponse:
    said |= {
        "setting_up": request.setting_up,
        "demanded": second.demanded_of(request.user),
        "passkeys": list(request.user.passkeys.all()),
        "nowhere": "" if passkeys.site(request) else passkeys.NOWHERE,
        "paper_left": second.paper_codes_left(request.user),
    }
    return render(request, "signin/second.html", said, status=422 if said["form"].errors else 200)


def _paper(request: HttpRequest, codes: list[str], heading: str) -> HttpResponse:
    return render(request, "signin/paper.html", {"codes": codes, "heading": heading})


@whoever
@require_POST
def paper_codes(request: HttpRequest) -> HttpResponse:
    if not second.has_second_factor(request.user):
        messages.info(request, "Set up a second factor first: codes on paper stand in for it.")
        return redirect("second-factor")
    return _paper(request, second.new_paper_codes(request.user), "New codes for paper")


@whoever
def prove_again(request: HttpRequest) -> HttpResponse:
    """All that somebody gave to sign in, again: before what a person who finds a sign-in open shall not do."""
    form = AgainForm(request.POST or None, request=request)
    back = request.POST.get("next") or request.GET.get("next") or ""
    here = url_has_allowed_host_and_scheme(back, {request.get_host()}, request.is_secure())
    if not (here and back.startswith("/")):  # anything else would be looked up as the name of a page
        back = "/"
    if form.is_valid():
        opened.proved(request)
        return redirect(back)
    said = {"form": form, "next": back, "passkey_next": False}
    if form.half_way:  # whoever uses the passkey signs in with it anew
        opened.go_half_way(request, form.half_way)
        said["passkey_next"] = passkeys.site(request) is not None
    return render(request, "signin/again.html", said, status=422 if form.errors else 200)


@owner
@require_POST
def person_let_in(request: HttpRequest, pk: int) -> HttpResponse:
    """After too many wrong passwords: the next try counts again. With `second`, the second factor goes too."""
    person = get_object_or_404(Person, pk=pk)
    reset(username=person.username)
    if request.POST.get("second") and second.forget_second_factors(person):
        messages.success(request, f"{person.name} signs in with the password alone, until they set up another device.")
    else:
        messages.success(request, f"{person.name} can try to sign in again.")
    return redirect("person", pk)


def locked_out(request: HttpRequest, credentials: dict | None = None, *_args, **_kwargs) -> HttpResponse:
    """Too many wrong answers for a name from one address. The same is said of names that do not exist."""
    return fault(
        request,
        429,
        "Too many tries",
        "A wrong password or code was entered several times. None is taken for that name from here for 15 minutes, "
        "the right one neither.",
        "Wait, then try again; or ask an owner of the shop, who lets you in from your page under People.",
    )
