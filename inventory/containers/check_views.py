"""Pages on which containers are checked for leaks."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from inventory.containers.forms import LeakCheckForm
from inventory.containers.leak_checks import check_for_leaks, checks_of
from inventory.containers.views import chosen_codes
from inventory.shop.access import everybody, office
from inventory.shop.acting import act
from inventory.shop.clock import today

SHOWN = 500  # containers on the page of what is to be checked


@everybody
def container_checks(request: HttpRequest) -> HttpResponse:
    """What is to be checked for leaks, as the rulebook asks."""
    found = checks_of(request.shop.rules, today())
    late = [one for one in found if one.verdict.is_breach]
    due = [one for one in found if one.verdict.answer == "due"]
    said = {
        "asked": bool(request.shop.rules.section("container_check", today())),
        "to_check": (late + due)[:SHOWN],
        "open": len(late) + len(due),
        "done": len(found) - len(late) - len(due),
        "leaking": [one.container for one in found if one.container.leaking],
        "may": request.user.role in {"office", "owner"},
    }
    return render(request, "inventory/container_checks.html", said)


@office
def leak_checked(request: HttpRequest) -> HttpResponse:
    """One check of the chosen containers, with one result."""
    codes = chosen_codes(request)
    form = LeakCheckForm(request.POST if request.method == "POST" else None)

    def do(data: dict) -> None:
        check_for_leaks(codes=codes, by=request.user.username, **data)

    one = codes[0] if len(codes) == 1 else ""
    return act(
        request,
        form,
        do,
        heading=f"Check {one or 'containers'} for leaks",
        back=reverse("container", args=[one]) if one else reverse("container-checks"),
        intro=", ".join(codes) or "No container is chosen; tick some in the list of stock first.",
        done=f"{len(codes)} checked.",
        hidden=[("codes", code) for code in codes],
    )
