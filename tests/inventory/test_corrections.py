"""Correcting an earlier entry moves the blame, not the content: the scale had the last word already."""

import datetime as dt
import json

import pytest
from django.db import connection

from inventory.containers.actions import move, retire, take_back
from inventory.containers.models import Container, ContainerEntry, Scale, Weighing
from inventory.ledger import triggers
from inventory.ledger.models import Movement, Voucher
from inventory.ledger.verify import verify
from inventory.parties.models import Party
from inventory.shop.clock import today
from inventory.text.refusal import Refused
from tests.kept import made
from tests.stock import came, charge, delivery, flows, weigh

pytestmark = pytest.mark.django_db
DAY = dt.date(2026, 3, 1)


def day(number):
    return DAY + dt.timedelta(number)


@pytest.fixture(params=[100_000, None], ids=["tare known", "tare taken at the first weighing"])
def cylinders(request):
    """C1 and C2, 500 g each, received on DAY; a scale of 1 g."""
    made(Scale, code="S1", readability_mg=1000, usual=True)
    return delivery(*(came(code, net=500_000, tare_mg=request.param) for code in ("C1", "C2")), day=DAY)


def correct(number, code, before, after, **said):
    said = {"day": day(1), "unit": "A", "corrects": number, "why": "misread", **said}
    return charge(code, before, after, **said)


def content(code):
    return Container.objects.select_related("account").get(code=code).content


def test_a_corrected_reading_takes_its_grams_back_from_the_next_difference(cylinders):
    """A wrote 500 g for 450 g, so B found 50 g missing. Corrected, nothing is missing; the content stays."""
    last = charge("C1", 600_000, 500_000, day=day(1), unit="A")
    charge("C1", 450_000, 400_000, day=day(2), unit="B")
    assert flows()["CONTAINER", "UNEXPLAINED_LOSS"] == 50_000
    for after in (450_000, 460_000, 500_000, 450_000):
        last = correct(last, "C1", 600_000, after)
        assert content("C1") == 300_000
        assert flows()["CONTAINER", "UNIT"] == 650_000 - after
        assert flows().get(("CONTAINER", "UNEXPLAINED_LOSS"), 0) == after - 450_000
        assert verify().faults == []


def test_all_of_a_correction_is_dated_the_day_it_is_made(cylinders):
    first = charge("C1", 600_000, 500_000, day=day(1), unit="A")
    charge("C1", 450_000, 400_000, day=day(2), unit="B")
    number = correct(first, "C1", 600_000, 450_000)
    reversal, new, rest = Voucher.objects.filter(number__gte=number - 1).order_by("number")
    assert [one.kind for one in (reversal, new, rest)] == ["reversal", "job", "restatement"]
    assert {one.day for one in (reversal, new, rest)} == {today()}
    assert (reversal.reverses_id, reversal.note, new.first_revision_id) == (first, "misread", first)
    event = json.loads(new.detail)["event"]
    assert (event["on"], event["position"]) == (day(1).isoformat(), [first]), "the act keeps its day and place"
    assert (rest.done_by, json.loads(rest.detail)["because"]) == ("", number)
    assert not ContainerEntry.objects.filter(voucher=first).exists()


def test_a_weighing_that_now_says_something_else_is_kept_beside_the_first(cylinders):
    first = charge("C1", 600_000, 500_000, day=day(1), unit="A")
    charge("C1", 450_000, 400_000, day=day(2), unit="B")
    correct(first, "C1", 600_000, 450_000)
    row = Weighing.objects.get(restates__isnull=False, role="before")
    assert (row.restates.difference, row.difference, row.gross) == (-50_000, 0, 450_000)
    assert row.position == row.restates.position and row.day == today()


def test_a_correction_within_tolerance_moves_between_the_classes(cylinders):
    """B found 50 g missing; with A's 451 g only 1 g is left, which weighing explains."""
    first = charge("C1", 600_000, 500_000, day=day(1), unit="A")
    charge("C1", 450_000, 400_000, day=day(2), unit="B")
    correct(first, "C1", 600_000, 451_000)
    assert ("CONTAINER", "UNEXPLAINED_LOSS") not in flows()
    assert flows()["CONTAINER", "WEIGHING_DIFFERENCE"] == 1_000


def test_the_wrong_container_is_made_whole_and_the_right_one_charged(cylinders):
    first = charge("C1", 600_000, 500_000, day=day(1), unit="A")
    correct(first, "C2", 600_000, 500_000)
    assert (content("C1"), content("C2")) == (500_000, 400_000)
    assert (Container.objects.get(code="C1").last_gross, Container.objects.get(code="C1").opened_on) == (None, None)
    assert (Container.objects.get(code="C2").last_gross, Container.objects.get(code="C2").opened_on) == (
        500_000,
        day(1),
    )
    assert verify().faults == []


