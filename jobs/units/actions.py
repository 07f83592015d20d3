"""The verbs that change customers and units. Each is one transaction and says who did it.

`by` is the person who asks; None where the program itself does (the loading of a log).
"""

import re
import uuid
from typing import TypedDict, Unpack

from django.db import IntegrityError, transaction

from inventory.ledger.actions import stated
from inventory.reference.oils import UnknownOil, parse_oil
from inventory.reference.refrigerants import UnknownRefrigerant, refrigerant, spelling_meant
from inventory.reference.rule import EQUIPMENT
from inventory.text.refusal import Refused
from jobs.people.models import Person
from jobs.people.wording import one_line, paragraph, squeezed
from jobs.units import vin as vins
from jobs.units.models import YEARS, Customer, Unit, UnitKind
from jobs.units.queries import customer_choice, customers_named

WITH_CODE = re.compile(rf"(?P<name>.+) \((?P<code>{Customer.PREFIX}-[0-9]{{6,18}})\)")


class VinTaken(Refused):
    """The VIN belongs to another unit, which is named so that a page can lead there."""

    def __init__(self, unit: Unit):
        super().__init__(
            f"The VIN {unit.vin} belongs to {unit.code} ({unit.title}) already. Open that unit, or correct the VIN.",
            "vin",
        )
        self.unit = unit


class UnitFields(TypedDict, total=False):
    """What can be said about a unit. Masses in whole mg, volumes in whole uL; None: not known.

    customer: also by name; a name that is not known yet becomes a new customer.
    """

    kind: str
    exactly: str
    sealed: bool
    dwelling: bool
    leak_detection: bool
    customer: Customer | str | None
    name: str
    plate: str
    vin: str
    make: str
    model: str
    year: int | None
    refrigerant: str
    charge_min_mg: int | None
    charge_nominal_mg: int | None
    charge_max_mg: int | None
    label_confirmed: bool
    oil: str
    oil_amount_ul: int | None
    high_voltage_compressor: bool
    note: str


@stated
def add_customer(
    *,
    by: Person | None,
    name: str,
    phone: str = "",
    address: str = "",
    note: str = "",
    key: uuid.UUID | None = None,
) -> Customer:
    """A new customer. Two may share a name, not a name and a phone number: raises Refused.

    key: of the form; the same form sent again answers what it recorded the first time.
    """
    if key and (recorded := Customer.objects.filter(key=key).first()):
        return recorded
    try:
        with transaction.atomic():
            return _fill_customer(Customer(key=key), name, phone, address, note)
    except (IntegrityError, Refused):
        if key and (recorded := Customer.objects.filter(key=key).first()):  # two taps at once
            return recorded
        raise


@stated
def change_customer(
    customer: Customer, *, by: Person | None, name: str, phone: str = "", address: str = "", note: str = ""
) -> Customer:
    """Put a customer's particulars right. Raises Refused as add_customer does."""
    customer = Customer.objects.select_for_update().get(pk=customer.pk)
    return _fill_customer(customer, name, phone, address, note)


def _fill_customer(customer: Customer, name: str, phone: str, address: str, note: str) -> Customer:
    customer.name = one_line(name, "name", called="name", longest=150, required=True)
    customer.phone = one_line(phone, "phone", called="phone number", longest=40)
    customer.address = paragraph(address, "address", called="address")
    customer.note = paragraph(note, "note", called="note")
    customer.fold()
    twins = Customer.objects.filter(name_folded=customer.name_folded).exclude(pk=customer.pk)
    for twin in twins:
        if squeezed(twin.phone) == squeezed(customer.phone):
            number = f"the phone number {twin.phone}" if twin.phone else "no phone number"
            raise Refused(
                f"There is a customer {twin.name} with {number} already. "
                "Use that one, or give a phone number that tells the two apart.",
                "phone" if customer.phone else "name",
            )
    customer.save()
    return customer


@stated
def add_unit(*, by: Person | None, key: uuid.UUID | None = None, **fields: Unpack[UnitFields]) -> Unit:
    """A new unit, with the next reference (U-000012).

    key: of the form; the same form sent again answers what it recorded the first time.
    Raises Refused: nothing to tell it by, a VIN that another unit has (VinTaken), charges out of order,
    an unknown kind or refrigerant, a year outside 1900 to 2100, a customer's name that two have.
    """
    if key and (recorded := Unit.objects.filter(key=key).first()):
        return recorded
    unit = Unit(key=key)
    try:
        with transaction.atomic():
            return _fill_unit(unit, fields, by)
    except (IntegrityError, Refused):
        if key and (recorded := Unit.objects.filter(key=key).first()):  # two taps at once
            return recorded
        raise


@stated
def change_unit(unit: Unit, *, by: Person | None, **fields: Unpack[UnitFields]) -> Unit:
    """Change what is given and leave the rest. Posted jobs keep what they said. Raises as add_unit does."""
    unit = Unit.objects.select_for_update().get(pk=unit.pk)
    return _fill_unit(unit, fields, by)


