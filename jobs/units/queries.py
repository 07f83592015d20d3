"""Questions about customers, their premises and their units."""

import datetime as dt
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from inventory.text.refusal import Refused
from jobs.people.wording import folded, squeezed
from jobs.units.models import Customer, FullCharge, LeakRateMethod, Premises, Unit, likeness
from jobs.units.vin import normalized

WITH_CODE = re.compile(rf"(?P<name>.+) \((?P<code>{Customer.PREFIX}-[0-9]{{6,18}})\)")


@dataclass(frozen=True)
class LabelSuggestion:
    """A label range that like units here have. Masses in mg, oil in uL, None: not known.

    units: how many have it; confirmed: of how many somebody read the label.
    """

    charge_min_mg: int | None
    charge_nominal_mg: int | None
    charge_max_mg: int | None
    oil: str
    oil_amount_ul: int | None
    units: int
    confirmed: int


def unit_list() -> QuerySet[Unit]:
    """All units with their customers and premises, the newest first."""
    return Unit.objects.select_related("customer", "premises").order_by("-id")


def find_units(text: str) -> QuerySet[Unit]:
    """Units in which each word is found: reference, plate, VIN, description, make, model, year, customer.

    Case and accents do not matter. A plate is found however its blanks and hyphens are written.
    """
    words = folded(text).split()
    if not words:
        return unit_list()
    each = Q()
    for word in words:
        each &= _unit_holds(word) | _unit_holds(squeezed(word) or word)
    whole_plate = squeezed(text)
    return unit_list().filter(each | Q(search__contains=whole_plate) if whole_plate else each)


def _unit_holds(word: str) -> Q:
    return Q(search__contains=word) | Q(customer__search__contains=word)


def customer_list() -> QuerySet[Customer]:
    """All customers by name, each with `unit_count`."""
    units = Unit.objects.filter(customer=OuterRef("pk")).order_by().values("customer").annotate(count=Count("pk"))
    # Counted for the rows of one page only, where a join would group all customers first.
    return Customer.objects.annotate(unit_count=Coalesce(Subquery(units.values("count")), 0)).order_by(
        "name_folded", "id"
    )


def find_customers(text: str) -> QuerySet[Customer]:
    """Customers in which each word is found: in code, name, phone number or address."""
    customers = customer_list()
    for word in folded(text).split():
        customers = customers.filter(Q(search__contains=word) | Q(search__contains=squeezed(word) or word))
    return customers


def customers_named(name: str) -> QuerySet[Customer]:
    """Customers of exactly this name, whatever its case and accents."""
    return Customer.objects.filter(name_folded=folded(name)).order_by("id")


def customer_choice(customer: Customer) -> str:
    """How one of several customers of the same name is told apart in a text field."""
    return f"{customer.name} ({customer.code})"


def customer_choices(text: str, most: int = 8) -> list[tuple[str, Customer]]:
    """Customers for what has been typed so far, each with the text that names it and no other."""
    found = list(find_customers(text)[:most])
    shared = set(
        Customer.objects.filter(name_folded__in={one.name_folded for one in found})
        .values_list("name_folded", flat=True)
        .order_by("name_folded")
        .annotate(count=Count("pk"))
        .filter(count__gt=1)
    )
    return [(customer_choice(one) if one.name_folded in shared else one.name, one) for one in found]


def same_unit(*, vin: str = "", name: str = "", customer: Customer | None = None) -> Unit | None:
    """The unit that a log means: the one with this VIN, else this customer's of this description or plate.

    With a VIN that is not known yet, only a unit whose VIN is not known either can be the same.
    """
    vin = normalized(vin)
    if vin and (known := Unit.objects.filter(vin=vin).first()):
        return known
    if not name:
        return None
    units = Unit.objects.filter(Q(name=name) | Q(plate=name), customer=customer)
    return (units.filter(vin="") if vin else units).order_by("id").first()


