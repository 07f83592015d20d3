"""Mistakes put right in an order that once lost grams: the end is what it would be had only the truth been entered.

Each test tells a story twice: as it happened, rolled back again once its end is written down; then with a mistake,
which is corrected. Both ends must agree between any two accounts, in each container, and in the proof.
"""

import uuid
from collections import defaultdict

import pytest
from django.db import transaction

from inventory.containers.actions import count, decant, move, retire
from inventory.containers.models import Container
from inventory.ledger.models import Movement
from inventory.ledger.verify import verify
from inventory.receiving.actions import Arrival, open_stock
from inventory.shop.clock import today
from jobs.drafts.actions import enter_line, start_job
from jobs.signing.actions import correct_job, sign_job
from tests.jobs.test_jobs import bay  # noqa: F401 (a fixture)

pytestmark = pytest.mark.django_db
G = 1000


def once():
    return {"day": today(), "by": "o", "key": str(uuid.uuid4())}


@pytest.fixture
def told(bay, technician):  # noqa: F811
    return Story(bay, technician)


class Story:
    """Acts of a shop with a service machine M and cylinders that came with 500 g each."""

    def __init__(self, unit, technician):
        self.unit, self.technician = unit, technician

    def arrive(self, *codes, tare=100 * G):
        lines = [Arrival("refillable", "R-134a", False, "virgin", 500 * G, 1, "Store", c, tare_mg=tare) for c in codes]
        lines.append(Arrival("machine", "R-134a", False, "recycled", 0, 1, "Store", "M", tare_mg=9_000 * G))
        open_stock(lines=lines, **once())

    def charge(self, code, before, after):
        """A job that charges from a container, gross weights in g."""
        started = start_job(unit=self.unit, technician=self.technician, by=self.technician, key=uuid.uuid4())
        enter_line(started.pk, key=uuid.uuid4(), **self._line(code, before, after))
        return self._sign(started)

    def correct(self, signed, code, before, after):
        new = correct_job(signed.pk, by=self.technician, note="it was otherwise")
        enter_line(new.pk, key=new.lines.get().key, **self._line(code, before, after))
        return self._sign(new)

    def _line(self, code, before, after):
        return {"by": self.technician, "action": "charge", "container": code, "before": before * G, "after": after * G}

    def _sign(self, draft):
        reasons = dict.fromkeys(("under", "grade-M", *(f"used-C{n}" for n in range(5))), "a test")
        return sign_job(draft.pk, by=self.technician, reasons=reasons)

    def weigh(self, code, gross):
        count(readings={code: gross * G}, **once())

    def decant(self, source, into, **weights):
        decant(source=source, into=into, **{name: weight * G for name, weight in weights.items()}, **once())

    def truly(self, *acts):
        """What the end is when only the truth is entered."""
        with transaction.atomic():
            for act in acts:
                act()
            end = self.end()
            transaction.set_rollback(True)
        return end

    def end(self):
        """Net g between any two accounts, and what each container is: content, tare, place, whether it is retired."""
        assert verify().faults == []
        flows = defaultdict(int)
        for movement in Movement.objects.select_related("source", "target"):
            ends, quantity = (movement.source.key, movement.target.key), movement.quantity
            flows[ends[::-1] if movement.reversal else ends] += -quantity if movement.reversal else quantity
        rows = Container.objects.select_related("account", "location").filter(void=False)
        states = {row.code: (row.content, row.tare_mg, str(row.location), row.retired_on is not None) for row in rows}
        return {ends: quantity for ends, quantity in flows.items() if quantity}, states


@pytest.mark.parametrize("tare", [100 * G, None], ids=["tare known", "tare taken at the first weighing"])
@pytest.mark.parametrize("order", ["earliest first", "latest first"])
def test_two_jobs_that_swapped_cylinders(told, tare, order):
    arrive = lambda: told.arrive("C1", "C2", tare=tare)  # noqa: E731
    counts = lambda: (told.weigh("C1", 550), told.weigh("C2", 500))  # noqa: E731
    true = told.truly(arrive, lambda: told.charge("C2", 600, 500), lambda: told.charge("C1", 600, 550), counts)
    arrive()
    first, second = told.charge("C1", 600, 500), told.charge("C2", 600, 550)
    counts()
    steps = [lambda: told.correct(first, "C2", 600, 500), lambda: told.correct(second, "C1", 600, 550)]
    for step in steps if order == "earliest first" else reversed(steps):
        step()
    assert told.end() == true


def test_a_job_in_a_decant_s_way(told):
    arrive = lambda: told.arrive("C1", "C2")  # noqa: E731
    pass_on = lambda: told.decant("C2", "C1", before=600, after=550)  # noqa: E731
    true = told.truly(arrive, lambda: told.charge("C1", 600, 500), pass_on, lambda: told.charge("C1", 550, 500))
    arrive()
    first = told.charge("C2", 500, 400)
    pass_on()
    second = told.charge("C2", 400, 390)
    told.correct(first, "C1", 600, 500)
    told.correct(second, "C1", 550, 500)
    assert told.end() == true


def test_a_correction_after_a_count(told):
    arrive = lambda: told.arrive("C1", "C2")  # noqa: E731
    weigh = lambda: told.weigh("C2", 450)  # noqa: E731
    true = told.truly(arrive, lambda: told.charge("C2", 550, 500), lambda: told.charge("C2", 400, 300), weigh)
    arrive()
    first, second = told.charge("C2", 550, 450), told.charge("C1", 600, 550)
    weigh()
    told.correct(first, "C2", 550, 500)
    told.correct(second, "C2", 400, 300)
    assert told.end() == true


def test_a_correction_after_a_heel_loss(told):
    arrive = lambda: told.arrive("C1", "C2")  # noqa: E731
    gone = lambda: retire(codes=["C1"], residue_into="", **once())  # noqa: E731
    true = told.truly(arrive, lambda: told.charge("C2", 550, 500), lambda: told.charge("C2", 400, 300), gone)
    arrive()
    first, second = told.charge("C2", 550, 450), told.charge("C1", 600, 550)
    gone()
    told.correct(first, "C2", 550, 500)
    told.correct(second, "C2", 400, 300)
    assert told.end() == true


def test_a_correction_after_what_was_left_went_into_another(told):
    arrive = lambda: told.arrive("C1", "C2")  # noqa: E731
    gone = lambda: retire(codes=["C1"], residue_into="C2", **once())  # noqa: E731
    true = told.truly(arrive, lambda: told.charge("C1", 600, 150), gone, lambda: told.charge("C2", 650, 600))
    arrive()
    first = told.charge("C1", 600, 180)
    gone()
    told.charge("C2", 650, 600)
    told.correct(first, "C1", 600, 150)
    assert told.end() == true


def test_a_place_moved_in_between(told):
    arrive = lambda: told.arrive("C1", "C2")  # noqa: E731
    away = lambda: move(codes=["C1"], location="Van", **once())  # noqa: E731
    true = told.truly(arrive, lambda: told.charge("C1", 600, 550), away, lambda: told.weigh("C1", 545))
    arrive()
    first = told.charge("C1", 600, 500)
    away()
    told.weigh("C1", 545)
    told.correct(told.correct(first, "C2", 600, 550), "C1", 600, 550)
    assert told.end() == true
