"""Anything by a few letters: each kind of thing by one bounded question, of what the person may open."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from django.db.models import Q
from django.urls import reverse
from django.utils.text import capfirst

from inventory.buying.models import Invoice, counting
from inventory.containers.models import Container
from inventory.ledger.models import Substance, Voucher
from inventory.measures.days import said_day
from inventory.orders.models import Order
from inventory.parties.models import Party
from inventory.shop.once import may_open
from jobs.drafts.queries import jobs_for
from jobs.people.models import Person
from jobs.people.wording import folded
from jobs.units.models import Customer
from jobs.units.queries import find_units
from shopledger.find.pages import pages_called

MOST = 6  # of each kind: who sees more types more
MOST_TYPED = 80
LEAST = 2  # letters, before tables are asked
WEIGH = "weigh "  # before a container: leads to the page that weighs it
LATEST = 200  # papers that are looked through for the latest ones


@dataclass(frozen=True)
class Hit:
    words: str
    address: str
    note: str = ""


@dataclass(frozen=True)
class Group:
    title: str
    hits: list[Hit]


def find_all(person: Person, typed: str) -> list[Group]:
    """What `typed` fits, by kind; pages by their names first. The number of statements is constant. Nothing that the
    person's role may not open is among it."""
    found = []
    for title, look in FINDERS.items():
        if len(typed) < LEAST and not (typed.isdigit() and look is _vouchers):
            continue
        hits = [hit for hit in look(person, typed) if may_open(hit.address.partition("?")[0], person)]
        if hits:
            found.append(Group(title, hits[:MOST]))
    return found


def _pages(person: Person, typed: str) -> Iterator[Hit]:
    for one in pages_called(person.role, typed):
        yield Hit(one.label, one.url, "report" if one.is_report else "page")


def _substances(person: Person, typed: str) -> Iterator[Hit]:
    """Refrigerants and oils that the shop has or had, however their names are written: `r134` and `R 134a`."""
    text = _bare(typed)
    known = {one: _bare(one.code) for one in Substance.objects.order_by("code") if text}
    fits = sorted((one for one in known if text in known[one]), key=lambda one: known[one].index(text))
    for one in fits[: MOST // 2]:
        yield Hit(one.code, f"{reverse('stock')}?substance={one.pk}", "oil in stock" if one.is_oil else "gas in stock")
        yield Hit(f"{one.code} over time", reverse("substance-over-time", args=[one.pk]), "what there was of it")


def _bare(words: str) -> str:
    return "".join(filter(str.isalnum, words.lower()))


def _containers(person: Person, typed: str) -> Iterator[Hit]:
    weigh = typed.lower().startswith(WEIGH)
    text = typed[len(WEIGH) :] if weigh else typed
    called = Q(code__icontains=text) | Q(supplier_number__icontains=text)
    rows = Container.objects.filter(called, void=False).select_related("substance").order_by("retired_on", "code")
    for one in rows[:MOST]:
        gone = f"retired {said_day(one.retired_on)}" if one.retired_on else ""
        note = ", ".join(filter(None, [one.supplier_number, one.substance.code if one.substance else "", gone]))
        words, page = (f"Weigh {one.code}", "weigh") if weigh else (one.code, "container")
        yield Hit(words, reverse(page, args=[one.code]), note)


def _jobs(person: Person, typed: str) -> Iterator[Hit]:
    rows = jobs_for(person).filter(number__icontains=typed).order_by("-number", "-revision")
    for one in rows[:MOST]:
        yield Hit(one.title, reverse("job", args=[one.pk]), f"{one.unit.title}, {said_day(one.day)}, {one.state}")


def _units(person: Person, typed: str) -> Iterator[Hit]:
    for one in find_units(typed)[:MOST]:
        note = ", ".join(filter(None, [one.plate, one.vin, one.customer.name if one.customer else ""]))
        yield Hit(one.title, reverse("unit", args=[one.pk]), note)


def _customers(person: Person, typed: str) -> Iterator[Hit]:
    each = Q()
    for word in folded(typed).split():
        each &= Q(search__contains=word)
    for one in Customer.objects.filter(each).order_by("name_folded", "id")[:MOST]:
        yield Hit(one.name, reverse("customer", args=[one.pk]), one.code)


def _vouchers(person: Person, typed: str) -> Iterator[Hit]:
    """By number; and by the number on their paper, of which the latest are shown."""
    numbers = [int(typed)] if typed.isascii() and typed.isdigit() and len(typed) < 16 else []
    # Unordered, so that the index of papers alone is read; they are put in order here.
    on_paper = Q(document__contains=typed) | Q(document__contains=typed.upper())
    papers = Voucher.objects.filter(on_paper, document__gt="").order_by().values_list("number", flat=True)
    numbers += sorted(papers[:LATEST], reverse=True)[:MOST]
    for one in sorted(Voucher.objects.filter(number__in=numbers), key=lambda one: numbers.index(one.number)):
        note = ", ".join(filter(None, [one.kind, said_day(one.day), one.document]))
        yield Hit(f"Voucher {one.number}", reverse("voucher", args=[one.number]), note)


def _orders(person: Person, typed: str) -> Iterator[Hit]:
    if person.role == "technician":
        return
    rows = Order.objects.filter(Q(number__icontains=typed) | Q(code__icontains=typed)).select_related("supplier")
    for one in rows[:MOST]:
        yield Hit(f"Order {one.called}", reverse("order", args=[one.pk]), f"{one.supplier}, {said_day(one.day)}")


def _invoices(person: Person, typed: str) -> Iterator[Hit]:
    if person.role == "technician":
        return
    rows = Invoice.objects.filter(counting(), number__icontains=typed).select_related("supplier").order_by("-id")
    for one in rows[:MOST]:
        note = f"{one.supplier}, {said_day(one.day)}"
        yield Hit(capfirst(str(one)), reverse("invoice", args=[one.pk]), note)


def _people(person: Person, typed: str) -> Iterator[Hit]:
    if person.role != "owner":
        return
    rows = Person.objects.filter(Q(name__icontains=typed) | Q(username__icontains=typed)).order_by("name", "id")
    for one in rows[:MOST]:
        yield Hit(one.name, reverse("person", args=[one.pk]), one.get_role_display())


def _parties(person: Person, typed: str) -> Iterator[Hit]:
    if person.role == "technician":
        return
    rows = Party.objects.filter(Q(name__icontains=typed) | Q(code__icontains=typed)).order_by("name", "id")
    for one in rows[:MOST]:
        yield Hit(one.name, reverse("party-edit", args=[one.pk]), f"{one.role}, {one.code}")


FINDERS: dict[str, Callable[[Person, str], Iterator[Hit]]] = {
    "Pages and reports": _pages,
    "Containers": _containers,
    "Refrigerants and oils": _substances,
    "Jobs": _jobs,
    "Units": _units,
    "Customers": _customers,
    "Orders": _orders,
    "Invoices": _invoices,
    "Vouchers": _vouchers,
    "People": _people,
    "Suppliers and others": _parties,
}
