"""A shop on which all that is odd was done, in a random order, is the same after it was exported and loaded."""

import datetime as dt
import random
import uuid

import pytest

from inventory.containers.actions import correct_tare, count, decant, move, regrade, retire, take_back
from inventory.containers.models import Container
from inventory.containers.write_off import NeedsYes
from inventory.counting import actions as counting
from inventory.kept.actions import Brought, Identified, find, give_back, identify, keep_for, take_in
from inventory.ledger.models import BESIDE_STOCK, Voucher
from inventory.parties.actions import supplier_called
from inventory.releases.actions import release
from inventory.shipping.actions import ship
from inventory.shop.clock import today
from inventory.text.refusal import Refused
from jobs.units.models import Customer
from shopledger.logbook.actions import load
from shopledger.sealing.actions import seal_period
from tests.shopledger.test_all_out_again import differing, there_and_back
from tests.shopledger.test_load_log_oracle import Writer
from tests.stock import at, came, delivery

pytestmark = pytest.mark.django_db
G = 1000
# What tells of a correction, or that a day was sealed: a log says when it was, and not when it was put right.
TELLING = {
    "containers": {"in", "out"},
    "apart": {"in", "out"},
    "variances": {"date"},
    "shipments": {"date"},
    "purchases": {"date"},
}