def suggested_labels(
    make: str, model: str, year: int | None, refrigerant: str, *, beside: Unit | None = None
) -> list[LabelSuggestion]:
    """Label ranges of units here that are built alike, at most three, those read from labels first.

    beside: this unit itself does not count.
    """
    like = likeness(make, model, year, refrigerant)
    if not like:
        return []
    ranges = ("charge_min_mg", "charge_nominal_mg", "charge_max_mg", "oil", "oil_amount_ul")
    units = Unit.objects.filter(likeness=like).exclude(
        charge_min_mg__isnull=True, charge_nominal_mg__isnull=True, charge_max_mg__isnull=True
    )
    if beside is not None:
        units = units.exclude(pk=beside.pk)
    rows = (
        units.values(*ranges)
        .annotate(units=Count("pk"), confirmed=Count("pk", filter=Q(label_confirmed=True)))
        .order_by("-confirmed", "-units", "charge_min_mg")[:3]
    )
    return [LabelSuggestion(**row) for row in rows]


def customer_text(customer: Customer | None) -> str:
    """The text by which a form names this customer and no other; blank for none."""
    if customer is None:
        return ""
    shared = Customer.objects.filter(name_folded=customer.name_folded).exclude(pk=customer.pk).exists()
    return customer_choice(customer) if shared else customer.name


def customer_meant(text: str) -> Customer | None:
    """The one customer whom a text names, by the name alone or with the code; None where it names none, or several."""
    coded = WITH_CODE.fullmatch(text)
    if coded:
        return customers_named(coded["name"]).filter(code=coded["code"]).first()
    found = list(customers_named(text)[:2])
    return found[0] if len(found) == 1 else None


def code_typed(text: str) -> str:
    """The code of the one customer that was typed: by the name, by both, or the code alone. Raises Refused."""
    text = " ".join(text.split())
    found = Customer.objects.filter(code=text).first() or customer_meant(text)
    if found is not None:
        return found.code
    several = [customer_choice(one) for one in customers_named(text)[:5]]
    raise Refused(
        f"Several customers are called {text}. Write which: {' or '.join(several)}."
        if several
        else f"There is no customer {text}; choose one of the list, or add them under Units and customers first.",
        "customer",
    )


def some_customers(most: int = 500) -> list[str]:
    """Customers as suggestions, each with the code that tells it apart."""
    return [customer_choice(one) for one in Customer.objects.order_by("name_folded", "id")[:most]]


def premises_choices(text: str, customer: Customer | None, most: int = 20) -> list[Premises]:
    """Premises of a customer for what has been typed of a name."""
    if customer is None:
        return []
    return [one for one in customer.premises.all() if folded(text) in folded(one.name)][:most]


def premises_of(customer: Customer) -> QuerySet[Premises]:
    """A customer's premises by name, each with `unit_count`."""
    return customer.premises.annotate(unit_count=Count("units")).order_by("name", "id")


def standing(methods: Sequence[LeakRateMethod], day: dt.date) -> LeakRateMethod | None:
    """Of methods in the order of their days, the one that holds on a day."""
    return next((one for one in reversed(methods) if one.from_day <= day), None)


def method_of(units: Iterable[Unit], day: dt.date) -> dict[int, str]:
    """How the leak rate of each unit is worked out on a day, by its id: `annualizing`, `rolling`, or blank where its
    premises are not known or nobody said it. One question, however many units there are."""
    where = {unit.pk: unit.premises_id for unit in units}
    wanted = {premises for premises in where.values() if premises is not None}
    rows = LeakRateMethod.objects.filter(premises__in=wanted, from_day__lte=day).order_by("from_day", "id")
    methods = dict(rows.values_list("premises_id", "method"))  # the last one holds
    return {unit: methods.get(premises, "") for unit, premises in where.items()}


def full_charges(units: Iterable[Unit], day: dt.date) -> dict[int, tuple[int, str]]:
    """The full charge of each unit in mg as it was known on a day, and how it was found, by its id: one of
    FullCharge.HOW, or `label` where nobody entered one. Units of which nothing is known are left out. One question,
    however many units there are."""
    wanted = list(units)
    rows = FullCharge.objects.filter(unit__in=[unit.pk for unit in wanted], from_day__lte=day)
    entered = {unit: (mg, how) for unit, mg, how in rows.order_by("from_day", "id").values_list("unit_id", "mg", "how")}
    found = {unit.pk: entered.get(unit.pk) or unit.label_charge for unit in wanted}
    return {unit: charge for unit, charge in found.items() if charge is not None}
