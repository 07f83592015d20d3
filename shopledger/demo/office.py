"""What the office of the demonstration shop does: deliveries, moves, counts, recycling, a load to the reclaimer."""

import datetime as dt

from inventory.containers import actions as stock
from inventory.containers.models import Container
from inventory.containers.queries import OURS, THEIRS_HERE
from inventory.parties.actions import supplier_called
from inventory.parties.models import Party
from inventory.receiving.actions import Arrival, receive
from inventory.shipping import actions as shipping
from shopledger.demo.calendar import Calendar, last_of_its_day
from shopledger.demo.cast import (
    GASES,
    RECLAIMER,
)
from shopledger.demo.stock import CAN_TARE, ML, NET, STEP, VAPOUR, G, gross, sealed

PRICE = {"R-134a": 1180, "R-1234yf": 5400}


def deliver(calendar: Calendar, visit: float, document: str, gas: str, count: int) -> None:
    can = Arrival("can", gas, False, "virgin", NET[gas], count, "Store", tare_mg=CAN_TARE, price_minor=PRICE[gas])
    said = {"document": document, "day": calendar.day(visit), "by": "otto", "key": calendar.key()}
    receive(lines=[can], supplier=supplier_called(GASES), **said)


class Office:
    def __init__(self, calendar: Calendar):
        self.calendar = calendar

    def before_visit(self, number: int) -> None:
        """What the office does before a visit."""
        day = self.calendar.day(number - 0.5)
        if number in {6, 36}:
            deliver(self.calendar, number - 0.5, f"MB-{1010 + number}", "R-1234yf", 12)
        if number in {20, 44}:
            deliver(self.calendar, number - 0.5, f"MB-{1010 + number}", "R-134a", 12)
        if number == 10:
            last_of_its_day(
                stock.move, codes=sealed("R-134a")[-2:], location="Van", day=day, by="otto", key=self.calendar.key()
            )
        if number == 16:
            self.big_cylinder(day)
        if number == 28:
            self.half_way(day)
        if number in {14, 28, 42, 56}:
            self.retire_empties(day)
        if number == 50:
            self.count(day, "Second count of the quarter", {})

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
            supplier=supplier_called(GASES),
            document="MB-1021",
            day=day,
            by="otto",
            key=self.calendar.key(),
        )

    def half_way(self, day: dt.date) -> None:
        """A count that finds a charge that nobody wrote down; recycling, the machine filled, a load to the
        reclaimer."""
        self.count(day, "Count of the store. A charge from CYL-0001 was not written down.", {"CYL-0001": -265 * G})
        before = gross(self.calendar, "CYL-0001")
        last_of_its_day(
            stock.decant,
            source="CYL-0001",
            into="MAC-0001",
            before=before,
            after=before - 1_500 * G,
            scale="floor",
            day=day,
            by="tara",
            key=self.calendar.key(),
        )
        last_of_its_day(
            stock.regrade,
            code="REC-0002",
            grade="recycled",
            day=day,
            by="tara",
            key=self.calendar.key(),
            note="Passed through the recycling machine; the identifier shows 99.7 %",
        )
        last_of_its_day(
            shipping.ship,
            parcels={"REC-0001": None},
            purpose="reclaim",
            party=Party.objects.get(name=RECLAIMER),
            document="SL-301",
            day=day,
            by="otto",
            key=self.calendar.key(),
            note="Its content was taken over; the cylinder came back empty",
        )

    def count(self, day: dt.date, note: str, missing: dict[str, int]) -> None:
        """All that stands in the store: small ones on the bench, cylinders on the floor scale, oil by its volume."""
        here = Container.objects.filter(retired_on=None, void=False, location__name="Store")
        here = here.select_related("account").order_by("code")
        held, theirs = here.filter(OURS), here.filter(THEIRS_HERE)
        small = {c.code: gross(self.calendar, c.code) for c in held if c.kind == "can"}
        # A bottle that was poured from never gives back its last drops.
        small |= {c.code: max(c.content - 3 * ML, 0) for c in held if c.is_oil and c.opened_on}
        large = {
            c.code: gross(self.calendar, c.code) + missing.get(c.code, 0)
            for c in held
            if c.kind in ("refillable", "disposable")
        }
        large |= {c.code: c.tare_mg + c.content - STEP["floor"] for c in theirs}  # a step less, as they are used too
        for readings, scale in ((small, "bench"), (large, "floor")):
            last_of_its_day(
                stock.count, readings=readings, day=day, by="otto", key=self.calendar.key(), scale=scale, note=note
            )

    def retire_empties(self, day: dt.date) -> None:
        empty = Container.objects.filter(
            kind="can", account__balance__lte=VAPOUR + 3 * G, opened_on__isnull=False, retired_on=None
        )
        codes = list(empty.order_by("code").values_list("code", flat=True))
        last_of_its_day(stock.retire, codes=codes, residue_into="", day=day, by="otto", key=self.calendar.key())
