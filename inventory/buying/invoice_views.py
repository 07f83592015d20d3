"""Pages of invoices and credit notes."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import django_filters as filters
import django_tables2 as tables
from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.text import capfirst

from inventory.buying.actions import declare_void, enter_invoice
from inventory.buying.amounts import difference
from inventory.buying.billing import Group, missing_of, sort_said, unbilled
from inventory.buying.forms import InvoiceForm, InvoiceLines, WhyForm
from inventory.buying.models import Invoice, InvoiceLine, counting
from inventory.buying.order_views import because, longer, refuse_line
from inventory.buying.questions import versions
from inventory.buying.said import Billed, InvoiceSaid
from inventory.ledger.models import Voucher
from inventory.measures.days import said_day
from inventory.measures.money import show_money
from inventory.orders.queries import sort_of
from inventory.parties.models import Party
from inventory.shop.access import office
from inventory.shop.clock import today
from inventory.shop.forms import number_in, tell_if_recorded
from inventory.shop.lists import paged
from inventory.shop.models import Shop
from inventory.text.refusal import Refused

OFFERED = 40  # groups of containers that one form lists


class InvoiceTable(tables.Table):
    number = tables.Column(linkify=("invoice", [tables.A("pk")]), order_by=("number", "id"))
    kind = tables.Column(order_by=("kind", "id"))
    supplier = tables.Column(verbose_name="Supplier", accessor="supplier__name", order_by=("supplier__name", "id"))
    day = tables.DateColumn(format="j M Y", order_by=("day", "id"))
    total_minor = tables.Column(verbose_name="Total", attrs={"td": {"class": "number"}, "th": {"class": "number"}})
    sure_of = tables.Column(verbose_name="Asked about, and so", accessor="said_sure", orderable=False)

    class Meta:
        model = Invoice
        fields = ("number", "kind", "supplier", "day", "total_minor", "sure_of")
        empty_text = "No invoice was entered yet."
        order_by = "-day"

    def __init__(self, *args, currency: str, **kwargs):
        super().__init__(*args, **kwargs)
        self.currency = currency

    def render_total_minor(self, record: Invoice) -> str:
        return show_money(record.sign * record.total_minor, self.currency)


class InvoiceFilter(filters.FilterSet):
    number = filters.CharFilter(lookup_expr="icontains", label="Number")
    kind = filters.ChoiceFilter(choices=Invoice.KINDS, label="Kind", empty_label="all")
    supplier = filters.ModelChoiceFilter(
        queryset=Party.objects.filter(role="supplier"), label="Supplier", empty_label="all"
    )

    class Meta:
        model = Invoice
        fields: list[str] = []


@office
def invoices(request: HttpRequest) -> HttpResponse:
    counted: QuerySet[Invoice] = Invoice.objects.filter(counting()).select_related("supplier")
    listed = InvoiceFilter(request.GET, queryset=counted)
    table = InvoiceTable(listed.qs if listed.is_valid() else counted, currency=request.shop.currency)
    return render(request, "buying/invoices.html", {"table": paged(request, table, name="invoices"), "filter": listed})


@office
def invoice(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Invoice.objects.select_related("supplier", "revises", "shipment", "credits"), pk=pk)
    lines = list(shown.lines.order_by("place"))
    missing = {one.line.pk: one.count for one in missing_of(lines)} if shown.kind == "invoice" else {}
    more = (shown.shipping_minor, shown.tax_minor)
    said = {
        "invoice": shown,
        "lines": [(line, words(line), missing.get(line.pk, 0)) for line in lines],
        "counts": Invoice.objects.filter(counting(), pk=pk).exists(),
        "later": Invoice.objects.filter(revises=shown).first(),
        "credited": Invoice.objects.filter(counting(), credits__in=versions(shown)).order_by("day", "id"),
        "off": difference(((line.count, line.price_minor) for line in lines), more, shown.total_minor),
    }
    return render(request, "buying/invoice.html", said)


def words(line: InvoiceLine) -> str:
    """What a line bills."""
    what = line.called or sort_said(sort_of(line), line.is_oil)
    return f"deposit: {what}" if line.about == "deposit" else what


@office
def invoice_new(request: HttpRequest) -> HttpResponse:
    """Without a supplier or a delivery of one: whose invoice it is; then the form, filled in with what came and is not
    billed, of that delivery where one is named; or with the lines of an invoice that is credited."""
    wanted, number, credited = (number_in(request.GET, name) for name in ("supplier", "delivery", "credits"))
    if credited:
        its = Invoice.objects.filter(counting(), kind="invoice").select_related("supplier")
        its = get_object_or_404(its, pk=credited)
        return _enter(request, Paper(its.supplier, credits=its))
    suppliers = Party.objects.filter(role="supplier")
    supplier = suppliers.filter(pk=wanted).first() if wanted else None
    if number:
        delivery = get_object_or_404(Voucher.objects.standing(), number=number, kind="receipt")
        supplier = get_object_or_404(suppliers, code=json.loads(delivery.detail).get("supplier"))
    if supplier is None:
        return render(request, "buying/invoice_whose.html", {"suppliers": suppliers.order_by("name")})
    return _enter(request, Paper(supplier, delivery=number))


@office
def invoice_correct(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Invoice.objects.filter(counting()).select_related("supplier"), pk=pk)
    return _enter(request, Paper(shown.supplier, revises=shown))


@dataclass(frozen=True)
class Paper:
    """What is entered: delivery: whose lines are filled in, of all deliveries where none is named; revises: whose place
    it takes; credits: the invoice that it credits, whose lines are filled in."""

    supplier: Party
    delivery: int | None = None
    revises: Invoice | None = None
    credits: Invoice | None = None

    @property
    def before(self) -> Invoice | None:
        """The one whose lines are filled in."""
        return self.revises or self.credits

    @property
    def head(self) -> dict | None:
        """What stands in the fields at first."""
        if self.revises is not None:
            return _head(self.revises)
        return None if self.credits is None else {"kind": "credit", "credits": str(self.credits.pk)}


def _enter(request: HttpRequest, paper: Paper) -> HttpResponse:
    supplier, revises, delivery = paper.supplier, paper.revises, paper.delivery
    groups = _groups(supplier, paper.before)
    currency = Shop.current().currency
    more = {"shipments": _shipments(supplier), "credited": _invoices(paper), "currency": lambda: currency}
    data = request.POST or None
    form = InvoiceForm(data, initial=None if data else paper.head, revises=revises is not None, **more)
    made = {"prefix": "line", "form_kwargs": {"groups": groups}}
    its = [group for group in groups if delivery in {None, group.voucher.number}]
    rows = _rows(its) if paper.before is None else _rows_of(paper.before, groups)
    # What is sent is all that counts: a row that came back as it was offered is a line like another.
    lines = InvoiceLines(data, initial=None if data else rows, **made)
    if "more" in request.POST:
        lines, data = InvoiceLines(longer(request.POST), **made), None
    elif data and form.is_valid() and lines.is_valid():
        try:
            kept = _keep(form, [line.billed for line in lines.filled], paper, request.user.username)
        except Refused as refused:
            if getattr(refused, "asks", False):
                form.ask()
            refuse_line(form, lines, refused)
        else:
            messages.success(request, f"{capfirst(str(kept))} of {supplier.name} is kept.")
            return redirect("invoice", kept.pk)
    elif data:
        tell_if_recorded(form)
    said = {"form": form, "lines": lines, "paper": paper, **vars(paper)}
    return render(request, "buying/invoice_enter.html", said, status=422 if data else 200)


def _keep(form: InvoiceForm, lines: Sequence[Billed], paper: Paper, by: str) -> Invoice:
    head = {name: form.cleaned_data[name] for name in ("kind", "number", "day", "shipment", "note", "sure")}
    credited = form.cleaned_data["credits"]
    head["credits"] = None if credited is None else Invoice.objects.get(pk=credited)
    said = InvoiceSaid(supplier=paper.supplier, lines=lines, **head, **form.amounts(lines))
    more = {"revises": paper.revises, "why": form.cleaned_data.get("why", "")}
    return enter_invoice(said=said, by=by, key=form.cleaned_data["key"], **more)


def _invoices(paper: Paper) -> list[tuple[str, str]]:
    """The supplier's latest invoices, and the one that is credited, as choices."""
    found = Invoice.objects.filter(counting(), kind="invoice", supplier=paper.supplier)
    latest = list(found.order_by("-day", "-id")[:OFFERED])
    its = paper.credits or (paper.revises and paper.revises.credits)
    if its is not None and its not in latest:
        latest.append(its)
    return [(str(one.pk), f"{one.number}, {said_day(one.day)}") for one in latest]


