"""A grocer of the demonstration with stationary equipment: premises, how their leak rates are worked out, a rack that
leaked and was repaired, a rooftop unit. Invented, as all of it."""

import datetime as dt

from jobs.leaks.actions import add_leak_event
from jobs.people.models import Person
from jobs.units.actions import add_unit
from jobs.units.models import Customer, Unit, UnitKind
from jobs.units.premises import ChargeFound, add_premises, set_full_charge, set_method
from shopledger.demo.calendar import Calendar
from shopledger.demo.cast import GROCER, TOWN
from shopledger.demo.stock import G


def grocer(calendar: Calendar, technician: Person) -> None:
    """What the shop knows of the grocer before the story begins, and the leak of the rack during it."""
    customer = Customer.objects.get(name=GROCER)
    place = add_premises(customer, by=None, name="Market hall store", address=f"3 Fable Road, {TOWN}")
    before = calendar.start - dt.timedelta(days=400)
    set_method(place, by=None, method="annualizing", from_day=before)
    taken_over = "The store was taken over with two others; no unit was over its leak rate by either method."
    set_method(place, by=None, method="rolling", from_day=calendar.start, reason=taken_over)
    here = {"by": None, "customer": customer, "premises": place, "kind": UnitKind.STATIONARY}
    rack = add_unit(
        **here,
        exactly="refrigeration",
        use="supermarket",
        name="Rack of the market hall",
        refrigerant="R-448A",
        designed_for="R-404A",
        installed_on=before,
        leak_detection=True,
        oil="POE 68",
        note="Machine room behind the loading bay",
    )
    found = ChargeFound("range", None, 88_000 * G, 92_000 * G)
    set_full_charge(rack, by=None, found=found, from_day=before, reason="From the receiver's levels of a year")
    rooftop = add_unit(
        **here,
        name="Rooftop unit over the bakery",
        refrigerant="R-410A",
        charge_nominal_mg=10_200 * G,
        label_confirmed=True,
        light_commercial="yes",
        installed_on=before,
    )
    set_full_charge(rooftop, by=None, found=ChargeFound("maker", 10_200 * G), from_day=before)
    leak(rack, calendar, technician)


def leak(rack: Unit, calendar: Calendar, technician: Person) -> None:
    """The rack leaked, and what was done about it."""
    who, tested = {"by": technician, "person": technician}, {"method": "electronic detector"}
    day = calendar.day(10)
    places = "Liquid line of the third case, flare nut; all else tight"
    add_leak_event(rack, kind="inspection", day=day, places=places, **tested, **who)
    parts = "Flare nut and gasket replaced"
    add_leak_event(rack, kind="repair", day=day, places=places, parts=parts, evacuated=False, **who)
    add_leak_event(rack, kind="initial-test", day=day, passed=True, places="Flare nut", **tested, **who)
    later = day + dt.timedelta(days=6)
    add_leak_event(rack, kind="follow-up-test", day=later, passed=True, all_leaks=True, **tested, **who)
    add_leak_event(rack, kind="owner-told", day=later, note="By letter, with both tests", by=technician)
