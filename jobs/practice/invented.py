"""What a practice job is about: a unit, its containers and the draft, all invented, made by the same actions as real
ones. Whoever calls this takes it all back (middleware.py). Figures are invented too; masses in mg, oil in uL."""

import datetime as dt

from inventory.containers.actions import add_location
from inventory.containers.models import Location, Scale
from inventory.ledger.actions import writing
from inventory.receiving.actions import Arrival, open_stock
from inventory.scales.actions import Plate, save_scale
from inventory.shop.clock import today
from inventory.shop.models import Shop
from inventory.shop.who import answering
from jobs.drafts.models import Job
from jobs.drafts.practised import CODES, PRACTICE
from jobs.people.actions import add_certificate
from jobs.people.models import Person
from jobs.people.queries import ANY_SCHEME, certificates_held
from jobs.practice.kept import Practice
from jobs.units.actions import add_unit
from jobs.units.models import Unit

CALLED = "PRACTICE"
G, ML = 1_000, 1_000
CAN, CAN_TARE = 340 * G, 98 * G
CYLINDER_TARE, LEFT_IN_IT = 6_100 * G, 290 * G
LEAST, MOST = 480 * G, 520 * G

# What a learner is told that the display shows, step by step (jobs/_hint.html).
SHOWN = {
    "least": LEAST,
    "most": MOST,
    "cylinder_before": CYLINDER_TARE,
    "cylinder_after": CYLINDER_TARE + LEFT_IN_IT,
    "can_full": CAN_TARE + CAN,
    "can_empty": CAN_TARE,
    "can_last": CAN_TARE + CAN - (500 * G - CAN),
    "oil": 30 * ML,
}


def invent(person: Person, practice: Practice) -> bool:
    """Inside a transaction that is taken back: the draft with all that it needs. Whether its person had to be lent
    certificates. Raises Refused where a real entry would be refused now."""
    with answering(None), writing():
        lent = not certificates_held(person, today())
        if lent:
            _lend(person)
        unit = _unit(person)
        if not Scale.objects.filter(retired=False, usual=True).exists():
            checked = today() + dt.timedelta(days=90)
            save_scale(code=CALLED, plate=Plate(G, 30_000 * G), checked_until=checked, usual=True)
        _stock(person)
        _draft(unit, person, practice.started)
        return lent


def _lend(person: Person) -> None:
    """Every certificate that the shop's rulebook knows: whoever still learns has none, and comes to the end too."""
    for scheme in Shop.current().rules.schemes(today()):
        called = CALLED if scheme.code == ANY_SCHEME else scheme.code
        add_certificate(by=None, person=person, scheme=called, number=CALLED, issued=today())


def _unit(person: Person) -> Unit:
    return add_unit(
        by=person,
        plate=CALLED,
        make="Invented",
        model="Practice car",
        refrigerant="R-134a",
        charge_min_mg=LEAST,
        charge_max_mg=MOST,
        label_confirmed=True,
        oil="PAG 46",
        oil_amount_ul=120 * ML,
        ports="by the left headlight",
    )


def _stock(person: Person) -> None:
    if not Location.objects.filter(name=CALLED).exists():
        add_location(name=CALLED)
    retest = today() + dt.timedelta(days=700)
    cylinder = {"water_capacity_mg": 12_000 * G, "retest_due": retest, "test_pressure_kpa": 4_800}
    lines = [
        Arrival("can", "R-134a", False, "virgin", CAN, 3, CALLED, f"{CODES}1", CAN_TARE),
        Arrival("recovery", "R-134a", False, "recovered", 0, 1, CALLED, f"{CODES}REC", CYLINDER_TARE, **cylinder),
        Arrival("oil", "PAG 46", True, "", 250 * ML, 1, CALLED, f"{CODES}OIL"),
    ]
    open_stock(lines=lines, day=today(), by=person.username)


def _draft(unit: Unit, person: Person, started: dt.datetime) -> None:
    """As `start_job` makes it, with the key and the number of practice."""
    number = CALLED
    while Job.objects.filter(number=number).exists():  # of a log that was loaded
        number += "*"
    Job.objects.create(
        pk=PRACTICE,
        number=number,
        unit=unit,
        technician=person,
        day=today(),
        started_at=started,
        substance=unit.refrigerant,
        charge_min_mg=LEAST,
        charge_max_mg=MOST,
    )
