"""The demonstration shop: what it holds and what it did, told through the same actions as the pages.

Its days are counted back from the day it is loaded, so that it looks lived in: from the first day of the quarter
before until yesterday. What happens is always the same, only the days lie closer or wider.
"""

import datetime as dt
import random
import uuid
from collections.abc import Callable

from django.apps import apps
from django.db.models import QuerySet

from inventory.containers import actions as stock
from inventory.containers.entries import OrderAsked
from inventory.containers.models import Container
from inventory.ledger.models import ChainHead, Voucher
from inventory.parties.actions import save_party, supplier_called
from inventory.receiving.actions import Arrival, open_stock, receive
from inventory.scales import actions as scales
from inventory.shipping import actions as shipping
from inventory.shop.models import Shop
from jobs.drafts import actions as jobs
from jobs.drafts.models import Job
from jobs.people.actions import add_certificate, add_person
from jobs.people.models import Person
from jobs.planning.vacuum import absolute_pa
from jobs.signing import actions as signing
from jobs.units.actions import add_unit
from jobs.units.models import Unit, UnitKind
from shopledger.demo.cast import (
    CUSTOMERS,
    GASES,
    MODELS,
    OFFICE,
    OWNER,
    PARTS,
    PASSWORD,
    RECLAIMER,
    SHOP,
    TECHNICIANS,
    TOWN,
    VISITS,
    Model,
    Visit,
    invented_plate,
    invented_vin,
)
from shopledger.reporting.periods import quarter

VEHICLES, VISITORS = 24, 66
G, ML = 1_000, 1_000  # mg, uL
CAN_TARE = 98 * G
NET = {"R-134a": 340 * G, "R-1234yf": 227 * G}  # of a can
PRICE = {"R-134a": 1180, "R-1234yf": 5400}
VAPOUR = 4 * G  # stays in a can that is emptied as liquid and vapour
CYLINDERS = {"R-134a": ("DSP-0002", "CYL-0001"), "R-1234yf": ("CYL-0002",)}
HEEL = 250 * G  # below this a cylinder gives no liquid and is put aside
STEP = {"bench": 1 * G, "floor": 5 * G}
ALTITUDE_M = 320
# Which visit of the story brings what.
OVER, LEAKED, LINE_LOSS, CORRECTED = 30, 16, range(4, VISITORS, 9), VISITORS - 6


