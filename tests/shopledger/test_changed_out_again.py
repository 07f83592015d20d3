"""What an entry said and what it came to differ once an earlier one is entered late: what is exported then loads as it
stands, and says the same."""

import datetime as dt
import uuid

import pytest

from inventory.containers.actions import regrade, take_back
from inventory.containers.models import Container
from inventory.kept.actions import keep_for
from inventory.ledger.models import Voucher
from inventory.parties.actions import supplier_called
from inventory.releases.actions import release
from inventory.releases.queries import released_in
from inventory.shipping.actions import ship
from inventory.shop.clock import today
from jobs.units.actions import add_customer
from shopledger.logbook.actions import LogRefused, load
from tests.shopledger.test_all_out_again import differing, there_and_back
from tests.stock import came, delivery

pytestmark = pytest.mark.django_db
KG = 1_000_000
CHANGED = {"containers": {"in", "out"}, "variances": {"date"}, "shipments": {"date"}, "apart": {"in", "out"}}


def ago(days):
    return today() - dt.timedelta(days)


def head(days):
    return {"day": ago(days), "by": "tess", "key": str(uuid.uuid4()), "agreed": "second"}


def same_again(make, folder, but=()):
    """but: reports that tell what was taken back."""
    before, after, _, _ = there_and_back(make, folder, corrected=CHANGED)
    assert [one for one in differing(before, after) if one[0] not in but] == []


@pytest.fixture
def cylinder(tmp_path):
    """Makes a shop, which is gone when it is loaded anew, and a cylinder that came there nine days ago with 5 kg."""

    def made(net=5 * KG):
        (tmp_path / "log").mkdir()
        (tmp_path / "log" / "shop.csv").write_text("name,readability\nOdd,1 g\n")
        load(tmp_path / "log")
        delivery(came("CYL", net=net, tare_mg=6 * KG, grade="recovered"), day=ago(9))

    return made


def test_a_release_of_all_that_was_nothing_by_then(tmp_path, cylinder) -> None:
    def make():
        cylinder()
        release(code="CYL", cause="hose", note="it burst", **head(3))
        ship(parcels={"CYL": None}, purpose="return", party=supplier_called("Acme"), **head(5))
        assert [one.quantity for one in released_in(ago(9), today())] == [0]

    same_again(make, tmp_path / "out")
    assert Voucher.objects.standing().filter(kind="release").count() == 1
    assert [(one.cause, one.quantity) for one in released_in(ago(9), today())] == [("hose", 0)]


def test_a_log_cannot_say_that_nothing_of_something_got_out(tmp_path, db) -> None:
    log = tmp_path / "more"
    log.mkdir()
    (log / "shop.csv").write_text("name,readability\nOdd,1 g\n")
    head = "date,container,kind,substance,net,tare,location\n"
    (log / "opening.csv").write_text(f"{head}2026-01-01,CYL,refillable,R-134a,5 kg,6 kg,Store\n")
    (log / "losses.csv").write_text("date,container,quantity,cause\n2026-01-02,CYL,0 g,burst hose\n")
    with pytest.raises(LogRefused) as refused:
        load(log)
    assert refused.value.faults == ["losses.csv:2: quantity: What got out is more than nothing; check what was typed."]


def test_what_it_lost_comes_back_with_what_emptied_it(tmp_path, cylinder) -> None:
    """Loaded as all that was in it: an entry that is taken back there fills it again."""

    def make():
        cylinder()
        release(code="CYL", cause="hose", note="it burst", **head(3))
        ship(parcels={"CYL": None}, purpose="return", party=supplier_called("Acme"), **head(5))

    same_again(make, tmp_path / "out")
    take_back(Voucher.objects.get(kind="shipment").number, by="tess", note="it stayed")
    assert [one.quantity for one in released_in(ago(9), today())] == [5 * KG]


def test_a_grade_that_it_had_already_by_then(tmp_path, cylinder) -> None:
    def make():
        cylinder()
        regrade(code="CYL", grade="recycled", **head(6))
        middle = regrade(code="CYL", grade="reclaimed", **head(5))
        regrade(code="CYL", grade="recycled", **head(4))
        take_back(middle, by="tess", note="it was not so")

    same_again(make, tmp_path / "out", but=[("usage", "grade")])
    assert Container.objects.get().grade == "recycled"
    assert Voucher.objects.standing().filter(kind="regrade").count() == 2


def test_a_customer_for_whom_it_was_kept_already_by_then(tmp_path, cylinder) -> None:
    def make():
        cylinder(net=0)
        owner = add_customer(by=None, name="Ada Example").code
        keep_for(code="CYL", owner=owner, **head(6))
        middle = keep_for(code="CYL", owner="", **head(5))
        keep_for(code="CYL", owner=owner, **head(4))
        take_back(middle, by="tess", note="it was not so")

    same_again(make, tmp_path / "out")
    assert Container.objects.get().kept_for
    assert Voucher.objects.standing().filter(kind="setting-apart").count() == 2
