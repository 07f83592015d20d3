"""Pages about suppliers, reclaimers, destroyers and buyers."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.text import capfirst

from inventory.attachments.queries import attachments_of
from inventory.measures.days import said_day
from inventory.parties.actions import PaperSaid, keep_paper, save_party, withdraw_paper
from inventory.parties.forms import PaperForm, PartyForm, WithdrawPaperForm
from inventory.parties.models import Party, PartyPaper
from inventory.parties.tables import PartyFilter, PartyTable
from inventory.shop.access import office
from inventory.shop.acting import act
from inventory.shop.clock import today
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
        more=_papers(shown) if shown else (),
    )


def _papers(party: Party) -> list[tuple[str, str]]:
    """Its papers, each with its page, and the way to another one."""
    found = [(_said(one), reverse("paper", args=[one.pk])) for one in party.papers.all()]
    return [*found, ("Add a certificate or declaration", reverse("party-paper-new", args=[party.pk]))]


def _said(paper: PartyPaper) -> str:
    """E.g. `declaration D-7, from 2 March 2026 until 1 March 2027, run out`."""
    until = f" until {said_day(paper.valid_until)}" if paper.valid_until else ""
    state = ", withdrawn" if paper.withdrawn_on else "" if paper.valid_on(today()) else ", not valid today"
    return f"{capfirst(str(paper))}, from {said_day(paper.valid_from)}{until}{state}"


@office
def paper_new(request: HttpRequest, pk: int) -> HttpResponse:
    party = get_object_or_404(Party, pk=pk)

    def keep(data: dict) -> None:
        said = {name: data[name] for name in ("kind", "number", "facility", "valid_from", "valid_until", "note")}
        keep_paper(party=party, said=PaperSaid(**said), by=request.user.username, key=data["key"])

    return act(
        request,
        PaperForm(request.POST or None),
        keep,
        heading=f"Certificate or declaration of {party.name}",
        back=reverse("party-edit", args=[pk]),
        done="It is kept. Its scan can be attached on its page.",
    )


@office
def paper(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(PartyPaper.objects.select_related("party"), pk=pk)
    said = {"paper": shown, "said": _said(shown), "files": attachments_of(f"party-paper:{pk}")}
    return render(request, "inventory/party_paper.html", said)


@office
def paper_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(PartyPaper.objects.select_related("party"), pk=pk)
    return act(
        request,
        WithdrawPaperForm(request.POST or None),
        lambda data: withdraw_paper(pk=pk, **data),
        heading=f"Withdraw {shown} of {shown.party.name}",
        back=reverse("paper", args=[pk]),
        button="Withdraw it",
        done="It says nothing any more.",
    )
