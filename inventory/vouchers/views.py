"""The ledger's own pages: vouchers, newest first, and one voucher with everything that it says."""

import json

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import urlencode

from inventory.codes.queries import names_of
from inventory.containers.actions import take_back
from inventory.containers.models import Container, Weighing
from inventory.containers.preview import restated_by
from inventory.containers.voucher_table import VoucherTable, movement_totals
from inventory.correcting.again import Said
from inventory.correcting.links import Links, links_of, why_not
from inventory.correcting.recorded import correcting
from inventory.ledger.accounts import HOLDING
from inventory.ledger.models import BESIDE_STOCK, VOUCHER_KINDS, Account, Movement, Voucher
from inventory.ledger.queries import head, revisions_of, voucher_containing
from inventory.ledger.snapshot import one_moment
from inventory.measures.days import said_day
from inventory.parties.queries import name_ends
from inventory.releases.asked import Asked, asked_of
from inventory.releases.queries import released_by
from inventory.shipping.actions import sent_of
from inventory.shipping.models import TheirWeight
from inventory.shipping.parcels import parcels_of
from inventory.shop.access import everybody, office
from inventory.shop.forms import DayInput, OnceForm, add_refused
from inventory.shop.lists import chosen_columns, export_rows
from inventory.text.refusal import Refused
from inventory.vouchers.listing import movement_rows
from inventory.vouchers.papers import papers_of
from inventory.vouchers.wording import codes_in, in_words

PAGE = 50
NARROW = ("document", "person", "since", "until", "container")  # filters that leave few enough to be summed
LEFT_STANDING = {"job", "reversal", "restatement"} | BESIDE_STOCK  # corrected elsewhere, or follow from what is
RECORDS = 50


class VoucherFilter(forms.Form):
    kind = forms.ChoiceField(
        label="Kind", required=False, choices=[("", "all"), *((kind, kind) for kind in VOUCHER_KINDS)]
    )
    document = forms.CharField(label="Document", required=False, max_length=200)
    person = forms.CharField(label="Done by", required=False, max_length=150)
    since = forms.DateField(label="From", required=False, widget=DayInput)
    until = forms.DateField(label="To", required=False, widget=DayInput)
    container = forms.CharField(label="Container", required=False, max_length=60)
    digest = forms.CharField(label="Digest", required=False, max_length=100)  # with blanks between groups
    before = forms.IntegerField(required=False, widget=forms.HiddenInput, min_value=1, max_value=2**53)


class TakeBackForm(OnceForm):
    note = forms.CharField(
        label="Why it is taken back",
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Say why the voucher is taken back."},
    )


@everybody
@one_moment()
def ledger(request: HttpRequest) -> HttpResponse:
    form = VoucherFilter(request.GET)
    found = Voucher.objects.select_related("reversed_by").order_by("-number")
    missing = ""
    if form.is_valid():
        data = form.cleaned_data
        if data["digest"]:
            known = voucher_containing(data["digest"])
            if known:
                return redirect("voucher", known.number)
            missing = data["digest"]
        found = _filtered(found, data)
        file = export_rows(request, movement_rows(found), "movements")
        if file:
            return file
    page = list(found[: PAGE + 1]) if form.is_valid() else []
    table = VoucherTable(page[:PAGE], orderable=False)
    table.files_are = "Their movements as"
    chosen_columns(request, table, "vouchers")
    return render(
        request,
        "inventory/ledger.html",
        {
            "vouchers": page[:PAGE],
            "table": table,
            "form": form,
            "missing": missing,
            "totals": _totals(found, form),
            "head": head(),
            "more": page[PAGE - 1].number if len(page) > PAGE else None,
        },
        status=200 if form.is_valid() else 422,
    )


def _totals(found, form: VoucherFilter) -> list[dict[str, object]]:
    """What all that is filtered moves, on the first page of it."""
    data = form.cleaned_data if form.is_valid() else {}
    narrowed = any(data.get(name) for name in NARROW) and not data["before"]
    return movement_totals(found) if narrowed else []


def _filtered(found, data: dict):
    if data["kind"]:
        found = found.filter(kind=data["kind"])
    if data["document"]:
        found = found.filter(document__icontains=data["document"])
    if data["person"]:
        found = found.filter(done_by=data["person"])
    if data["since"]:
        found = found.filter(day__gte=data["since"])
    if data["until"]:
        found = found.filter(day__lte=data["until"])
    if data["container"]:
        accounts = Account.objects.filter(cls__in=HOLDING, name=data["container"])
        moved = Movement.objects.filter(source__in=accounts) | Movement.objects.filter(target__in=accounts)
        found = found.filter(number__in=moved.values("voucher_id"))
    if data["before"]:
        found = found.filter(number__lt=data["before"])
    return found


