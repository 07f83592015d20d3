"""Correcting an earlier entry moves the blame, not the content: the scale had the last word already."""

import datetime as dt

import pytest
from django.db import connection

from inventory.containers.amending import Amendment, reverse_voucher
from inventory.containers.holdings import ContainerState
from inventory.containers.models import Container, Scale
from inventory.containers.recorder import recording
from inventory.ledger import triggers
from inventory.ledger.accounts import AccountClass, Spot
from inventory.ledger.models import Movement, Voucher
from inventory.ledger.verify import verify
from inventory.text.refusal import Refused

pytestmark = pytest.mark.django_db
DAY = dt.date(2026, 3, 1)


@pytest.fixture(params=[100_000, None], ids=["tare known", "tare taken at the first weighing"])
def cylinders(request):
    """C1 and C2, 500 g each, received on DAY; a scale of 1 g."""
    Scale.objects.create(code="S1", readability_mg=1000, usual=True)
    with recording() as recorder:
        recorder.holdings.mark()
        for code in ("C1", "C2"):
            held = ContainerState(code, "refillable", "R-134a", location="Store", tare=request.param)
            recorder.holdings.add(held, 500_000, AccountClass.SUPPLIER, "Acme")
        recorder.record(kind="receipt", day=DAY, recorded_by="office", arrivals={"C1": {}, "C2": {}})


def charge(recorder, code, before, after, unit):
    def run(book):
        taken = book.take(code, before=before, after=after, scale=recorder.scale("S1"), substance="R-134a")
        book.give(code, Spot("R-134a", AccountClass.UNIT, unit), taken)

    return run


def post(code, before, after, unit, day):
    with recording() as recorder:
        recorder.load([code])
        recorder.holdings.mark()
        charge(recorder, code, before, after, unit)(recorder.holdings)
        return recorder.record(kind="job", day=day, recorded_by="tech")


def correct(number, place, code, before, after, key):
    day = DAY + dt.timedelta(9)
    with recording() as recorder:
        amendment = Amendment(recorder, number, place)
        amendment.take_back(day=day, by="tech", note="misread", replaced=True)
        new = amendment.put_in_its_place(
            charge(recorder, code, before, after, "A"), [code], kind="job", day=day, by="tech", done_by="tech",
            document="", note="", detail={}, key=key,
        )  # fmt: skip
        amendment.finish(day)
    return new


def flows():
    """Net mg between classes of account, reversals taken off what they reverse."""
    found = {}
    for movement in Movement.objects.all():
        pair, quantity = (movement.source_class, movement.target_class), movement.quantity
        if movement.reversal:
            pair, quantity = pair[::-1], -quantity
        pair = tuple(AccountClass(cls).name for cls in pair)
        found[pair] = found.get(pair, 0) + quantity
    return {pair: quantity for pair, quantity in found.items() if quantity}


def content(code):
    return Container.objects.select_related("account").get(code=code).content


def test_a_corrected_reading_takes_its_grams_back_from_the_next_difference(cylinders):
    """A wrote 500 g for 450 g, so B found 50 g missing. Corrected, nothing is missing; the content stays."""
    first = post("C1", 600_000, 500_000, "A", DAY + dt.timedelta(1))
    post("C1", 450_000, 400_000, "B", DAY + dt.timedelta(2))
    assert flows()["CONTAINER", "UNEXPLAINED_LOSS"] == 50_000
    last = first
    for revision, after in enumerate((450_000, 460_000, 500_000, 450_000)):
        last = correct(last, first, "C1", 600_000, after, f"revision {revision}")
        assert content("C1") == 300_000
        assert flows()["CONTAINER", "UNIT"] == 650_000 - after
        assert flows().get(("CONTAINER", "UNEXPLAINED_LOSS"), 0) == after - 450_000
        assert verify().faults == []


def test_a_correction_within_tolerance_moves_between_the_classes(cylinders):
    """B found 50 g missing; with A's 451 g only 1 g is left, which weighing explains."""
    first = post("C1", 600_000, 500_000, "A", DAY + dt.timedelta(1))
    post("C1", 450_000, 400_000, "B", DAY + dt.timedelta(2))
    correct(first, first, "C1", 600_000, 451_000, "again")
    assert ("CONTAINER", "UNEXPLAINED_LOSS") not in flows()
    assert flows()["CONTAINER", "WEIGHING_DIFFERENCE"] == 1_000


