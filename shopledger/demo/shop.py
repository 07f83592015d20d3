"""The demonstration shop: what it holds and what it did. Everything in it is invented: no person, vehicle,
maker, supplier or figure is real. Its days are counted back from the day it is loaded, so that it looks lived in.
"""

import datetime as dt
import random
import uuid

from inventory.containers import actions as stock
from inventory.containers.models import Container, Scale
from inventory.receiving.actions import save_party, supplier_called
from inventory.shop.models import Shop
from jobs.people.actions import add_certificate, add_person
from jobs.people.models import Person
from jobs.units.actions import add_unit
from jobs.units.models import Unit
from jobs.work import actions as jobs
from jobs.work.models import Job

PASSWORD = "show me the ledger"  # of a shop that does not exist  # noqa: S105
DAYS = 118
CAN_TARE, CYLINDER_TARE = 98_000, 5_900_000
LIQUIDS = {"R-134a": (500_000, 540_000), "R-1234yf": (440_000, 470_000)}
VEHICLES = (
    ("Quillon", "Arbour", 2016, "R-134a"),
    ("Quillon", "Brook", 2021, "R-1234yf"),
    ("Ostrane", "Cirrus", 2014, "R-134a"),
    ("Ostrane", "Delta V", 2022, "R-1234yf"),
    ("Verrin", "Ember", 2018, "R-134a"),
    ("Verrin", "Fjord", 2023, "R-1234yf"),
)
CUSTOMERS = (
    "Ada Quill", "Bram Osterhout-Vale", "Cleo Marsh-Imaginary", "Dorian Pell", "Esme Fictive", "Fenwick & Daughters",
    "Greta Nonesuch", "Hollis Madeup", "Ines Storybrook", "Jonas Notreal", "Kestrel Couriers", "Lena Pretend",
)  # fmt: skip


