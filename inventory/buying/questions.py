"""What is asked about a paper of buying before it is kept: it can be so, and mostly is a slip."""

import datetime as dt

from django.db.models import Sum
from django.utils.text import capfirst

from inventory.buying.deposits import account
from inventory.buying.models import Invoice, InvoiceLine, counting
from inventory.buying.said import InvoiceSaid
from inventory.measures.days import said_day
from inventory.measures.money import show_money
from inventory.shop.clock import today
from inventory.shop.models import Shop
from inventory.text.clean import clean
from inventory.text.refusal import Refused

FIRST = dt.date.min
SO = "If the paper is so, tick the box."


def answered(said: InvoiceSaid, revises: Invoice | None) -> list[str]:
    """The names (of Invoice.SURE_OF) of what was asked about and is so. Raises Refused with all that is open, once;
    a number that stood there before is not asked about again."""
    currency, found = Shop.current().currency, {}
    for name, ask in (("number", _number), ("total", _total), ("deposits", _deposits), ("credit", _credit)):
        if question := ask(said, revises, currency):
            found[name] = question
    same = revises is not None and (revises.number, revises.day.year) == (said.number, said.day.year)
    open_ = {name: question for name, question in found.items() if not (same and name == "number")}
    if open_ and not said.sure:
        refused = Refused(" ".join((*open_.values(), SO)), "number" if set(open_) == {"number"} else "total")
        refused.asks = True
        raise refused
    return list(found)


def twins(said: InvoiceSaid, revises: Invoice | None):
    """Papers of the supplier that have its number, the latest first."""
    same = {"supplier": said.supplier, "kind": said.kind, "number": clean(said.number, "number", 60)}
    return Invoice.objects.filter(counting(), **same).exclude(pk=revises.pk if revises else None)


def _number(said: InvoiceSaid, revises: Invoice | None, _currency: str) -> str:
    """Of another year: of one year it is refused."""
    twin = twins(said, revises).first()
    if twin is None:
        return ""
    name = capfirst(str(twin))
    return (
        f"{name} of {said.supplier.name} was entered before, of {said_day(twin.day)}, in another year. Did the "
        "supplier begin to number anew, or is it that one?"
    )


def _total(said: InvoiceSaid, _revises: Invoice | None, currency: str) -> str:
    off = said.off
    if not off:
        return ""
    adds, total, off = (show_money(one, currency) for one in (said.total_minor - off, said.total_minor, off))
    return (
        f"The lines, shipping and tax add up to {adds}, and the paper says {total}: a difference of {off}. Check the "
        "lines."
    )


def _deposits(said: InvoiceSaid, revises: Invoice | None, currency: str) -> str:
    """Deposits that are credited beyond those of the cylinders that went back, e.g. a second time."""
    now = sum(line.count * line.price_minor for line in said.lines if line.about == "deposit")
    if said.kind != "credit" or not now:
        return ""
    lines = InvoiceLine.objects.filter(counting("invoice__"), invoice__supplier=said.supplier, about="deposit")
    lines = lines.filter(invoice__kind="credit").exclude(invoice=revises)
    before = sum(count * price for count, price in lines.values_list("count", "price_minor"))
    whole = account(said.supplier, FIRST, today())
    if not whole.charged or before + now <= whole.back:  # where no deposit is known, there is nothing to compare
        return ""
    credited, back = (show_money(amount, currency) for amount in (before + now, whole.back))
    return (
        f"With this, {credited} of deposits are credited, and the cylinders that went back had {back}. Is it credited "
        "already, or was what went back not entered?"
    )


def _credit(said: InvoiceSaid, revises: Invoice | None, currency: str) -> str:
    """More credited of an invoice than it is of, with all its credit notes."""
    if said.credits is None:
        return ""
    papers = versions(said.credits)
    others = Invoice.objects.filter(counting(), kind="credit", credits__in=papers).exclude(pk=revises and revises.pk)
    before = others.aggregate(sum=Sum("total_minor"))["sum"] or 0
    whole = papers[0].total_minor
    if before + said.total_minor <= whole:
        return ""
    credited, billed = (show_money(amount, currency) for amount in (before + said.total_minor, whole))
    return (
        f"With this, {credited} is credited of {papers[0]}, which is of {billed}. Is it credited already, or is it for "
        "another invoice?"
    )


def versions(invoice: Invoice) -> list[Invoice]:
    """An invoice and all that it took the place of or that took its place, the last one first."""
    found = [invoice]
    while (later := Invoice.objects.filter(revises=found[0]).first()) is not None:
        found.insert(0, later)
    while (before := found[-1].revises) is not None:
        found.append(before)
    return found
