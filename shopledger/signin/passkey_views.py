"""What the script of passkeys asks and answers; JSON both ways. What is refused is a sentence for the page."""

import json
from collections.abc import Callable
from functools import wraps

from django.contrib import messages
from django.contrib.auth import login, logout
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.http.request import RawPostDataException
from django.shortcuts import redirect, resolve_url
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from inventory.shop.access import everybody
from inventory.text.refusal import Refused
from shopledger.signin import opened, passkeys, second
from shopledger.signin.views import whoever


def said_in_json(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    @wraps(view)
    def answered(request: HttpRequest, *args: object) -> HttpResponse:
        try:
            return view(request, *args)
        except Refused as refused:
            return JsonResponse({"said": refused.message}, status=422)

    return answered


def _sent(request: HttpRequest) -> dict:
    try:
        sent = json.loads(request.body)
    except (ValueError, RecursionError, RawPostDataException):  # the last: a form, which was read as such
        sent = None
    whole = isinstance(sent, dict) and isinstance(sent.get("credential"), dict)
    if not whole or "\\u0000" in json.dumps(sent):  # no text has a NUL character, and PostgreSQL takes none
        raise Refused("This was not readable. Reload the page and try again.")
    return sent


@login_not_required
@require_POST
@said_in_json
def asked(request: HttpRequest) -> HttpResponse:
    return HttpResponse(passkeys.ask_to_sign_in(request, opened.half_way(request)), content_type="application/json")


@login_not_required
@require_POST
@said_in_json
def sign_in(request: HttpRequest) -> HttpResponse:
    sent = _sent(request)
    half_way = opened.half_way(request)
    person = passkeys.signed_in_by(request, sent["credential"])
    request.signed_in_by = "password and passkey" if half_way else "passkey"
    if request.user.is_authenticated:  # somebody else, who forgot to sign out
        logout(request)
    login(request, person, backend="django.contrib.auth.backends.ModelBackend")
    to = sent.get("next")
    safe = isinstance(to, str) and url_has_allowed_host_and_scheme(to, {request.get_host()}, request.is_secure())
    return JsonResponse({"go": to if safe else resolve_url("home")})


@whoever
@require_POST
@said_in_json
def new_asked(request: HttpRequest) -> HttpResponse:
    return HttpResponse(passkeys.ask_for_new(request), content_type="application/json")


@whoever
@require_POST
@said_in_json
def new(request: HttpRequest) -> HttpResponse:
    sent = _sent(request)
    name = sent.get("name")
    made = passkeys.take_new(request, sent["credential"], name if isinstance(name, str) else "")
    use = (
        "It signs you in by itself, without your password."
        if made.verified
        else "Its device does not ask who holds it, so it stands beside your password and not in its place."
    )
    messages.success(request, f"The passkey {made.name} was added. {use}")
    if not second.paper_codes_left(request.user):
        messages.info(request, "Make codes for paper now: they sign you in where the device is lost.")
    return JsonResponse({"go": reverse("second-factor")})


@everybody
@require_POST
def remove(request: HttpRequest, pk: int) -> HttpResponse:
    try:
        name = passkeys.remove_passkey(request.user, pk)
    except Refused as refused:
        messages.error(request, refused.message)
    else:
        messages.success(request, f"The passkey {name} was removed; it signs nobody in any more.")
    return redirect("second-factor")
