"""The verbs that change customers and units. Each is one transaction and says who did it.

`by` is the person who asks; None where the program itself does (the loading of a log).
"""

import datetime as dt
import uuid
from typing import TypedDict, Unpack

from django.db import IntegrityError, transaction

from inventory.ledger.actions import stated
from inventory.reference.oils import UnknownOil, parse_oil
from inventory.reference.refrigerants import UnknownRefrigerant, refrigerant, spelling_meant
from inventory.shop.once import made_by
from inventory.text.refusal import Refused
from jobs.people.models import Person
from jobs.people.wording import one_line, paragraph, squeezed
from jobs.units import vin as vins
from jobs.units.checks import check_unit
from jobs.units.models import Customer, Premises, Unit
from jobs.units.premises import premises_called
from jobs.units.queries import WITH_CODE, customer_choice, customers_named


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

    customer: also by name; a name that is not known yet becomes a new customer. premises: the same, of the customer's.
    """

    kind: str
    exactly: str
    use: str
    light_commercial: str
    process_share_percent: int | None
    process_shutdown: bool
    open_drive: str
    bound: str
    military: bool
    below_minus_50: bool
    exemption_proof: str
    installed_on: dt.date | None
    retired_on: dt.date | None
    sealed: bool
    dwelling: bool
    leak_detection: bool
    customer: Customer | str | None
    premises: Premises | str | None
    name: str
    plate: str
    vin: str
    make: str
    model: str
    year: int | None
    refrigerant: str
    designed_for: str
    charge_min_mg: int | None
    charge_nominal_mg: int | None
    charge_max_mg: int | None
    label_confirmed: bool
    oil: str
    oil_amount_ul: int | None
    high_voltage_compressor: bool
    ports: str
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
    if (known := made_by(Customer, key)) is not None:
        return known
    return _fill_customer(Customer(key=key), name, phone, address, note)


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
    if (known := made_by(Unit, key)) is not None:
        return known
    return _fill_unit(Unit(key=key), fields, by)


@stated
def change_unit(unit: Unit, *, by: Person | None, **fields: Unpack[UnitFields]) -> Unit:
    """Change what is given and leave the rest. Posted jobs keep what they said. Raises as add_unit does."""
    unit = Unit.objects.select_for_update().get(pk=unit.pk)
    return _fill_unit(unit, fields, by)


def _fill_unit(unit: Unit, fields: UnitFields, by: Person | None) -> Unit:
    unknown = fields.keys() - UnitFields.__annotations__.keys()
    if unknown:
        raise TypeError(f"a unit has no {', '.join(sorted(unknown))}")
    stood = unit.premises
    for field, value in fields.items():
        if field == "customer" and isinstance(value, str):
            value = _customer_called(value, by)
        if field != "premises":
            setattr(unit, field, value)
    if "premises" in fields:  # of the customer, whichever was named first
        unit.premises = premises_called(fields["premises"], unit.customer, stood, by)
    _tidy(unit)
    check_unit(unit)
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
    for name in ("refrigerant", "designed_for"):
        setattr(unit, name, _designation(one_line(getattr(unit, name), name, called="refrigerant", longest=40), name))
    unit.oil = _oil(one_line(unit.oil, "oil", called="oil", longest=40))
    unit.ports = one_line(unit.ports, "ports", called="place of the service ports", longest=200)
    unit.note = paragraph(unit.note, "note", called="note")
    unit.exemption_proof = paragraph(unit.exemption_proof, "exemption_proof", called="proof")


def _designation(text: str, field: str) -> str:
    """The refrigerant's designation, also from another spelling such as r134a. Raises Refused."""
    if not text:
        return ""
    try:
        return refrigerant(spelling_meant(text) or text).designation
    except UnknownRefrigerant as unknown:
        raise Refused(str(unknown), field) from None


def _oil(text: str) -> str:
    """The oil in its usual spelling; one that only the label knows stays as it was typed."""
    try:
        return parse_oil(text).code
    except UnknownOil:
        return text