class Story:
    """Loads the shop, day after day, always the same way."""

    def __init__(self, today: dt.date):
        self.random = random.Random(7)  # noqa: S311 (a story, not a secret)
        self.today = today
        self.start = quarter(quarter(today).eve).first
        self.yesterday = today - dt.timedelta(days=1)

    def day(self, visit: float) -> dt.date:
        """The day of a visit; the shop is closed on Sundays."""
        day = self.start + dt.timedelta(days=round((self.yesterday - self.start).days * (visit + 1) / VISITORS))
        return day + dt.timedelta(days=1) if day.weekday() == 6 else day

    def key(self) -> str:
        return str(uuid.UUID(int=self.random.getrandbits(128), version=4))

    def tell(self) -> None:
        self.people()
        self.places()
        self.first_stock()
        self.units()
        for number in range(VISITORS):
            self.office_day(number)
            self.visit(number)
        self.loose_ends()

    # -- who and what ----------------------------------------------------------------------------

    def people(self) -> None:
        Shop.objects.create(
            id=1,
            name=SHOP,
            address=f"12 Nowhere Lane\n{TOWN}",
            timezone="UTC",
            rulebook="generic",
            altitude_m=ALTITUDE_M,
            invented=True,
        )
        owner = add_person(by=None, username=OWNER[0], name=OWNER[1], role="owner", password=PASSWORD)
        add_person(by=owner, username=OFFICE[0], name=OFFICE[1], role="office", password=PASSWORD)
        self.crew = []
        for username, name, mass, volume in TECHNICIANS:
            person = add_person(
                by=owner,
                username=username,
                name=name,
                role="technician",
                password=PASSWORD,
                mass_unit=mass,
                volume_unit=volume,
            )
            add_certificate(
                by=owner,
                person=person,
                scheme="Refrigerant handling",
                number=f"IF-{username.upper()}-1",
                issuer=f"{TOWN} board of trades",
                issued=self.start - dt.timedelta(days=400),
                expires=self.today + dt.timedelta(days=30) if username == "timo" else None,
            )
            self.crew.append(person)

    def places(self) -> None:
        for name in ("Store", "Bay", "Van"):
            stock.add_location(name=name)
        due = self.today + dt.timedelta(days=90)
        scales.save_scale(
            code="bench", readability_mg=STEP["bench"], capacity_mg=30_000 * G, checked_until=due, usual=True
        )
        scales.save_scale(
            code="floor", readability_mg=STEP["floor"], capacity_mg=150_000 * G, checked_until=due, usual=False
        )
        self.gases = supplier_called(GASES, f"1 Fable Road, {TOWN}")
        self.parts = supplier_called(PARTS, f"9 Fable Road, {TOWN}")
        said = {"address": f"40 Fable Road, {TOWN}", "registration": "IF-RECLAIM-7"}
        self.reclaimer = save_party(name=RECLAIMER, role="reclaimer", **said)

    def first_stock(self) -> None:
        retest, line = self.today + dt.timedelta(days=700), Arrival
        open_stock(
            lines=[
                line(
                    "refillable",
                    "R-134a",
                    False,
                    "virgin",
                    11_300 * G,
                    1,
                    "Store",
                    "CYL-0001",
                    5_900 * G,
                    13_500 * G,
                    retest,
                ),
                line(
                    "refillable",
                    "R-1234yf",
                    False,
                    "virgin",
                    9_800 * G,
                    1,
                    "Store",
                    "CYL-0002",
                    5_900 * G,
                    12_000 * G,
                    retest,
                ),
                line("recovery", "R-134a", False, "recovered", 0, 1, "Bay", "REC-0001", 6_100 * G, 12_000 * G, retest),
                line(
                    "recovery", "R-1234yf", False, "recovered", 0, 2, "Bay", "REC-0002", 6_100 * G, 12_000 * G, retest
                ),
                line("machine", "R-134a", False, "recycled", 3_200 * G, 1, "Bay", "MAC-0001", 9_000 * G, 15_000 * G),
                line("disposable", "R-404A", False, "virgin", 10_900 * G, 1, "Van", "DSP-0001", 3_000 * G),
                line("oil", "POE 68", True, "", 500 * ML, 2, "Store", "OIL-0001"),
            ],
            day=self.start,
            by="otto",
            key=self.key(),
            note="Counted before the ledger began",
        )
        self.delivery(-0.5, "MB-1001", "R-134a", 12)
        receive(
            lines=[
                line("oil", "PAG 46", True, "", 250 * ML, 6, "Store", price_minor=1450),
                line("oil", "PAG 100", True, "", 250 * ML, 4, "Store", price_minor=1450),
            ],
            supplier=self.parts,
            document="PP-77",
            day=self.day(-0.5),
            by="otto",
            key=self.key(),
        )

    def delivery(self, visit: float, document: str, gas: str, count: int) -> None:
        can = Arrival("can", gas, False, "virgin", NET[gas], count, "Store", tare_mg=CAN_TARE, price_minor=PRICE[gas])
        receive(lines=[can], supplier=self.gases, document=document, day=self.day(visit), by="otto", key=self.key())

    def units(self) -> None:
        self.vehicles: list[tuple[Unit, Model]] = []
        for number in range(VEHICLES):
            model = MODELS[number % len(MODELS)]
            unit = add_unit(
                by=None,
                customer=CUSTOMERS[number % len(CUSTOMERS)],
                plate=invented_plate(number),
                make=model.make,
                model=model.model,
                year=model.year,
                vin=invented_vin(number + 1, model.year),
                refrigerant=model.gas,
                charge_min_mg=model.least,
                charge_max_mg=model.most,
                label_confirmed=True,
                oil=model.oil,
                oil_amount_ul=model.oil_ul,
                high_voltage_compressor=model.high_voltage,
            )
            self.vehicles.append((unit, model))
        self.truck = add_unit(
            by=None,
            customer="Kestrel Couriers",
            kind=UnitKind.TRANSPORT,
            name="Cold box of the grey lorry",
            plate=invented_plate(800),
            refrigerant="R-404A",
            charge_min_mg=1_900 * G,
            charge_max_mg=2_100 * G,
            label_confirmed=True,
            oil="POE 68",
        )

    # -- the office ------------------------------------------------------------------------------

    def office_day(self, number: int) -> None:
        """What the office does before a visit."""
        day = self.day(number - 0.5)
        if number in {6, 36}:
            self.delivery(number - 0.5, f"MB-{1010 + number}", "R-1234yf", 12)
        if number in {20, 44}:
            self.delivery(number - 0.5, f"MB-{1010 + number}", "R-134a", 12)
        if number == 10:
            last_of_its_day(
                stock.move, codes=self.sealed("R-134a")[-2:], location="Van", day=day, by="otto", key=self.key()
            )
        if number == 16:
            self.big_cylinder(day)
        if number == 28:
            self.half_way(day)
        if number in {14, 28, 42, 56}:
            self.retire_empties(day)
        if number == 50:
            self.count(day, "Second count of the quarter", {})

    def sealed(self, gas: str) -> list[str]:
        return list(self.cans(gas).filter(opened_on=None).order_by("code").values_list("code", flat=True))

    def cans(self, gas: str) -> QuerySet[Container]:
        return Container.objects.filter(
            kind="can", substance__code=gas, account__balance__gt=VAPOUR, retired_on=None, location__name="Store"
        )

    def big_cylinder(self, day: dt.date) -> None:
        """A single-use cylinder of the 30 lb class: 13.6 kg in 3.2 kg of steel."""
        receive(
            lines=[
                Arrival(
                    "disposable",
                    "R-134a",
                    False,
                    "virgin",
                    13_600 * G,
                    1,
                    "Store",
                    "DSP-0002",
                    3_200 * G,
                    price_minor=21900,
                )
            ],
            supplier=self.gases,
            document="MB-1021",
            day=day,
            by="otto",
            key=self.key(),
        )

    def half_way(self, day: dt.date) -> None:
        """A count that finds a charge that nobody wrote down; recycling, the machine filled, a load to the
        reclaimer."""
        self.count(day, "Count of the store. A charge from CYL-0001 was not written down.", {"CYL-0001": -265 * G})
        before = self.gross("CYL-0001")
        last_of_its_day(
            stock.decant,
            source="CYL-0001",
            into="MAC-0001",
            before=before,
            after=before - 1_500 * G,
            scale="floor",
            day=day,
            by="tara",
            key=self.key(),
        )
        last_of_its_day(
            stock.regrade,
            code="REC-0002",
            grade="recycled",
            day=day,
            by="tara",
            key=self.key(),
            note="Passed through the recycling machine; the identifier shows 99.7 %",
        )
        last_of_its_day(
            shipping.ship,
            parcels={"REC-0001": None},
            purpose="reclaim",
            party=self.reclaimer,
            document="SL-301",
            day=day,
            by="otto",
            key=self.key(),
            note="Its content was taken over; the cylinder came back empty",
        )

    def count(self, day: dt.date, note: str, missing: dict[str, int]) -> None:
        """All that stands in the store: small ones on the bench, cylinders on the floor scale, oil by its volume."""
        held = Container.objects.filter(retired_on=None, void=False, location__name="Store")
        held = held.select_related("account").order_by("code")
        small = {c.code: self.gross(c.code) for c in held if c.kind == "can"}
        # A bottle that was poured from never gives back its last drops.
        small |= {c.code: max(c.content - 3 * ML, 0) for c in held if c.is_oil and c.opened_on}
        large = {
            c.code: self.gross(c.code) + missing.get(c.code, 0) for c in held if c.kind in ("refillable", "disposable")
        }
        for readings, scale in ((small, "bench"), (large, "floor")):
            last_of_its_day(stock.count, readings=readings, day=day, by="otto", key=self.key(), scale=scale, note=note)

    def retire_empties(self, day: dt.date) -> None:
        empty = Container.objects.filter(
            kind="can", account__balance__lte=VAPOUR + 3 * G, opened_on__isnull=False, retired_on=None
        )
        codes = list(empty.order_by("code").values_list("code", flat=True))
        last_of_its_day(stock.retire, codes=codes, residue_into="", day=day, by="otto", key=self.key())

    # -- the bay ---------------------------------------------------------------------------------

    def visit(self, number: int) -> None:
        """A vehicle comes, is emptied, mended, evacuated and charged."""
        unit, model = self.vehicles[(number * 7) % VEHICLES]
        seen, person, day = VISITS[number % len(VISITS)], self.crew[number % 3], self.day(number)
        job = jobs.start_job(unit=unit, technician=person, by=person, day=day, key=uuid.UUID(self.key()))
        self.describe(job, person, seen, day)
        left = model.least * self.random.randrange(*seen.left) // 100
        self.recover(job, person, number, model.gas, left // (5 * G) * 5 * G)
        if seen.opened:
            self.oil(job, person, model)
        lost = self.random.randrange(2, 6) * G if number in LINE_LOSS else 0
        aim = self.random.randrange(model.least + 15 * G, model.most - 10 * G, G) + lost
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
        draw, minute = self.random.randrange, dt.timedelta(minutes=1)
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
        jobs.enter_line(job.pk, by=person, key=uuid.UUID(self.key()), action=action, container=container, **said)

    def scale(self, code: str) -> str:
        return "bench" if code.startswith("CAN") else "floor"

    def gross(self, code: str) -> int:
        """What the scale shows, in its steps: the book, and now and then a step beside it."""
        container = Container.objects.select_related("account").get(code=code)
        step = STEP[self.scale(code)]
        shown = round((container.tare_mg + container.content) / step) + self.random.choice([0, 0, 0, 1, -1])
        return max(shown * step, -(-container.tare_mg // step) * step)

    def recover(self, job: Job, person: Person, number: int, gas: str, left: int) -> None:
        if gas == "R-134a" and number % 4 == 2:
            self.enter(job, person, "recover", "MAC-0001", quantity=left)
            return
        code = "REC-0001" if gas == "R-134a" else "REC-0002" if number < 28 else "REC-0003"
        before = self.gross(code)
        self.enter(job, person, "recover", code, before=before, after=before + left, scale="floor")

    def oil(self, job: Job, person: Person, model: Model) -> None:
        drained, added = self.random.randrange(8, 25) * ML, self.random.randrange(0, 4) * 5 * ML
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
        leaked = self.sealed(gas)[:1] if number == LEAKED else []
        for code in [*self.can_codes(gas, number), *self.cylinder_codes(gas, number)]:
            before = self.gross(code)
            if code in leaked:
                before = CAN_TARE + NET[gas] - 14 * G  # lost on the shelf, seen at this weighing
            container = Container.objects.get(code=code)
            step = STEP[self.scale(code)]
            most = before - container.tare_mg - (VAPOUR if container.kind == "can" else HEEL)
            taken = min(-(-aim // step), max(most, 0) // step) * step
            if taken > 0:
                self.enter(job, person, "charge", code, before=before, after=before - taken, scale=self.scale(code))
                aim -= taken
            if aim <= 0:
                return

    def can_codes(self, gas: str, number: int) -> list[str]:
        """Opened ones first; every third visit goes straight to the cylinder."""
        if number % 3 == 0 and number != LEAKED:
            return []
        opened = self.cans(gas).filter(opened_on__isnull=False, account__balance__gt=2 * VAPOUR).order_by("code")
        return [*opened.values_list("code", flat=True), *self.sealed(gas)]

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
            unit=self.truck, technician=person, by=person, day=self.day(VISITORS - 1), key=uuid.UUID(self.key())
        )
        jobs.change_job(
            job.pk,
            by=person,
            complaint="Does not hold minus 18 degrees",
            leak_result="none found",
            leak_method="soap and detector",
            note="Came empty after a winter outside; charged at the yard.",
        )
        before = self.gross("DSP-0001")
        self.enter(job, person, "charge", "DSP-0001", before=before, after=before - 1_950 * G, scale="floor")
        signing.sign_job(job.pk, by=person)

    def under_way(self, person: Person) -> None:
        """Half charged: one can is empty, the next stands on the scale."""
        unit, model = self.vehicles[2]
        job = jobs.start_job(unit=unit, technician=person, by=person, day=self.today, key=uuid.UUID(self.key()))
        jobs.change_job(
            job.pk,
            by=person,
            complaint="Blows warm in town",
            identified_as=model.gas,
            identified_how="identifier",
            purity_percent=99.2,
        )
        self.recover(job, person, 0, model.gas, 120 * G)
        first, second = self.sealed(model.gas)[:2]
        self.enter(
            job, person, "charge", first, before=CAN_TARE + NET[model.gas], after=CAN_TARE + VAPOUR, scale="bench"
        )
        self.enter(job, person, "charge", second, before=CAN_TARE + NET[model.gas], scale="bench")


def anything_there() -> bool:
    """Whether the database holds anything at all: every table of this project but the chain's one row."""
    models = [model for app in ("inventory", "jobs", "shopledger") for model in apps.get_app_config(app).get_models()]
    return any(model.objects.exists() for model in models if model is not ChainHead)


def demonstration_there() -> bool:
    return Shop.objects.filter(invented=True).exists()


def first_day() -> dt.date:
    """The day on which the story begins: the first of a quarter."""
    return Voucher.objects.get(number=1).day


def last_of_its_day(act: Callable, **said: object) -> object:
    """Enter an act of an earlier day: where it is asked after which other one it came, after all that are on record."""
    try:
        return act(**said)
    except OrderAsked as asked:
        return act(**said, follows=asked.acts[-1].voucher)