def _groups(supplier: Party, but: Invoice | None) -> list[Group]:
    """What came of a supplier and no invoice but that one bills, and cylinders with deposits; each once."""
    found = {group.key: group for group in unbilled(supplier, today(), but, "deposit")}
    found |= {group.key: group for group in unbilled(supplier, today(), but)}
    return list(found.values())[-OFFERED:]


def _shipments(supplier: Party) -> list[tuple[str, str]]:
    sent = Voucher.objects.standing().filter(kind="shipment", detail__contains=f'"{supplier.code}"')
    latest = sent.order_by("-number")[:20]
    parts = [(one.document, said_day(one.day), f"voucher {one.number}") for one in latest]
    return [(str(one.number), ", ".join(filter(None, said))) for one, said in zip(latest, parts, strict=True)]


def _rows(groups: Sequence[Group]) -> list[dict]:
    """What came and is not billed, one row each, and one for its deposits."""
    found = []
    for group in groups:
        said = {"of": group.key, "count": len(group.codes)}
        found.append({"about": "goods", "price": group.price_minor, **said})
        if group.deposit_minor:
            found.append({"about": "deposit", "price": group.deposit_minor, **said})
    return found


def _rows_of(shown: Invoice, groups: Sequence[Group]) -> list[dict]:
    """The lines of an invoice, to be corrected."""
    key_of = {code: group.key for group in groups for code in group.codes}
    found = []
    for line in shown.lines.order_by("place"):
        of = next((key_of[code] for code in line.codes if code in key_of), "")
        called = line.called or ("" if of else words(line)[:200])
        said = {"about": line.about, "of": of, "called": called}
        found.append({**said, "count": line.count, "price": line.price_minor})
    return found


def _head(shown: Invoice) -> dict:
    said = {name: getattr(shown, name) for name in ("kind", "number", "day", "note", "tax_percent")}
    money = {name: getattr(shown, f"{name}_minor") for name in ("shipping", "tax", "total")}
    return {**said, **money, "shipment": str(shown.shipment_id or ""), "credits": str(shown.credits_id or "")}


@office
def invoice_void(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Invoice.objects.select_related("supplier"), pk=pk)
    return because(
        request,
        WhyForm(request.POST or None),
        partial(declare_void, pk=pk),
        heading=f"Declare {shown} of {shown.supplier.name} void",
        intro="It stays readable and counts no more; prices are again what they were without it.",
        back=reverse("invoice", args=[pk]),
        button="Declare it void",
        done="It counts no more.",
    )
