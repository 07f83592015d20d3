"""Pages about places: what stands at each, and with whom it is."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from inventory.containers.actions import add_location
from inventory.containers.keepers import PlaceWords
from inventory.containers.models import Location, Scale
from inventory.places.actions import give_place
from inventory.places.forms import KeeperForm, LocationForm
from inventory.places.queries import Standing, standing_at
from inventory.shop.access import everybody, office
from inventory.shop.acting import act
from inventory.shop.forms import add_refused
from inventory.text.refusal import Refused

PER_PAGE = 25


@office
def places(request: HttpRequest) -> HttpResponse:
    """Each place with whom it is with and what stands there, and the scales; a place is added here."""
    form = LocationForm(request.POST or None)
    if form.is_valid():
        try:
            added = add_location(name=form.cleaned_data["name"])
        except Refused as refused:
            add_refused(form, refused)
        else:
            messages.success(request, f"{added.name} is added.")
            return redirect("places")
    return _page(request, {"form": form, "may": True, "scales": Scale.objects.all()}, 422 if form.errors else 200)


@everybody
def where(request: HttpRequest) -> HttpResponse:
    """The same to read: which container is where, and with whom."""
    return _page(request, {"may": False}, 200)


def _page(request: HttpRequest, more: dict[str, object], status: int) -> HttpResponse:
    asked = request.GET.get("name", "").strip()[:100]
    found = Location.objects.order_by("name")
    if asked:
        found = found.filter(Q(name__icontains=asked) | Q(keeper__icontains=asked))
    page = Paginator(found, PER_PAGE).get_page(request.GET.get("page"))
    said = {"page": page, "rows": _rows(page), "asked": asked, **more}
    return render(request, "inventory/places.html", said, status=status)


def _rows(page) -> list[dict[str, object]]:
    """Two questions, and none more for more places."""
    shown, words = list(page), PlaceWords()
    standing = standing_at(shown)
    return [{"place": one, "keeper": words.keeper(one), "here": standing.get(one.pk) or Standing()} for one in shown]


@office
def place_keeper(request: HttpRequest, pk: int) -> HttpResponse:
    """With whom a place is; changed and ended at any time."""
    shown = get_object_or_404(Location, pk=pk)
    form = KeeperForm(request.POST or None, now=shown.keeper, initial={"keeper": shown.keeper})
    named = dict(form.fields["keeper"].choices).get(request.POST.get("keeper", ""), "")
    return act(
        request,
        form,
        lambda data: give_place(name=shown.name, keeper=data["keeper"]),
        heading=f"With whom {shown.name} is",
        back=reverse("places"),
        intro="What stands there stays where it is. Whose place it is stands wherever the place is named.",
        done=f"{shown.name} is with {named} from now on.",
        record=shown,
    )
