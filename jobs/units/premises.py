"""The verbs that change premises, the method of their leak rates, and the full charges of units. Each is one
transaction and says who did it; `by` as in actions.py. Methods and full charges are only added to.
"""

import datetime as dt
import uuid
from dataclasses import dataclass
from fractions import Fraction

from inventory.ledger.actions import stated
from inventory.measures.days import FIRST_MADE, said_day
from inventory.shop.days import happened
from inventory.shop.once import made_by
from inventory.text.refusal import Refused
from jobs.people.models import Person
from jobs.people.wording import folded, one_line, paragraph
from jobs.units.models import Customer, FullCharge, LeakRateMethod, Premises, Unit
from jobs.units.queries import standing


@stated
def add_premises(
    customer: Customer,
    *,
    by: Person | None,
    name: str,
    address: str = "",
    note: str = "",
    key: uuid.UUID | None = None,
) -> Premises:
    """New premises of a customer. Raises Refused: no name, or a name that other premises of theirs have.

    key: of the form; the same form sent again answers what it recorded the first time.
    """
    if (known := made_by(Premises, key)) is not None:
        return known
    return _fill(Premises(customer=customer, key=key), name, address, note)


@stated
def change_premises(premises: Premises, *, by: Person | None, name: str, address: str = "", note: str = "") -> Premises:
    """Put the particulars of premises right. Raises Refused as add_premises does. Whose they are stays."""
    return _fill(Premises.objects.select_for_update().get(pk=premises.pk), name, address, note)


def _fill(premises: Premises, name: str, address: str, note: str) -> Premises:
    premises.name = one_line(name, "name", called="name", longest=150, required=True)
    premises.address = paragraph(address, "address", called="address")
    premises.note = paragraph(note, "note", called="note")
    twin = _named(premises.customer, premises.name, beside=premises.pk)
    if twin is not None:
        raise Refused(
            f"{premises.customer} has premises called {twin.name} already ({twin.code}). "
            "Use those, or choose a name that tells the two apart.",
            "name",
        )
    premises.save()
    return premises


def _named(customer: Customer, name: str, beside: int | None = None) -> Premises | None:
    wanted = folded(name)
    others = Premises.objects.filter(customer=customer).exclude(pk=beside).order_by("id")
    return next((one for one in others if folded(one.name) == wanted), None)


def premises_called(
    said: Premises | str | None, customer: Customer | None, stood: Premises | None, by: Person | None
) -> Premises | None:
    """The premises that a name means among those of a unit's customer; new ones where it is not known yet. stood: where
    the unit was until now. Raises Refused: premises without a customer, the old ones of a unit that changed hands."""
    if not isinstance(said, str):
        return said
    name = one_line(said, "premises", called="name of the premises", longest=150)
    if not name:
        return None
    if customer is None:
        raise Refused("Premises belong to a customer; name the customer, or leave the premises blank.", "premises")
    if stood is not None and stood.customer_id != customer.pk and folded(stood.name) == folded(name):
        raise Refused(
            f"{stood} are premises of {stood.customer}; write where the unit stands with {customer}, or leave the "
            "field blank.",
            "premises",
        )
    return _named(customer, name) or add_premises(customer, by=by, name=name)


@stated
def set_method(
    premises: Premises,
    *,
    by: Person | None,
    method: str,
    from_day: dt.date,
    reason: str = "",
    key: uuid.UUID | None = None,
) -> LeakRateMethod:
    """How the leak rates of all units of the premises are worked out from a day on; earlier rows stay as they are.

    Raises Refused: an unknown method, a day that is still to come, and without a reason whatever is not the first.
    A row that changes nothing is refused too: the method stands already.
    """
    if (known := made_by(LeakRateMethod, key)) is not None:
        return known
    if method not in dict(LeakRateMethod.METHODS):
        raise Refused("Choose annualizing or rolling average.", "method")
    _check_day(from_day)
    reason = paragraph(reason, "reason", called="reason", longest=2000)
    Premises.objects.select_for_update().get(pk=premises.pk)
    before = list(LeakRateMethod.objects.filter(premises=premises))
    if before and not reason:
        raise Refused("Say why the method changes; the reason is kept for good.", "reason")
    stands = standing(before, from_day)
    if stands is not None and stands.method == method:
        raise Refused(
            f"The method is {stands.get_method_display()} already, since {said_day(stands.from_day)}; nothing would "
            "change.",
            "method",
        )
    return LeakRateMethod.objects.create(
        premises=premises, method=method, from_day=from_day, reason=reason, by=by, key=key
    )


def _check_day(day: dt.date) -> None:
    happened(
        day, "from_day", first=FIRST_MADE, still_to_come=f"{said_day(day)} is still to come; enter it on that day."
    )


@dataclass(frozen=True)
class ChargeFound:
    """How a full charge was found, one of FullCharge.HOW, and what it is in whole mg: with `range` its two ends, else
    the figure itself."""

    how: str
    mg: int | None = None
    range_least_mg: int | None = None
    range_most_mg: int | None = None

    def full_mg(self) -> int:
        """The full charge; of a range its midpoint (40 CFR 82.152, "full charge"). Raises Refused: an unknown way, no
        quantity, ends of no range, or in the wrong order."""
        if self.how not in dict(FullCharge.HOW):
            raise Refused("Say how the full charge was found: one of the four ways.", "how")
        if self.how == "range":
            return _midpoint(self.range_least_mg, self.range_most_mg)
        if self.range_least_mg is not None or self.range_most_mg is not None:
            raise Refused("A range belongs to its midpoint alone; leave its ends blank, or choose the range.", "how")
        if self.mg is None or self.mg <= 0:
            raise Refused("The full charge is missing; it must be more than nothing.", "mg")
        return self.mg


@stated
def set_full_charge(
    unit: Unit,
    *,
    by: Person | None,
    found: ChargeFound,
    from_day: dt.date,
    reason: str = "",
    key: uuid.UUID | None = None,
) -> FullCharge:
    """The full charge of a unit from a day on; earlier rows stay as they are.

    Raises Refused as `ChargeFound.full_mg` does, for a day that is still to come, and without a reason whatever is not
    the first.
    """
    if (known := made_by(FullCharge, key)) is not None:
        return known
    full = found.full_mg()
    _check_day(from_day)
    reason = paragraph(reason, "reason", called="reason", longest=2000)
    Unit.objects.select_for_update().get(pk=unit.pk)
    if not reason and FullCharge.objects.filter(unit=unit).exists():
        raise Refused("Say why the full charge is revised; the reason is kept for good.", "reason")
    ends = {"range_least_mg": found.range_least_mg, "range_most_mg": found.range_most_mg}
    said = {"how": found.how, "mg": full, **ends, "reason": reason}
    return FullCharge.objects.create(unit=unit, from_day=from_day, by=by, key=key, **said)


def _midpoint(least: int | None, most: int | None) -> int:
    """The middle of an established range in whole mg; half a mg goes to the even one."""
    if least is None or most is None:
        raise Refused(
            "An established range has two ends; write both.", "range_least_mg" if least is None else "range_most_mg"
        )
    if least <= 0 or least > most:
        raise Refused("The least of the range must be more than nothing, and no more than the most.", "range_least_mg")
    return round(Fraction(least + most, 2))