def test_the_wrong_container_is_made_whole_and_the_right_one_charged(cylinders):
    first = post("C1", 600_000, 500_000, "A", DAY + dt.timedelta(1))
    correct(first, first, "C2", 600_000, 500_000, "again")
    assert (content("C1"), content("C2")) == (500_000, 400_000)
    assert Container.objects.get(code="C1").last_gross is None
    assert Container.objects.get(code="C2").last_gross == 500_000
    assert verify().faults == []


def test_a_container_that_moved_since_gets_its_content_where_it_stands_now(cylinders):
    first = post("C1", 600_000, 500_000, "A", DAY + dt.timedelta(1))
    with recording() as recorder:
        recorder.load(["C1"])
        recorder.holdings.mark()
        recorder.holdings.move("C1", "Van")
        recorder.record(kind="move", day=DAY + dt.timedelta(2), recorded_by="office")
    correct(first, first, "C1", 600_000, 550_000, "again")
    container = Container.objects.select_related("account", "location").get(code="C1")
    assert (container.content, container.location.name, container.account.location) == (450_000, "Van", "Van")
    assert verify().faults == []


def test_what_a_correction_leaves_in_a_retired_container_is_heel_loss(cylinders):
    first = post("C1", 600_000, 110_000, "A", DAY + dt.timedelta(1))
    with recording() as recorder:
        recorder.load(["C1"])
        recorder.holdings.mark()
        assert recorder.holdings.retire("C1") == 10_000
        recorder.record(kind="retirement", day=DAY + dt.timedelta(2), recorded_by="office")
    correct(first, first, "C1", 600_000, 120_000, "again")
    assert (content("C1"), flows()["CONTAINER", "HEEL_LOSS"]) == (0, 20_000)
    assert verify().faults == []


def test_taking_back_what_a_later_weighing_contradicts_blames_that_weighing():
    Scale.objects.create(code="S1", readability_mg=1000, usual=True)
    with recording() as recorder:
        recorder.holdings.mark()
        recorder.holdings.add(ContainerState("C1", "refillable", "R-134a", tare=100_000), 500_000, AccountClass.OPENING)
        recorder.record(kind="opening", day=DAY, recorded_by="office", arrivals={"C1": {}})
        recorder.holdings.mark()
        recorder.holdings.count("C1", 560_000, recorder.scale("S1"))
        count = recorder.record(kind="count", day=DAY, recorded_by="office")
        recorder.holdings.mark()
        recorder.holdings.count("C1", 550_000, recorder.scale("S1"))
        recorder.record(kind="count", day=DAY, recorded_by="office")
    assert flows()["CONTAINER", "UNEXPLAINED_LOSS"] == 50_000
    reverse_voucher(count, day=DAY, by="office", note="wrong cylinder on the scale")
    assert (content("C1"), flows()["CONTAINER", "UNEXPLAINED_LOSS"]) == (450_000, 50_000)
    assert verify().faults == []


def test_a_receipt_that_was_used_since_is_not_taken_back(cylinders):
    post("C1", 600_000, 500_000, "A", DAY + dt.timedelta(1))
    with pytest.raises(Refused, match="recorded something for C1 since"):
        reverse_voucher(1, day=DAY, by="office", note="typed twice")
    assert Voucher.objects.count() == 2


def test_a_code_taken_back_can_be_given_again(cylinders):
    reverse_voucher(1, day=DAY, by="office", note="typed twice")
    assert content("C1") == 0
    with recording() as recorder:
        recorder.load(["C1"])
        recorder.holdings.mark()
        recorder.holdings.add(
            ContainerState("C1", "can", "R-134a", location="Van"), 340_000, AccountClass.SUPPLIER, "Acme"
        )
        recorder.record(kind="receipt", day=DAY, recorded_by="office", arrivals={"C1": {"price_minor": 990}})
    container = Container.objects.select_related("account").get(code="C1")
    assert (container.kind, container.content, container.state) == ("can", 340_000, "sealed")
    assert verify().faults == []


def test_verify_names_a_weighing_that_was_edited(cylinders):
    number = post("C1", 600_000, 500_000, "A", DAY + dt.timedelta(1))
    triggers.drop(connection)
    with connection.cursor() as cursor:
        cursor.execute("UPDATE inventory_weighing SET gross = 599000 WHERE role = 'before'")
    triggers.install(connection)
    proof = verify()
    assert (proof.first_wrong, len(proof.faults)) == (number, 1)


def test_verify_names_a_container_that_was_put_elsewhere(cylinders):
    Container.objects.filter(code="C2").update(grade="reclaimed")
    assert [message for _, message in verify().faults] == [
        "Container C2 stands at another account than its place and grade name."
    ]
