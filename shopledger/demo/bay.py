"""What the technicians of the demonstration shop do: each visit a job, one of them corrected, one under way."""

import datetime as dt
import uuid

from inventory.containers.models import Container
from jobs.drafts import actions as jobs
from jobs.drafts.models import Job
from jobs.people.models import Person
from jobs.planning.vacuum import absolute_pa
from jobs.signing import actions as signing
from shopledger.demo.calendar import VISITORS, Calendar, last_of_its_day
from shopledger.demo.cast import (
    VISITS,
    Model,
    Visit,
)
from shopledger.demo.founding import ALTITUDE_M, Founding
from shopledger.demo.stock import CAN_TARE, ML, NET, STEP, VAPOUR, G, cans, gross, scale_of, sealed

CYLINDERS = {"R-134a": ("DSP-0002", "CYL-0001"), "R-1234yf": ("CYL-0002",)}
HEEL = 250 * G  # below this a cylinder gives no liquid and is put aside
# Which visit of the story brings what.
OVER, LEAKED, LINE_LOSS, CORRECTED = 30, 16, range(4, VISITORS, 9), VISITORS - 6


class Bay:
    """to_correct: the job that was misread, and who did it."""

    def __init__(self, calendar: Calendar, founding: Founding):
        self.calendar = calendar
        self.crew, self.vehicles, self.truck = founding.crew, founding.vehicles, founding.truck

    def visit(self, number: int) -> None:
        """A vehicle comes, is emptied, mended, evacuated and charged."""
        unit, model = self.vehicles[(number * 7) % len(self.vehicles)]
        seen, person, day = VISITS[number % len(VISITS)], self.crew[number % 3], self.calendar.day(number)
        job = jobs.start_job(unit=unit, technician=person, by=person, day=day, key=uuid.UUID(self.calendar.key()))
        self.describe(job, person, seen, day)
        left = model.least * self.calendar.random.randrange(*seen.left) // 100
        self.recover(job, person, number, model.gas, left // (5 * G) * 5 * G)
        if seen.opened:
            self.oil(job, person, model)
        lost = self.calendar.random.randrange(2, 6) * G if number in LINE_LOSS else 0
        aim = self.calendar.random.randrange(model.least + 15 * G, model.most - 10 * G, G) + lost
        if number == OVER:
            aim = model.most + 15 * G
        self.charge(job, person, number, model.gas, aim)
        if lost:
            self.enter(job, person, "line-loss", quantity=lost, note="purged from the hoses")
        reasons = {"over": "Longer hoses after the repair, agreed with the customer"} if number == OVER else {}
        last_of_its_day(signing.sign_job, job_id=job.pk, by=person, reasons=reasons)
        if number == CORRECTED:
            self.to_correct = (job, person)

    def describe(self, job: Job, person: Person, seen: Visit, day: dt.date) -> None:
        draw, minute = self.calendar.random.randrange, dt.timedelta(minutes=1)
        at = dt.datetime.combine(day, dt.time(draw(8, 15), draw(0, 60)), tzinfo=dt.UTC)
        pumped, low = at + draw(30, 46) * minute, draw(38, 62) * 10
        start, end = f"{low + 10} micron", f"{low + draw(6, 24) * 10} micron"
        ambient, low_side = draw(34, 62) / 2, draw(16, 24) / 10
        jobs.change_job(
            job.pk,
            by=person,
            identified_as=job.substance,
            identified_how="identifier",
            purity_percent=draw(985, 1000) / 10,
            complaint=seen.complaint,
            system_opened=seen.opened,
            repairs=seen.repairs,
            leak_method="electronic detector",
            leak_result=seen.leak_result,
            evacuation_started=at,
            evacuation_ended=pumped,
            vacuum_said=f"{low} micron",
            vacuum_pa=absolute_pa(f"{low} micron", ALTITUDE_M),
            hold_started=pumped + minute,
            hold_ended=pumped + draw(11, 17) * minute,
            hold_start_said=start,
            hold_start_pa=absolute_pa(start, ALTITUDE_M),
            hold_end_said=end,
            hold_end_pa=absolute_pa(end, ALTITUDE_M),
            ambient_c=ambient,
            vent_c=draw(9, 19) / 2,
            humidity_percent=float(draw(35, 65)),
            low_side_said=f"{low_side:g} bar",
            high_side_said=f"{6 + ambient / 3:.1f} bar",
        )

    def enter(self, job: Job, person: Person, action: str, container: str = "", **said: object) -> None:
        jobs.enter_line(
            job.pk, by=person, key=uuid.UUID(self.calendar.key()), action=action, container=container, **said
        )

    def recover(self, job: Job, person: Person, number: int, gas: str, left: int) -> None:
        if gas == "R-134a" and number % 4 == 2:
            self.enter(job, person, "recover", "MAC-0001", quantity=left)
            return
        code = "REC-0001" if gas == "R-134a" else "REC-0002" if number < 28 else "REC-0003"
        before = gross(self.calendar, code)
        self.enter(job, person, "recover", code, before=before, after=before + left, scale="floor")

    def oil(self, job: Job, person: Person, model: Model) -> None:
        drained, added = self.calendar.random.randrange(8, 25) * ML, self.calendar.random.randrange(0, 4) * 5 * ML
        bottles = Container.objects.filter(substance__code=model.oil, account__balance__gt=45 * ML, retired_on=None)
        bottle = bottles.order_by("code").first()
        self.enter(job, person, "oil-drain", quantity=drained)
        self.enter(job, person, "oil-add", bottle.code, quantity=drained + added)

    def charge(self, job: Job, person: Person, number: int, gas: str, aim: int) -> None:
        """From the machine, from cans, or from a cylinder; whatever comes next where one runs out."""
        machine = Container.objects.select_related("account").get(code="MAC-0001")
        if gas == "R-134a" and number % 4 == 2 and machine.content > aim + 2 * HEEL:
            self.enter(job, person, "charge", "MAC-0001", quantity=aim)
            return
        leaked = sealed(gas)[:1] if number == LEAKED else []
        for code in [*self.can_codes(gas, number), *self.cylinder_codes(gas, number)]:
            before = gross(self.calendar, code)
            if code in leaked:
                before = CAN_TARE + NET[gas] - 14 * G  # lost on the shelf, seen at this weighing
            container = Container.objects.get(code=code)
            step = STEP[scale_of(code)]
            most = before - container.tare_mg - (VAPOUR if container.kind == "can" else HEEL)
            taken = min(-(-aim // step), max(most, 0) // step) * step
            if taken > 0:
                self.enter(job, person, "charge", code, before=before, after=before - taken, scale=scale_of(code))
                aim -= taken
            if aim <= 0:
                return

    def can_codes(self, gas: str, number: int) -> list[str]:
        """Opened ones first; every third visit goes straight to the cylinder."""
        if number % 3 == 0 and number != LEAKED:
            return []
        opened = cans(gas).filter(opened_on__isnull=False, account__balance__gt=2 * VAPOUR).order_by("code")
        return [*opened.values_list("code", flat=True), *sealed(gas)]

    def cylinder_codes(self, gas: str, number: int) -> list[str]:
        recycled = ["REC-0002"] if gas == "R-1234yf" and number >= 28 and number % 2 else []
        held = {c.code: c.content for c in Container.objects.filter(retired_on=None).select_related("account")}
        return [code for code in (*recycled, *CYLINDERS[gas]) if held.get(code, 0) > HEEL + 5 * G]

    # -- what is left open -----------------------------------------------------------------------

    def loose_ends(self) -> None:
        """A job that is corrected today, the cold box on the van, and a job that is under way."""
        self.misread(*self.to_correct)
        self.cold_box(self.crew[2])
        self.under_way(self.crew[0])

    def misread(self, job: Job, person: Person) -> None:
        new = signing.correct_job(job.pk, by=person, note="The last weight was read 10 g too low")
        line = new.lines.filter(action="charge").order_by("-position").first()
        jobs.enter_line(
            new.pk,
            by=person,
            key=line.key,
            action="charge",
            container=line.container.code,
            before=line.before,
            after=line.after + 10 * G,
            scale=line.scale.code,
        )
        signing.sign_job(new.pk, by=person)

    def cold_box(self, person: Person) -> None:
        job = jobs.start_job(
            unit=self.truck,
            technician=person,
            by=person,
            day=self.calendar.day(VISITORS - 1),
            key=uuid.UUID(self.calendar.key()),
        )
        jobs.change_job(
            job.pk,
            by=person,
            complaint="Does not hold minus 18 degrees",
            leak_result="none found",
            leak_method="soap and detector",
            note="Came empty after a winter outside; charged at the yard.",
        )
        before = gross(self.calendar, "DSP-0001")
        self.enter(job, person, "charge", "DSP-0001", before=before, after=before - 1_950 * G, scale="floor")
        signing.sign_job(job.pk, by=person)

    def under_way(self, person: Person) -> None:
        """Half charged: one can is empty, the next stands on the scale."""
        unit, model = self.vehicles[2]
        job = jobs.start_job(
            unit=unit, technician=person, by=person, day=self.calendar.today, key=uuid.UUID(self.calendar.key())
        )
        jobs.change_job(
            job.pk,
            by=person,
            complaint="Blows warm in town",
            identified_as=model.gas,
            identified_how="identifier",
            purity_percent=99.2,
        )
        self.recover(job, person, 0, model.gas, 120 * G)
        first, second = sealed(model.gas)[:2]
        self.enter(
            job, person, "charge", first, before=CAN_TARE + NET[model.gas], after=CAN_TARE + VAPOUR, scale="bench"
        )
        self.enter(job, person, "charge", second, before=CAN_TARE + NET[model.gas], scale="bench")
