"""Pages of invoices and credit notes."""

import json
from collections.abc import Sequence

import django_filters as filters
import django_tables2 as tables
from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.text import capfirst

from inventory.buying.actions import InvoiceSaid, declare_void, enter_invoice
from inventory.buying.amounts import difference
from inventory.buying.billing import Group, missing_of, sort_said, unbilled
from inventory.buying.forms import InvoiceForm, InvoiceLines, WhyForm
from inventory.buying.models import Invoice, InvoiceLine, counting
from inventory.buying.order_views import longer, refuse_line
from inventory.ledger.models import Voucher
from inventory.measures.days import said_day
from inventory.measures.money import show_money
from inventory.orders.queries import sort_of
from inventory.parties.models import Party
from inventory.shop.access import office
from inventory.shop.acting import act
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
    difference_seen = tables.BooleanColumn(verbose_name="Differs from its lines", yesno="differs,")

    class Meta:
        model = Invoice
        fields = ("number", "kind", "supplier", "day", "total_minor", "difference_seen")
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
    supplier = filters.ModelChoiceFilter(queryset=Party.objects.filter(role="supplier"), label="Supplier")

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
    shown = get_object_or_404(Invoice.objects.select_related("supplier", "revises", "shipment"), pk=pk)
    lines = list(shown.lines.order_by("place"))
    missing = {one.line.pk: one.count for one in missing_of(lines)} if shown.kind == "invoice" else {}
    more = (shown.shipping_minor, shown.tax_minor)
    said = {
        "invoice": shown,
        "lines": [(line, words(line), missing.get(line.pk, 0)) for line in lines],
        "counts": Invoice.objects.filter(counting(), pk=pk).exists(),
        "later": Invoice.objects.filter(revises=shown).first(),
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
    billed, of that delivery where one is named."""
    wanted, number = number_in(request.GET, "supplier"), number_in(request.GET, "delivery")
    suppliers = Party.objects.filter(role="supplier")
    supplier = suppliers.filter(pk=wanted).first() if wanted else None
    if number:
        delivery = get_object_or_404(Voucher.objects.standing(), number=number, kind="receipt")
        supplier = get_object_or_404(suppliers, code=json.loads(delivery.detail).get("supplier"))
    if supplier is None:
        return render(request, "buying/invoice_whose.html", {"suppliers": suppliers.order_by("name")})
    return _enter(request, supplier, None, number)


@office
def invoice_correct(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Invoice.objects.filter(counting()).select_related("supplier"), pk=pk)
    return _enter(request, shown.supplier, shown)


def _enter(request: HttpRequest, supplier: Party, revises: Invoice | None, delivery: int | None = None) -> HttpResponse:
    """delivery: the one whose lines are filled in; of all deliveries where none is named."""
    groups = _groups(supplier, revises)
    currency = Shop.current().currency
    more = {"shipments": _shipments(supplier), "revises": revises is not None, "currency": lambda: currency}
    data = request.POST or None
    form = InvoiceForm(data, initial=None if data else _head(revises), **more)
    made = {"prefix": "line", "form_kwargs": {"groups": groups}}
    its = [group for group in groups if delivery in {None, group.voucher.number}]
    rows = _rows(its) if revises is None else _rows_of(revises, groups)
    # What is sent is all that counts: a row that came back as it was offered is a line like another.
    lines = InvoiceLines(data, initial=None if data else rows, **made)
    if "more" in request.POST:
        lines, data = InvoiceLines(longer(request.POST), **made), None
    elif data and form.is_valid() and lines.is_valid():
        billed = [line.billed for line in lines.filled]
        head = {name: form.cleaned_data[name] for name in ("kind", "number", "day", "note", "sure")}
        said = InvoiceSaid(supplier=supplier, lines=billed, **head, **form.amounts(billed))
        more = {"revises": revises, "why": form.cleaned_data.get("why", "")}
        try:
            kept = enter_invoice(said=said, by=request.user.username, key=form.cleaned_data["key"], **more)
        except Refused as refused:
            if getattr(refused, "asks", False):
                form.ask()
            refuse_line(form, lines, refused)
        else:
            messages.success(request, f"{capfirst(str(kept))} of {supplier.name} is kept.")
            return redirect("invoice", kept.pk)
    elif data:
        tell_if_recorded(form)
    said = {"form": form, "lines": lines, "supplier": supplier, "revises": revises, "delivery": delivery}
    return render(request, "buying/invoice_enter.html", said, status=422 if data else 200)


def _groups(supplier: Party, revises: Invoice | None) -> list[Group]:
    """What came of a supplier and another invoice does not bill, and cylinders with deposits; each once."""
    found = {group.key: group for group in unbilled(supplier, today(), revises, "deposit")}
    found |= {group.key: group for group in unbilled(supplier, today(), revises)}
    return list(found.values())[-OFFERED:]


def _shipments(supplier: Party) -> list[tuple[str, str]]:
    sent = Voucher.objects.standing().filter(kind="shipment", detail__contains=f'"{supplier.code}"')
    latest = sent.order_by("-number")[:20]
    return [(str(one.number), f"voucher {one.number} of {said_day(one.day)} {one.document}".strip()) for one in latest]


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


def _head(shown: Invoice | None) -> dict | None:
    if shown is None:
        return None
    said = {name: getattr(shown, name) for name in ("kind", "number", "day", "note", "tax_percent")}
    money = {name: getattr(shown, f"{name}_minor") for name in ("shipping", "tax", "total")}
    return {**said, **money, "shipment": str(shown.shipment_id or "")}


@office
def invoice_void(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Invoice.objects.select_related("supplier"), pk=pk)
    return act(
        request,
        WhyForm(request.POST or None),
        lambda data: declare_void(pk=pk, by=request.user.username, **data),
        heading=f"Declare {shown} of {shown.supplier.name} void",
        intro="It stays readable and counts no more; prices are again what they were without it.",
        back=reverse("invoice", args=[pk]),
        button="Declare it void",
        done="It counts no more.",
    )