class Hands:
    """Does one odd thing after another; what is refused is left."""

    def __init__(self, seed):
        self.random, self.done, self.made = random.Random(seed), [], 0

    def head(self, late=True):
        last = today() - dt.timedelta(1)
        day = last - dt.timedelta(self.random.randrange(40 if late and self.random.random() < 0.4 else 5))
        said = {"day": day, "by": "tess", "key": str(uuid.uuid4()), "agreed": "second"}
        if self.random.random() < 0.5:
            said["at"] = at(day, self.random.randrange(6, 18), self.random.randrange(60))
        return said

    def held(self, **more):
        rows = list(
            Container.objects.filter(retired_on=None, void=False, **more).select_related("account", "substance")
        )
        return self.random.choice(rows) if rows else None

    def gas(self, **more):
        return self.held(substance__is_oil=False, **more)

    def step(self):
        name = self.random.choice(NAMES)
        try:
            if getattr(self, name)() is not False:
                self.done.append(name)
        except (Refused, NeedsYes):
            pass

    def weigh(self):
        one = self.gas(tare_mg__isnull=False)
        gross = one.tare_mg + max(0, one.content + self.random.choice([0, 1, -1, 3, -40, 60, -300]) * G)
        count(readings={one.code: gross}, **self.head())

    def explained(self):
        one = self.gas(tare_mg__isnull=False)
        number, _ = count(readings={one.code: one.tare_mg + max(0, one.content - 400 * G)}, **self.head(late=False))
        weighing = one.weighings.filter(voucher=number).first()
        if weighing is None or not weighing.difference:
            return False
        counting.explain(weighing_id=weighing.pk, reason="leak", note="by the valve", by="tess")

    def seen(self):
        one = self.gas(location__isnull=False)
        head = self.head(late=False)
        day = head["day"]
        began = counting.start_count(location=one.location, day=day, scale=None, by="tess", key=uuid.uuid4())
        counting.enter(count_id=began.pk, code=one.code, gross=None, by="tess")
        other = self.gas(location=one.location, tare_mg__isnull=False)
        if other is not None and other.pk != one.pk:
            counting.enter(count_id=began.pk, code=other.code, gross=other.tare_mg + other.content, by="tess")
        try:
            counting.post_count(count_id=began.pk, by="tess", agreed="second")
        except (Refused, NeedsYes):
            counting.abandon(count_id=began.pk, by="tess")
            return False

    def comes(self):
        self.made += 1
        code = f"N{self.made}"
        net = self.random.choice([0, 340, 5000]) * G
        line = came(
            code,
            net=net,
            substance=self.random.choice(["R-134a", "R-1234yf"]),
            tare_mg=self.random.choice([None, 9000 * G]),
        )
        delivery(line, day=self.head()["day"], by="tess")

    def moves(self):
        move(codes=[self.gas().code], location=self.random.choice(["Van", "Store", "Yard"]), **self.head())

    def decants(self):
        one, other = self.gas(), self.gas(kind__in=["refillable", "recovery", "machine"])
        amount = one.content // self.random.choice([2, 3, 7]) // G * G
        decant(source=one.code, into=other.code, quantity=amount, **self.head())

    def regrades(self):
        regrade(
            code=self.gas().code,
            grade=self.random.choice(["recycled", "recovered", "reclaimed", "virgin"]),
            **self.head(),
        )

    def releases(self):
        one = self.gas()
        amount = one.content // self.random.choice([2, 3, 5]) // G * G
        cause = self.random.choice(["hose", "valve", "fall", "fire", "other"])
        release(code=one.code, cause=cause, quantity=amount, note="what was seen", **self.head())

    def weighed_release(self):
        one = self.gas(tare_mg__isnull=False)
        before, after = one.tare_mg + one.content + 2 * G, one.tare_mg + one.content // 2
        release(code=one.code, cause="hose", before=before, after=after, **self.head())

    def ships(self):
        one = self.gas()
        goes = self.random.random() < 0.4
        amount = None if goes or self.random.random() < 0.5 else one.content // 4
        ship(
            parcels={one.code: amount},
            purpose=self.random.choice(["return", "reclaim", "destroy"]),
            party=supplier_called("Acme"),
            containers_go=goes,
            document="S",
            **self.head(),
        )

    def retires(self):
        into = self.gas(kind__in=["refillable", "recovery"])
        left = into.code if self.random.random() < 0.4 else ""
        retire(codes=[self.gas().code], residue_into=left, **self.head())

    def tares(self):
        one = self.gas(tare_mg__isnull=False)
        correct_tare(
            code=one.code, tare_mg=one.tare_mg + self.random.choice([10, -20]) * G, note="weighed empty", **self.head()
        )

    def customers(self):
        self.made += 1
        brought = Brought("refillable", "R-134a", "recovered", 8000 * G, 11000 * G, "Store", f"B{self.made}")
        take_in(owner=self.customer, brought=brought, **self.head(late=False))

    def sets_apart(self):
        one = self.gas(kind__in=["refillable", "recovery"], account__balance=0)
        if one is None:
            return False
        keep_for(code=one.code, owner=self.random.choice([self.customer, ""]), **self.head(late=False))

    def gives_back(self):
        one = self.gas(kept_for=self.customer)
        if one is None:
            return False
        give_back(code=one.code, stays=self.random.random() < 0.3, **self.head(late=False))

    def finds(self):
        self.made += 1
        _, code = find(
            kind="refillable",
            gross_mg=12_000 * G,
            location="Yard",
            found_where="behind the shed",
            code=f"F{self.made}",
            **self.head(),
        )
        if self.random.random() < 0.7:
            said = Identified("R-134a", 8000 * G, "an identifier", purity=self.random.choice(["", "99.8"]))
            identify(code=code, said=said, **{**self.head(late=False), "day": today() - dt.timedelta(0), "at": None})

    def takes_back(self):
        found = Voucher.objects.standing().exclude(kind__in={"job", "reversal", "restatement"} | BESIDE_STOCK)
        take_back(self.random.choice(list(found.values_list("number", flat=True))), by="tess", note="it was not so")

    @property
    def customer(self):
        return Customer.objects.order_by("id").first().code


NAMES = [
    name
    for name, one in vars(Hands).items()
    if callable(one) and name not in {"__init__", "head", "held", "gas", "step"}
]


@pytest.mark.parametrize("seed", range(3))
def test_all_that_is_odd(tmp_path, seed) -> None:
    hands = Hands(seed)

    def make():
        writer = Writer(seed + 900)
        writer.stock()
        for _ in range(20):
            writer.event()
        (tmp_path / "log").mkdir()
        writer.write(tmp_path / "log")
        load(tmp_path / "log")
        for turn in range(120):
            hands.step()
            if turn == 70:
                seal_period(today() - dt.timedelta(12), "tess")

    before, after, _, _ = there_and_back(make, tmp_path / "out", corrected=TELLING)
    assert len(set(hands.done)) >= 12
    assert differing(before, after) == []