@everybody
def voucher(request: HttpRequest, number: int) -> HttpResponse:
    """One voucher: what it moved and says, which others belong to it, and what may be done about it."""
    shown = get_object_or_404(Voucher.objects.select_related("reversed_by", "reverses"), number=number)
    movements = shown.movements.order_by("line").select_related("source", "target", "substance")
    detail = json.loads(shown.detail)
    weighings = shown.weighings.order_by("line").select_related("container", "scale")
    may = request.user.role in {"office", "owner"}
    arrived = urlencode([("codes", code) for code in detail.get("arrivals", {})])
    links = links_of(shown)
    return render(
        request,
        "inventory/voucher.html",
        {
            "voucher": shown,
            "links": links,
            "cause": links_of(links.because) if links.because else None,
            "restated": restated_by(shown),
            **_correct(request, shown, links),
            "movements": name_ends(movements),
            "beside_stock": shown.kind in BESIDE_STOCK,
            "weighings": weighings,
            "records": shown.records.order_by("line")[:RECORDS],
            "more_records": max(shown.records.count() - RECORDS, 0),
            "previous": Voucher.objects.filter(number=number - 1).values_list("digest", flat=True).first(),
            "detail": in_words(detail, names_of(codes_in(detail))),
            "labels": arrived,
            "send_back": arrived if may and shown.kind == "receipt" else "",
            "receipt_wanted": may and shown.kind == "shipment",
            "paper_wanted": may and shown.kind == "shipment" and not hasattr(shown, "reversed_by"),
            "parcels": parcels_of(shown) if shown.kind == "shipment" else [],
            "files": papers_of(shown) if may else None,
            "arrivals": _arrivals(shown, detail),
            "their": _their(shown),
            "asked": _asked(request, shown),
            "may_reverse": may and shown.kind not in LEFT_STANDING and not hasattr(shown, "reversed_by"),
        },
    )


def _correct(request: HttpRequest, shown: Voucher, links: Links) -> dict[str, object]:
    """Where a voucher is corrected by this person, or why it is not; and the day of the act, where that is another."""
    said = Said(shown)
    address, problem = correcting(shown, links, request.user), why_not(said, links)
    told = links.taken_back_by or links.because or shown.kind == "reversal"  # the page says it anyway
    on = said.event.on if "event" in said.detail else shown.day
    return {"correct": address, "not_corrected": "" if told else problem, "act_on": on if on != shown.day else None}


def _arrivals(shown: Voucher, detail: dict) -> list[dict]:
    """Each container of a delivery beside its first weighing: what weighs less than the paper says is flagged."""
    if shown.kind != "receipt":
        return []
    found = Container.objects.filter(code__in=list(detail.get("arrivals", {}))).order_by("code")[:500]
    first: dict[int, Weighing] = {}
    for weighing in Weighing.objects.filter(container__in=found, restates=None).order_by("-position", "-line"):
        first[weighing.container_id] = weighing
    return [{"container": one, "weighing": first.get(one.pk), **_beside_invoice(first.get(one.pk))} for one in found]


def _beside_invoice(weighing: Weighing | None) -> dict[str, str]:
    """What a first weighing says of the invoice, and how a badge shows it."""
    outcome = weighing.outcome if weighing else ""
    if outcome == "unexplained loss":
        return {"said": "less than invoiced", "look": "bad"}
    if outcome == "unexplained gain":
        return {"said": "more than invoiced", "look": "warn"}
    return {"said": "as invoiced", "look": "good"}


def _asked(request: HttpRequest, shown: Voucher) -> Asked | None:
    """What the rulebook asks once refrigerant got out; None where none did, or the entry was taken back."""
    found = released_by(shown)
    if found is None or not found.quantity or found.container.is_oil:
        return None
    return asked_of(request.shop.rules, found.substance, found.quantity, shown.day)


def _their(shown: Voucher) -> list[dict]:
    """A shipment's containers: what was sent by the ledger, and what those who took it found."""
    if shown.kind != "shipment":
        return []
    revisions = revisions_of(Voucher.objects.filter(number=shown.number))
    found = TheirWeight.objects.filter(voucher__in=revisions.values("number")).select_related("container")
    theirs = {one.container.code: one for one in found}
    return [
        {
            "code": code,
            "sent": quantity,
            "theirs": theirs.get(code),
            "difference": theirs[code].net - quantity if code in theirs else None,
            "oil": code in theirs and theirs[code].container.is_oil,
        }
        for code, quantity in sent_of(shown)
    ]


@office
def voucher_reverse(request: HttpRequest, number: int) -> HttpResponse:
    shown = get_object_or_404(Voucher, number=number)
    form = TakeBackForm(request.POST or None)
    if form.is_valid():
        data = form.cleaned_data
        try:
            reversal = take_back(number, by=request.user.username, note=data["note"], key=str(data["key"]))
        except Refused as refused:
            add_refused(form, refused)
        else:
            messages.success(request, f"Voucher {number} is taken back by voucher {reversal}.")
            return redirect("voucher", reversal)
    said = {
        "form": form,
        "heading": f"Take voucher {number} back",
        "back": reverse("voucher", args=[number]),
        "button": "Take it back",
        "lists": {},
        "hidden": [],
        "intro": f"{shown.kind.capitalize()} of {said_day(shown.day)}. What it moved is moved back by a new voucher; "
        "both stay.",
    }
    return render(request, "inventory/form.html", said, status=422 if form.errors else 200)
