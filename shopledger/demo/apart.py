"""What stands in the demonstration shop and is none of its stock: a customer's own cylinder that one of their vehicles
is charged from, a cylinder that was found and identified, one that is held. Invented, as all of it. Its keys come of a
source of their own, so that it changes nothing else in the story."""

import datetime as dt
import random
import uuid

from inventory.containers.models import Container
from inventory.kept.actions import Brought, Identified, find, identify, take_in
from jobs.drafts import actions as jobs
from jobs.people.models import Person
from jobs.planning.vacuum import absolute_pa
from jobs.signing import actions as signing
from shopledger.demo.calendar import Calendar, last_of_its_day
from shopledger.demo.founding import ALTITUDE_M, Founding
from shopledger.demo.stock import G

OWN, FOUND, HELD = "OWN-0001", "FND-0001", "FND-0002"
OF_A_COURIER = 10  # the vehicle, a minibus of a customer who buys gas themselves
TARE = 5_900 * G


class Apart:
    def __init__(self, calendar: Calendar, founding: Founding):
        self.calendar = calendar
        self.unit, self.model = founding.vehicles[OF_A_COURIER]
        self.crew = founding.crew
        self.random = random.Random("what is kept apart")  # noqa: S311 (keys of an invented story)

    def key(self) -> str:
        return str(uuid.UUID(int=self.random.getrandbits(128), version=4))

    def before_visit(self, number: int) -> None:
        day = self.calendar.day(number - 0.5)
        if number == 9:
            self.found(FOUND, 8_320 * G, "Behind the shed; no label, the valve is tight", day)
        if number == 13:
            said = Identified("R-134a", 6_100 * G, "identifier of the bay", purity="99.1", scale="floor")
            last_of_its_day(identify, code=FOUND, said=said, day=day, by="tara", key=self.key())
        if number == 30:
            self.own(day)
        if number == 33:
            self.job(self.crew[1], day)
        if number == 58:
            self.found(HELD, 7_455 * G, "Left at the gate over night; its label cannot be read", day)

    def found(self, code: str, gross: int, where: str, day: dt.date) -> None:
        said = {"code": code, "gross_mg": gross, "location": "Bay", "found_where": where, "scale": "floor"}
        find(kind="recovery", **said, day=day, by="tara", key=self.key())

    def own(self, day: dt.date) -> None:
        brought = Brought("refillable", "R-134a", "virgin", TARE, TARE + 4_600 * G, "Store", OWN, "floor", 12_000 * G)
        note = "Theirs, for their own vans"
        take_in(owner=self.unit.customer.code, brought=brought, day=day, by="otto", key=self.key(), note=note)

    def job(self, person: Person, day: dt.date) -> None:
        """Their vehicle comes empty, and is charged from their own cylinder."""
        job = jobs.start_job(unit=self.unit, technician=person, by=person, day=day, key=uuid.UUID(self.key()))
        jobs.change_job(job.pk, by=person, **_vacuum(day))
        before = _gross(OWN)
        aim = (self.model.least + 20 * G) // (5 * G) * (5 * G)
        weights = {"before": before, "after": before - aim, "scale": "floor"}
        jobs.enter_line(job.pk, by=person, key=uuid.UUID(self.key()), action="charge", container=OWN, **weights)
        last_of_its_day(signing.sign_job, job_id=job.pk, by=person)


def _gross(code: str) -> int:
    one = Container.objects.select_related("account").get(code=code)
    return one.tare_mg + one.content


def _vacuum(day: dt.date) -> dict[str, object]:
    """What the job says of itself."""
    begun = dt.datetime.combine(day, dt.time(9, 5), tzinfo=dt.UTC)
    minute = dt.timedelta(minutes=1)
    read = {"vacuum": "450 micron", "hold_start": "460 micron", "hold_end": "540 micron"}
    said = {f"{name}_said": value for name, value in read.items()}
    said |= {f"{name}_pa": absolute_pa(value, ALTITUDE_M) for name, value in read.items()}
    return said | {
        "complaint": "A stone went through the condenser; came empty",
        "system_opened": True,
        "repairs": "Condenser and receiver-drier replaced",
        "leak_method": "electronic detector",
        "leak_result": "found and repaired",
        "evacuation_started": begun,
        "evacuation_ended": begun + 35 * minute,
        "hold_started": begun + 36 * minute,
        "hold_ended": begun + 48 * minute,
        "note": "Charged from the customer's own cylinder",
    }
