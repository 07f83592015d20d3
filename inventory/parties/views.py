"""Pages about suppliers, reclaimers, destroyers and buyers."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from inventory.parties.actions import save_party
from inventory.parties.forms import PartyForm
from inventory.parties.models import Party
from inventory.parties.tables import PartyFilter, PartyTable
from inventory.shop.access import office
from inventory.shop.acting import act
from inventory.shop.lists import export, paged


@office
def parties(request: HttpRequest) -> HttpResponse:
    listed = PartyFilter(request.GET, queryset=Party.objects.all())
    rows = listed.qs if listed.is_valid() else Party.objects.all()
    answer = export(request, PartyTable(rows), "parties")
    if answer is not None:
        return answer
    table = paged(request, PartyTable(rows), name="parties")
    return render(request, "inventory/parties.html", {"table": table, "filter": listed})


@office
def party_edit(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    shown = get_object_or_404(Party, pk=pk) if pk else None
    fields = ("name", "role", "address", "registration")
    form = PartyForm(request.POST or None, initial={name: getattr(shown, name) for name in fields} if shown else None)
    return act(
        request,
        form,
        lambda data: save_party(party=shown, **data),
        back=reverse("parties"),
        heading=f"{shown.name} ({shown.code})" if shown else "New supplier, reclaimer, destroyer or buyer",
        done="Saved.",
        record=shown,
    )
