"""Where somebody is signed in, and ending that: their own page, and the owner's of anybody."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from inventory.audit.queries import changes
from inventory.audit.recording import SIGN_IN
from inventory.ledger.models import Record
from inventory.shop.access import everybody, owner
from inventory.shop.forms import number_in
from jobs.people.models import STAFF, Person
from shopledger.signin import opened, standing
from shopledger.signin.queries import ways_in_of_all

TOLD = 20


@everybody
def sign_ins(request: HttpRequest) -> HttpResponse:
    """One's own."""
    return _page(request, request.user, "Where you are signed in", "sign-in-end", own=True)


@everybody
@require_POST
def sign_in_end(request: HttpRequest) -> HttpResponse:
    return _ended(request, request.user, redirect("sign-ins"))


@owner
def person_sign_ins(request: HttpRequest, pk: int) -> HttpResponse:
    person = get_object_or_404(Person, pk=pk, role__in=STAFF)
    return _page(request, person, f"Where {person.name} is signed in", "person-sign-in-end")


@owner
@require_POST
def person_sign_in_end(request: HttpRequest, pk: int) -> HttpResponse:
    person = get_object_or_404(Person, pk=pk, role__in=STAFF)
    return _ended(request, person, redirect("person-sign-ins", pk))


@owner
def ways_in(request: HttpRequest) -> HttpResponse:
    """How everybody signs in, and of whom a second factor is demanded."""
    demanded = set(request.shop.second_factor_roles)
    people = ways_in_of_all()
    without = [one for one in people if one.role in demanded and not one.has_factor]
    said = {"people": people, "without": without, "demanded": sorted(demanded)}
    return render(request, "signin/ways_in.html", said)


def _page(request: HttpRequest, person: Person, heading: str, way: str, own: bool = False) -> HttpResponse:
    rows, standings = list(opened.open_of(person)), list(standing.of_person(person))
    here, phone = request.sign_in.pk, request.sign_in.phone_id if own else None
    told = Record.objects.filter(kind=SIGN_IN, key=person.username).order_by("-id")
    said = {
        "person": person,
        "heading": heading,
        "rows": [(one, one.pk == here) for one in rows],
        "others": [one for one in rows if one.pk != here] + [one for one in standings if one.phone_id != phone],
        "standings": [(one, one.phone_id == phone) for one in standings],
        "told": changes(told, TOLD),
        "way": way,
        "own": own,
    }
    return render(request, "signin/sign_ins.html", said)


def _ended(request: HttpRequest, person: Person, answer: HttpResponse) -> HttpResponse:
    """`one`: the number of the sign-in that ends; `standing`: of what lets the person come back by PIN; without either
    all do, but this one."""
    only = number_in(request.POST, "one")
    if "one" in request.POST and only is None:
        only = 0
    if "standing" in request.POST:
        count = opened.end_standing(person, number_in(request.POST, "standing") or 0)
    else:
        count = opened.end_sign_ins(person, only)
    if count:
        messages.success(request, "That sign-in has ended." if count == 1 else f"{count} sign-ins have ended.")
    else:
        messages.info(request, "There was nothing to end: it had ended already, or is the one you use now.")
    return answer