def _fill_unit(unit: Unit, fields: UnitFields, by: Person | None) -> Unit:
    unknown = fields.keys() - UnitFields.__annotations__.keys()
    if unknown:
        raise TypeError(f"a unit has no {', '.join(sorted(unknown))}")
    for field, value in fields.items():
        if field == "customer" and isinstance(value, str):
            value = _customer_called(value, by)
        setattr(unit, field, value)
    _tidy(unit)
    _check(unit)
    if unit.vin:
        other = Unit.objects.filter(vin=unit.vin).exclude(pk=unit.pk).first()
        if other:
            raise VinTaken(other)
    unit.fold()
    try:
        with transaction.atomic():
            unit.save()
    except IntegrityError:  # the VIN was taken between the check and now
        other = Unit.objects.filter(vin=unit.vin).exclude(pk=unit.pk).exclude(vin="").first()
        if other is None:
            raise
        raise VinTaken(other) from None
    return unit


def _customer_called(text: str, by: Person | None) -> Customer | None:
    """The customer that a name means, e.g. `Jo Bell`, or `Jo Bell (C-000012)` where several share it."""
    text = one_line(text, "customer", called="customer's name", longest=170)
    if not text:
        return None
    coded = WITH_CODE.fullmatch(text)
    named = list(customers_named(coded["name"] if coded else text)[:5])
    if coded:
        chosen = next((one for one in named if one.code == coded["code"]), None)
        if chosen is None:
            raise Refused(f"There is no customer {text}; type the name alone.", "customer")
        return chosen
    if len(named) > 1:
        raise Refused(
            f"Several customers are called {text}. Write which: "
            + " or ".join(customer_choice(one) + (f", phone {one.phone}" if one.phone else "") for one in named)
            + ".",
            "customer",
        )
    return named[0] if named else add_customer(by=by, name=text)


def _tidy(unit: Unit) -> None:
    unit.name = one_line(unit.name, "name", called="description", longest=150)
    unit.plate = one_line(unit.plate, "plate", called="plate", longest=20)
    unit.vin = vins.normalized(one_line(unit.vin, "vin", called="VIN", longest=40))
    unit.make = one_line(unit.make, "make", called="make", longest=60)
    unit.model = one_line(unit.model, "model", called="model", longest=60)
    unit.refrigerant = _designation(one_line(unit.refrigerant, "refrigerant", called="refrigerant", longest=40))
    unit.oil = _oil(one_line(unit.oil, "oil", called="oil", longest=40))
    unit.note = paragraph(unit.note, "note", called="note")


def _designation(text: str) -> str:
    """The refrigerant's designation, also from another spelling such as r134a. Raises Refused."""
    if not text:
        return ""
    try:
        return refrigerant(spelling_meant(text) or text).designation
    except UnknownRefrigerant as unknown:
        raise Refused(str(unknown), "refrigerant") from None


def _oil(text: str) -> str:
    """The oil in its usual spelling; one that only the label knows stays as it was typed."""
    try:
        return parse_oil(text).code
    except UnknownOil:
        return text


def _check(unit: Unit) -> None:
    if unit.kind not in UnitKind.values:
        raise Refused(f"{unit.kind!r} is not a kind of unit; write one of {', '.join(UnitKind.values)}.", "kind")
    if unit.exactly and unit.equipment not in EQUIPMENT:
        known = [EQUIPMENT[name] for name in EQUIPMENT if name.startswith(f"{unit.kind}/")]
        raise Refused(
            f"{unit.exactly!r} is no {unit.get_kind_display().lower()}; leave it blank"
            + (f", or choose {' or '.join(known)}." if known else "."),
            "exactly",
        )
    if not (unit.name or unit.plate or unit.vin or unit.make or unit.model):
        raise Refused("Nothing tells this unit from others; give its plate, its VIN or a description.", "name")
    if unit.year is not None and not YEARS[0] <= unit.year <= YEARS[1]:
        raise Refused(f"{unit.year} is not a model year; write four digits, {YEARS[0]} to {YEARS[1]}.", "year")
    for field, called in (
        ("charge_min_mg", "least charge"),
        ("charge_nominal_mg", "nominal charge"),
        ("charge_max_mg", "most charge"),
        ("oil_amount_ul", "amount of oil"),
    ):
        value = getattr(unit, field)
        if value is None:
            continue
        if type(value) is not int:
            raise TypeError(f"{field} is {value!r}, not a whole number")
        if value <= 0:
            raise Refused(f"The {called} must be more than nothing; leave it blank if it is not known.", field)
    _check_order(unit)


def _check_order(unit: Unit) -> None:
    least, nominal, most = unit.charge_min_mg, unit.charge_nominal_mg, unit.charge_max_mg
    if least is not None and most is not None and least > most:
        raise Refused(
            "The least charge is more than the most; the smaller figure belongs into the first field.",
            "charge_min_mg",
        )
    if nominal is not None and ((least is not None and nominal < least) or (most is not None and nominal > most)):
        raise Refused(
            "The nominal charge lies outside the range; it must lie between the least and the most.",
            "charge_nominal_mg",
        )