def test_a_container_that_moved_since_gets_its_content_where_it_stands_now(cylinders):
    first = charge("C1", 600_000, 500_000, day=day(1), unit="A")
    move(codes=["C1"], location="Van", day=day(2), by="office")
    correct(first, "C1", 600_000, 550_000)
    container = Container.objects.select_related("account", "location").get(code="C1")
    assert (container.content, container.location.name, container.account.location) == (450_000, "Van", "Van")
    assert verify().faults == []


def test_what_a_correction_leaves_in_a_retired_container_is_heel_loss(cylinders):
    first = charge("C1", 600_000, 110_000, day=day(1), unit="A")
    retire(codes=["C1"], residue_into="", day=day(2), by="office")
    correct(first, "C1", 600_000, 120_000)
    assert (content("C1"), flows()["CONTAINER", "HEEL_LOSS"]) == (0, 20_000)
    assert verify().faults == []


def test_taking_back_what_a_later_weighing_contradicts_blames_that_weighing(cylinders):
    first = weigh("C1", 560_000, day=day(1))
    if Weighing.objects.get().outcome == "tare taken":
        return
    weigh("C1", 550_000, day=day(2))
    assert flows()["CONTAINER", "UNEXPLAINED_LOSS"] == 50_000
    take_back(first, by="office", note="wrong cylinder on the scale")
    assert (content("C1"), flows()["CONTAINER", "UNEXPLAINED_LOSS"]) == (450_000, 50_000)
    assert verify().faults == []


def test_a_mistake_made_and_taken_back_leaves_nothing(cylinders):
    charge("C1", 600_000, 550_000, day=day(2), unit="B")
    before, state = flows(), Container.objects.values().order_by("code")
    kept = [{k: v for k, v in row.items() if k != "last_voucher_id"} for row in state]
    take_back_of = weigh("C1", 620_000, day=day(1))
    assert flows() != before
    take_back(take_back_of, by="office", note="not so")
    assert flows() == before and verify().faults == []
    now = Container.objects.values().order_by("code")
    assert [{k: v for k, v in row.items() if k not in ("last_voucher_id",)} for row in now] == kept


# -- what cannot have been -------------------------------------------------------------------------------


def test_a_receipt_that_was_used_since_is_not_taken_back(cylinders):
    job = charge("C1", 600_000, 500_000, day=day(1))
    said = f"With this, C1 would not have been here yet on 2 Mar 2026, when voucher {job} weighed it: 600 g in all"
    with pytest.raises(Refused, match=f"{said} before"):
        take_back(cylinders, by="office", note="typed twice")
    assert Voucher.objects.latest("number").number == job


def test_what_was_sent_away_must_have_been_there(cylinders):
    from inventory.shipping.actions import ship

    first = charge("C1", quantity=100_000, day=day(1), unit="A")
    shipment = ship(
        parcels={"C1": 350_000},
        purpose="return",
        party=Party.objects.get(name="Acme"),
        document="",
        day=day(4),
        by="office",
    )
    with pytest.raises(Refused) as refused:
        charge("C1", quantity=380_000, day=day(1), unit="A", corrects=first, why="misread")
    assert refused.value.message == (
        f"With this, C1 would have held 120 g on 5 Mar 2026, when voucher {shipment} sent 350 g away. "
        f"Correct voucher {shipment} first."
    )
    assert Voucher.objects.latest("number").number == shipment and verify().faults == []


def test_what_was_taken_back_is_not_corrected(cylinders):
    first = charge("C1", 600_000, 500_000, day=day(1))
    second = correct(first, "C1", 600_000, 510_000)
    with pytest.raises(Refused, match=f"Voucher {first} was taken back by voucher {second - 1}"):
        correct(first, "C1", 600_000, 520_000)
    with pytest.raises(Refused, match="is no job"):
        correct(cylinders, "C1", 600_000, 520_000)
    with pytest.raises(Refused, match="Say what was wrong"):
        correct(second, "C1", 600_000, 520_000, why=" ")