class Story:
    """Loads the shop through the same actions as the pages, day after day, always the same way."""

    def __init__(self, today: dt.date):
        self.random = random.Random(7)  # noqa: S311 (a story, not a secret)
        self.today = today
        self.start = today - dt.timedelta(days=DAYS)

    def day(self, number: int) -> dt.date:
        return self.start + dt.timedelta(days=number)

    def key(self) -> str:
        return str(uuid.UUID(int=self.random.getrandbits(128), version=4))

    # -- who and what ----------------------------------------------------------------------------

    def tell(self) -> None:
        self.people()
        self.places()
        self.first_stock()
        self.units()
        self.quarter()
        self.loose_ends()

    def people(self) -> None:
        Shop.objects.create(
            id=1, name="Larkspur Climate Garage (invented)", address="12 Nowhere Lane\nImaginary Falls",
            timezone="UTC", rulebook="generic", altitude_m=320, invented=True,
        )  # fmt: skip
        owner = add_person(by=None, username="olga", name="Olga Larkspur", role="owner", password=PASSWORD)
        add_person(by=owner, username="otto", name="Otto Penn", role="office", password=PASSWORD)
        for username, name in (("tara", "Tara Finch"), ("timo", "Timo Reed"), ("tess", "Tess Arbor")):
            person = add_person(by=owner, username=username, name=name, role="technician", password=PASSWORD)
            add_certificate(
                by=owner, person=person, scheme="Refrigerant handling", number=f"IF-{username.upper()}-1",
                issuer="Imaginary Falls board of trades", issued=self.start - dt.timedelta(days=400),
                expires=self.today + dt.timedelta(days=30) if username == "timo" else None,
            )  # fmt: skip
        self.crew = [Person.objects.get(username=name) for name in ("tara", "timo", "tess")]

    def places(self) -> None:
        for name in ("Store", "Bay", "Van"):
            stock.add_location(name=name)
        due = self.today + dt.timedelta(days=90)
        stock.save_scale(code="bench", readability_mg=1000, capacity_mg=30_000_000, checked_until=due, usual=True)
        stock.save_scale(code="floor", readability_mg=5000, capacity_mg=150_000_000, checked_until=due, usual=False)
        supplier_called("Make-Believe Gases", "1 Fable Road, Imaginary Falls")
        supplier_called("Pretend Parts & Oils", "9 Fable Road, Imaginary Falls")
        save_party(
            name="Second Life Reclaim (invented)", role="reclaimer", address="40 Fable Road, Imaginary Falls",
            registration="IF-RECLAIM-7",
        )  # fmt: skip

    def first_stock(self) -> None:
        retest = self.today + dt.timedelta(days=700)
        line = stock.Arrival
        stock.open_stock(
            lines=[
                line("refillable", "R-134a", False, "virgin", 11_300_000, 1, "Store", "CYL-0001", CYLINDER_TARE,
                     13_500_000, retest),
                line("refillable", "R-1234yf", False, "virgin", 9_800_000, 1, "Store", "CYL-0002", CYLINDER_TARE,
                     12_000_000, retest),
                line("recovery", "R-134a", False, "recovered", 0, 1, "Bay", "REC-0001", 6_100_000, 12_000_000, retest),
                line("recovery", "R-1234yf", False, "recovered", 0, 1, "Bay", "REC-0002", 6_100_000, 12_000_000,
                     retest),
                line("machine", "R-134a", False, "recycled", 3_200_000, 1, "Bay", "MAC-0001", 9_000_000, 15_000_000),
                line("disposable", "R-404A", False, "virgin", 10_900_000, 1, "Van", "DSP-0001", 3_000_000),
                line("oil", "POE 68", True, "", 500_000, 1, "Store", "OIL-0001"),
            ],
            day=self.day(0), by="otto", key=self.key(), note="Counted before the ledger began",
        )  # fmt: skip
        self.delivery(0, "MB-1001", "R-134a", 12)
        stock.receive(
            lines=[line("oil", "PAG 46", True, "", 250_000, 4, "Store", price_minor=1450),
                   line("oil", "PAG 100", True, "", 250_000, 2, "Store", price_minor=1450)],
            supplier="Pretend Parts & Oils", document="PP-77", day=self.day(1), by="otto", key=self.key(),
        )  # fmt: skip

    def delivery(self, day: int, document: str, substance: str, count: int) -> None:
        stock.receive(
            lines=[
                stock.Arrival(
                    "can", substance, False, "virgin", 340_000 if substance == "R-134a" else 227_000, count, "Store",
                    tare_mg=CAN_TARE, price_minor=1180 if substance == "R-134a" else 5400,
                )
            ],
            supplier="Make-Believe Gases", document=document, day=self.day(day), by="otto", key=self.key(),
        )  # fmt: skip

    def units(self) -> None:
        self.vehicles: list[Unit] = []
        for number in range(24):
            make, model, year, gas = VEHICLES[number % len(VEHICLES)]
            least, most = LIQUIDS[gas]
            self.vehicles.append(
                add_unit(
                    by=self.crew[0], customer=CUSTOMERS[number % len(CUSTOMERS)], plate=f"NOT-{100 + number}",
                    make=make, model=model, year=year, refrigerant=gas, charge_min_mg=least, charge_max_mg=most,
                    oil="PAG 46" if gas == "R-134a" else "PAG 100", label_confirmed=True,
                )
            )  # fmt: skip
        self.truck = add_unit(
            by=self.crew[2], customer="Kestrel Couriers", name="Cold box of van 3", kind="transport", plate="NOT-900",
            refrigerant="R-404A", charge_min_mg=1_900_000, charge_max_mg=2_100_000, oil="POE 68",
        )  # fmt: skip

    # -- a quarter of work -----------------------------------------------------------------------

    def quarter(self) -> None:
        for number in range(58):
            if number == 4:
                self.delivery(9, "MB-1014", "R-1234yf", 10)
                stock.move(codes=["CAN-0011", "CAN-0012"], location="Van", day=self.day(10), by="otto", key=self.key())
            if number == 20:
                self.delivery(36, "MB-1040", "R-134a", 12)
            if number == 34:
                self.delivery(62, "MB-1066", "R-1234yf", 12)
            if number == 38:
                self.half_way()
            self.visit(number)

    def visit(self, number: int) -> None:
        """A vehicle comes, is emptied, mended, evacuated and charged."""
        day = min(2 + number * 2, DAYS - 2)
        unit = self.vehicles[(number * 7) % len(self.vehicles)]
        person = self.crew[number % 3]
        job = jobs.start_job(unit=unit, technician=person, by=person, day=self.day(day), key=uuid.UUID(self.key()))
        opened = number % 3 == 0
        self.describe(job, person, opened, day)
        gas, least = unit.refrigerant, unit.charge_min_mg
        left = self.random.randrange(40, 320) * 1000
        self.recover(job, person, gas, left)
        if opened:
            self.oil(job, person, unit)
        aim = least + self.random.randrange(5, 36) * 1000
        if number == 26:
            aim = unit.charge_max_mg + 14_000
        self.charge(job, person, gas, aim)
        if number % 9 == 4:
            self.enter(job, person, "line-loss", quantity=self.random.randrange(1, 4) * 1000)
        jobs.sign_job(job.pk, by=person, reasons=self.reasons(job))
        if number == 54:
            self.to_correct = (job, person)

    def describe(self, job: Job, person: Person, opened: bool, day: int) -> None:
        at = dt.datetime.combine(self.day(day), dt.time(9, 10), tzinfo=dt.UTC)
        later = dt.timedelta(minutes=1)
        jobs.change_job(
            job.pk, by=person, identified_as=job.substance, identified_how="identifier", purity_percent=99.0,
            complaint=self.random.choice(["Blows warm at idle", "Weak since last summer", "Yearly service"]),
            system_opened=opened, repairs="Condenser and receiver-drier replaced" if opened else "",
            leak_method="electronic detector", leak_result="found and repaired" if opened else "none found",
            evacuation_started=at, evacuation_ended=at + 34 * later, vacuum_said="420 micron", vacuum_pa=55.995,
            hold_started=at + 35 * later, hold_ended=at + 47 * later, hold_start_said="430 micron",
            hold_start_pa=57.329, hold_end_said="560 micron", hold_end_pa=74.661, ambient_c=24.5, vent_c=6.8,
            humidity_percent=48.0, low_side_said="2.1 bar", high_side_said="13.2 bar",
        )  # fmt: skip

    def reasons(self, job: Job) -> dict[str, str]:
        return {
            found.key: {
                "over": "Longer hoses after the repair, agreed with the customer",
                "under": "The customer wanted only what was lost",
            }.get(found.key, "Checked; the readings are right")
            for found in jobs.standing_objections(job)
            if not found.refuses
        }

    def enter(self, job: Job, person: Person, action: str, container: str = "", **amounts: object) -> None:
        jobs.enter_line(job.pk, by=person, key=uuid.UUID(self.key()), action=action, container=container, **amounts)

    def gross(self, code: str) -> int:
        """What the scale shows: the book, and now and then a gram beside it."""
        container = Container.objects.select_related("account").get(code=code)
        return (container.tare_mg + container.content + self.random.choice([0, 0, 0, 1000, -1000])) // 1000 * 1000

    def recover(self, job: Job, person: Person, gas: str, left: int) -> None:
        code = "REC-0001" if gas == "R-134a" else "REC-0002"
        before = max(self.gross(code), 6_100_000)
        self.enter(job, person, "recover", code, before=before, after=before + left, scale="floor")

    def oil(self, job: Job, person: Person, unit: Unit) -> None:
        drained = self.random.randrange(8, 25) * 1000
        self.enter(job, person, "oil-drain", quantity=drained)
        bottle = (
            Container.objects.filter(substance__code=unit.oil, account__balance__gt=60_000).order_by("code").first()
        )
        if bottle:
            self.enter(job, person, "oil-add", bottle.code, quantity=drained + 30_000)

    def charge(self, job: Job, person: Person, gas: str, aim: int) -> None:
        """From opened cans first, then new ones; the cylinder where the cans run out."""
        cans = Container.objects.filter(
            kind="can", substance__code=gas, account__balance__gt=6000, retired_on=None, location__name="Store"
        )
        for can in [
            *cans.filter(opened_on__isnull=False).order_by("code"),
            *cans.filter(opened_on=None).order_by("code"),
        ]:
            if aim <= 0:
                return
            before = self.gross(can.code)
            taken = min(aim, max(before - can.tare_mg - 4000, 0)) // 1000 * 1000
            if taken:
                self.enter(job, person, "charge", can.code, before=before, after=before - taken)
                aim -= taken
        if aim > 0:
            code = "CYL-0001" if gas == "R-134a" else "CYL-0002"
            before = self.gross(code)
            self.enter(job, person, "charge", code, before=before, after=before - aim, scale="floor")

    def misread(self, job: Job, person: Person) -> None:
        """A weight was read wrongly and is corrected: the next revision."""
        new = jobs.correct_job(job.pk, by=person, note="The last can was read 10 g too high")
        line = new.lines.filter(action="charge").order_by("-position").first()
        jobs.enter_line(
            new.pk, by=person, key=line.key, action="charge", container=line.container.code, before=line.before,
            after=line.after + 10_000, scale=line.scale.code if line.scale else "",
        )  # fmt: skip
        jobs.sign_job(new.pk, by=person, reasons=self.reasons(new))

    def half_way(self) -> None:
        """The office counts, finds a can that lost gas on the shelf, recycles, refills the machine, sends away."""
        day = self.day(77)
        leaked = (
            Container.objects.filter(kind="can", opened_on=None, substance__code="R-134a").order_by("-code").first()
        )
        cylinder = Container.objects.select_related("account").get(code="CYL-0001")
        stock.count(
            readings={leaked.code: CAN_TARE + 340_000 - 14_000,
                      "CYL-0001": cylinder.tare_mg + cylinder.content - 265_000},
            day=day, by="otto", key=self.key(), note="One can hissed; a charge from the cylinder was not written down",
        )  # fmt: skip
        bottle = Container.objects.select_related("account").get(code="OIL-0001")
        stock.count(readings={"OIL-0001": bottle.content - 6_000}, day=day, by="otto", key=self.key())
        stock.decant(source="CYL-0001", into="MAC-0001", quantity=1_500_000, day=day, by="tara", key=self.key())
        stock.regrade(
            code="REC-0002", grade="recycled", day=day, by="tara", key=self.key(), note="Recycled by MAC-0001's twin"
        )
        stock.ship(
            parcels={"REC-0001": None}, purpose="reclaim", party="Second Life Reclaim (invented)", document="SL-301",
            day=day, by="otto", key=self.key(),
        )  # fmt: skip
        empties = Container.objects.filter(
            kind="can", account__balance__lt=6000, opened_on__isnull=False, retired_on=None
        )
        codes = list(empties.order_by("code").values_list("code", flat=True)[:12])
        if codes:
            stock.retire(codes=codes, residue_into="", day=day, by="otto", key=self.key())

    def loose_ends(self) -> None:
        """A job that is corrected today, the cold box on the van, and a job that is under way."""
        self.misread(*self.to_correct)
        person = self.crew[2]
        job = jobs.start_job(
            unit=self.truck, technician=person, by=person, day=self.day(DAYS - 6), key=uuid.UUID(self.key())
        )
        before = self.gross("DSP-0001")
        jobs.change_job(job.pk, by=person, leak_result="none found", leak_method="soap and detector")
        self.enter(job, person, "charge", "DSP-0001", before=before, after=before - 1_950_000, scale="floor")
        jobs.sign_job(job.pk, by=person, reasons=self.reasons(job))
        person = self.crew[0]
        job = jobs.start_job(
            unit=self.vehicles[2], technician=person, by=person, day=self.today, key=uuid.UUID(self.key())
        )
        self.recover(job, person, "R-134a", 120_000)
        can = (
            Container.objects.filter(
                kind="can", substance__code="R-134a", opened_on=None, retired_on=None, account__balance=340_000
            )
            .order_by("code")
            .first()
        )
        if can:
            self.enter(job, person, "charge", can.code, before=CAN_TARE + 340_000, after=CAN_TARE + 4_000)


def anything_there() -> bool:
    """Whether the database holds anything that is not the demonstration."""
    return any(model.objects.exists() for model in (Shop, Person, Container, Scale, Job))


def demonstration_there() -> bool:
    return Shop.objects.filter(invented=True).exists()
