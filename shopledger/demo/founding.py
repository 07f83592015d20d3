"""How the demonstration shop begins: its people, places and scales, its first stock, the units it looks after."""

import datetime as dt

from inventory.containers import actions as stock
from inventory.ledger.actions import writing
from inventory.parties.actions import save_party, supplier_called
from inventory.places.actions import give_place
from inventory.receiving.actions import Arrival, open_stock, receive
from inventory.scales import actions as scales
from inventory.shop.models import Shop
from jobs.people.actions import add_certificate, add_person
from jobs.units.actions import add_unit
from jobs.units.models import Unit, UnitKind
from shopledger.demo.calendar import Calendar
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
    Model,
    invented_plate,
    invented_vin,
)
from shopledger.demo.grocer import grocer
from shopledger.demo.office import deliver
from shopledger.demo.stock import ML, STEP, G

VEHICLES = 24
VAN = "Van 2"  # one of the technicians drives it
ALTITUDE_M = 320

TESTED_AT = 4_800  # kPa, of the cylinders


def _cylinders(retest: dt.date) -> list[Arrival]:
    """Kind, refrigerant, grade, g in each, how many, place, first code, g of tare and of water capacity."""
    rows = (
        ("refillable", "R-134a", "virgin", 11_300, 1, "Store", "CYL-0001", 5_900, 13_500),
        ("refillable", "R-1234yf", "virgin", 9_800, 1, "Store", "CYL-0002", 5_900, 12_000),
        ("refillable", "R-134a", "virgin", 4_200, 1, VAN, "CYL-0011", 5_900, 13_500),
        ("refillable", "R-1234yf", "virgin", 3_150, 1, VAN, "CYL-0012", 5_900, 12_000),
        ("recovery", "R-134a", "recovered", 0, 1, "Bay", "REC-0001", 6_100, 12_000),
        ("recovery", "R-1234yf", "recovered", 0, 2, "Bay", "REC-0002", 6_100, 12_000),
    )
    return [
        Arrival(
            kind,
            gas,
            False,
            grade,
            net * G,
            count,
            place,
            code,
            tare * G,
            water * G,
            retest,
            test_pressure_kpa=TESTED_AT,
        )
        for kind, gas, grade, net, count, place, code, tare, water in rows
    ]


class Founding:
    """crew: the technicians. vehicles: each with its model. truck: the unit with a cold box."""

    def __init__(self, calendar: Calendar):
        self.calendar = calendar

    def things(self) -> None:
        """What people find there: places, stock, units."""
        self.places()
        self.first_stock()
        self.units()
        grocer(self.calendar, self.crew[2])

    def people(self) -> None:
        with writing():
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
                issued=self.calendar.start - dt.timedelta(days=400),
                expires=self.calendar.today + dt.timedelta(days=30) if username == "timo" else None,
            )
            self.crew.append(person)

    def places(self) -> None:
        for name in ("Store", "Bay", "Van", VAN):
            stock.add_location(name=name)
        give_place(name=VAN, keeper=self.crew[1].username)
        due = self.calendar.today + dt.timedelta(days=90)
        for code, capacity_kg in (("bench", 30), ("floor", 150)):
            plate = scales.Plate(STEP[code], capacity_kg * 1_000 * G)
            scales.save_scale(code=code, plate=plate, checked_until=due, usual=code == "bench")
        supplier_called(GASES, f"1 Fable Road, {TOWN}")
        supplier_called(PARTS, f"9 Fable Road, {TOWN}")
        save_party(name=RECLAIMER, role="reclaimer", address=f"40 Fable Road, {TOWN}", registration="IF-RECLAIM-7")

    def first_stock(self) -> None:
        retest, line = self.calendar.today + dt.timedelta(days=700), Arrival
        open_stock(
            lines=[
                *_cylinders(retest),
                line("machine", "R-134a", False, "recycled", 3_200 * G, 1, "Bay", "MAC-0001", 9_000 * G, 15_000 * G),
                line("disposable", "R-404A", False, "virgin", 10_900 * G, 1, "Van", "DSP-0001", 3_000 * G),
                line("oil", "POE 68", True, "", 500 * ML, 2, "Store", "OIL-0001"),
            ],
            day=self.calendar.start,
            by="otto",
            key=self.calendar.key(),
            note="Counted before the ledger began",
        )
        deliver(self.calendar, -0.5, "MB-1001", "R-134a", 12)
        receive(
            lines=[
                line("oil", "PAG 46", True, "", 250 * ML, 6, "Store", price_minor=1450),
                line("oil", "PAG 100", True, "", 250 * ML, 4, "Store", price_minor=1450),
            ],
            supplier=supplier_called(PARTS),
            document="PP-77",
            day=self.calendar.day(-0.5),
            by="otto",
            key=self.calendar.key(),
        )

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