def test_a_receipt_is_corrected_to_another_supplier_after_its_cylinders_were_used(cylinders, request):
    known = request.node.callspec.id == "tare known"
    charge("C1", 600_000, 500_000, day=day(1))
    lines = [came(code, net=500_000, tare_mg=100_000 if known else None) for code in ("C1", "C2")]
    new = delivery(*lines, day=DAY, supplier="Boreal", corrects=cylinders, why="the other supplier's")
    acme, boreal = Party.objects.get(name="Acme").code, Party.objects.get(name="Boreal").code
    assert json.loads(Voucher.objects.get(number=new).detail)["supplier"] == boreal
    came_from = {acme: 0, boreal: 0}
    for movement in Movement.objects.filter(source_class=3) | Movement.objects.filter(target_class=3):
        supplier = movement.source if movement.source_class == 3 else movement.target
        came_from[supplier.name] += movement.quantity if movement.source_class == 3 else -movement.quantity
    assert came_from == {acme: 0, boreal: 1_000_000}
    assert (content("C1"), content("C2")) == (400_000, 500_000) and verify().faults == []


def test_a_code_taken_back_can_be_given_again(cylinders):
    take_back(cylinders, by="office", note="typed twice")
    assert content("C1") == 0 and Container.objects.get(code="C1").state == "taken back"
    delivery(came("C1", "can", 340_000, location="Van", price_minor=990), day=DAY)
    container = Container.objects.select_related("account").get(code="C1")
    assert (container.kind, container.content, container.state) == ("can", 340_000, "sealed")
    assert verify().faults == []


# -- the proof -------------------------------------------------------------------------------------------


def edited(statement):
    triggers.drop(connection)
    with connection.cursor() as cursor:
        cursor.execute(statement)
    triggers.install(connection)
    return verify()


def test_verify_names_a_weighing_that_was_edited(cylinders):
    number = charge("C1", 600_000, 500_000, day=day(1))
    assert edited("UPDATE inventory_weighing SET gross = 599000 WHERE role = 'before'").first_wrong == number


def test_verify_names_a_container_that_was_put_elsewhere(cylinders):
    Container.objects.filter(code="C2").update(grade="reclaimed")
    assert [message for _, message in verify().faults] == [
        "Container C2 stands at another account than its place and grade name.",
        "What is kept of C2 is not what its story comes to: grade 'reclaimed', true 'virgin'.",
    ]


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("UPDATE inventory_containerentry SET ops = '[]'", "What is kept of the acts of voucher"),
        ('UPDATE inventory_containerentry SET ops = \'[[0,0,"draw",""]]\'', "on C1 cannot be read"),
        ("UPDATE inventory_containerentry SET \"on\" = '2026-03-09'", "under another day than its position"),
        ("UPDATE inventory_containerentry SET position = 'x y z'", "What is kept of the acts of voucher"),
        (
            "DELETE FROM inventory_containerentry WHERE voucher_id = NUMBER",
            "What is kept of the acts of voucher NUMBER",
        ),
        ("UPDATE inventory_container SET opened_on = '2026-02-01'", "opened on"),
        ("UPDATE inventory_container SET tare_mg = 99000", "tare 99000"),
        (
            "UPDATE inventory_weighing SET position = '2026-01-01 x p000000000002'",
            "The weighings kept of voucher NUMBER",
        ),
        ("UPDATE inventory_voucher SET first_revision_id = OTHER WHERE number = NUMBER", "another first revision"),
        (
            "UPDATE inventory_voucher SET detail = 'half of ' WHERE number = NUMBER",
            "Voucher NUMBER does not say what its digest",
        ),
        (
            'UPDATE inventory_voucher SET detail = \'{"event":{"on":"","at":"",'
            '"ops":[["stand",1,""],["stand","A",""]]}}\' '
            "WHERE number = NUMBER",
            "What voucher NUMBER says of containers",
        ),
        (
            "UPDATE inventory_voucher SET detail = '{\"event\":[]}' WHERE number = NUMBER",
            "What voucher NUMBER says of containers",
        ),
        (
            "UPDATE inventory_voucher SET detail = REPLACE(detail, '\"weighings\":[[', '\"weighings\":[[],[')",
            "What voucher NUMBER says of containers",
        ),
        (
            "UPDATE inventory_voucher SET detail = '[1, 2]' WHERE number = NUMBER",
            "What voucher NUMBER says of containers",
        ),
    ],
)
def test_verify_names_what_is_kept_beside_the_vouchers(cylinders, statement, said):
    number = charge("C1", 600_000, 500_000, day=day(1))
    edit = statement.replace("NUMBER", str(number)).replace("OTHER", str(cylinders))
    assert any(said.replace("NUMBER", str(number)) in message for _, message in edited(edit).faults)


def test_what_is_left_in_a_container_does_not_go_into_itself_even_where_nothing_is_left(cylinders):
    charge("C1", quantity=500_000, day=day(1), unit="A")
    with pytest.raises(Refused, match="is left in C1 cannot stay in it; name another container, or lost"):
        retire(codes=["C1"], residue_into="C1", day=day(2), by="office")
    assert Container.objects.get(code="C1").retired_on is None and verify().faults == []
