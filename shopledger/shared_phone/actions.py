"""Changing the person of a phone, and what people who share one do with it."""

import logging

from django.contrib.auth import login, logout
from django.http import HttpRequest

from shopledger.signin import pins, standing, told
from shopledger.signin.models import Notice, Phone, SignIn, Standing
from shopledger.signin.opened import gone
from shopledger.signin.ways_in import may_sign_in

logger = logging.getLogger(__name__)
BY_PIN = "PIN"


def is_right(request: HttpRequest, held: Standing, pin: str) -> bool:
    """Whether this is the PIN of who may come back on this phone; a wrong one is counted first. The last of too many
    ends what lets them come back, and their sign-in there."""
    if not standing.take_a_try(held):
        return False
    if may_sign_in(held.person) and pins.fits(held.person, pin):
        standing.give_back(held)
        return True
    ended = standing.was_the_last(held)
    told.pin_refused(request, held.person.username, ended)
    if ended:
        gone(SignIn.objects.filter(phone=held.phone_id, person=held.person_id))
        said = (
            f"{standing.MOST_WRONG} wrong PINs were typed for you on {held.phone.browser}; it asks for your password."
        )
        Notice.objects.create(person=held.person, said=said)
    return False


def change_to(request: HttpRequest, held: Standing) -> None:
    """Sign in by PIN. Whoever was here before may come back by theirs."""
    if request.user.is_authenticated:
        logout(request)
    request.signed_in_by, request.stands_on = BY_PIN, held
    login(request, held.person, backend="django.contrib.auth.backends.ModelBackend")


def share(request: HttpRequest, shared: bool) -> None:
    """Say that several people use this phone, so that it locks; or that they do no more."""
    phone = standing.phone_of(request) or standing.know(request)
    Phone.objects.filter(pk=phone.pk).update(shared=shared, here=request.user)
    SignIn.objects.filter(pk=request.sign_in.pk).update(phone=phone)
    logger.info("%s is %s phone", phone, "a shared" if shared else "no shared")


def everybody_out(request: HttpRequest) -> int:
    """Nobody is signed in on this phone any more, nor comes back by PIN; how many could. That it is shared stays."""
    phone = standing.phone_of(request)
    people: set[int] = set()
    if phone is not None:
        held, rows = Standing.objects.filter(phone=phone), SignIn.objects.filter(phone=phone)
        people = {*held.values_list("person", flat=True), *rows.values_list("person", flat=True)}
        gone(rows)
        held.delete()
        Phone.objects.filter(pk=phone.pk).update(here=None)
        told.everybody_out(request, phone, len(people))
    if request.user.is_authenticated:
        people.add(request.user.pk)
        logout(request)
    return len(people)


def stand_here(request: HttpRequest) -> None:
    """The person who is signed in set a PIN just now, for which they gave all that they sign in with: they come back by
    it on this phone."""
    held = standing.grant(request, request.user)
    if held is not None:
        SignIn.objects.filter(pk=request.sign_in.pk).update(phone=held.phone)
        Phone.objects.filter(pk=held.phone_id).update(here=request.user)
