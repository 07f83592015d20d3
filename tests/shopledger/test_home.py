"""The home page of an owner for whom everything waits at once."""

import datetime as dt
import re
import uuid

import pytest
from django.core.management import call_command

from inventory.containers.actions import retire
from inventory.containers.models import Container
from inventory.containers.write_off import NeedsYes
from inventory.ledger import clocks
from inventory.ledger.models import Substance
from inventory.parties.actions import supplier_called
from inventory.receiving.actions import Arrival, receive
from inventory.shop.clock import today
from inventory.supply.models import ReorderPoint
from inventory.write_offs.actions import ask
from jobs.people.actions import add_certificate, change_person
from shopledger.backup.models import note
from shopledger.health.actions import clocks_seen
from shopledger.sealing.actions import hand_out, seal_period
from tests.kept import made, saved

pytestmark = pytest.mark.django_db
G = 1000
MARCH = dt.date(2026, 3, 31)


def key() -> str:
    return str(uuid.uuid4())


def deliver() -> None:
    """Cans of 340 g, in March."""
    can = Arrival("can", "R-134a", False, "virgin", 340 * G, 4, "Store", tare_mg=110 * G)
    receive(lines=[can], supplier=supplier_called("Acme"), document="D", day=dt.date(2026, 3, 10), by="o", key=key())


def set_clock(monkeypatch: pytest.MonkeyPatch, hours: int) -> None:
    """This machine's clock runs so many hours ahead, and the next entry notices."""
    at = clocks.wall()
    monkeypatch.setattr(clocks, "wall", lambda: at + hours * 3600)


def write_off(code: str) -> None:
    try:
        retire(codes=[code], residue_into="", day=today(), by="oscar", key=key())
    except NeedsYes as needs:
        ask(needs)


def titles(page: str) -> list[str]:
    return re.findall(r"<h2 id=\"panel-\d+\">([^<]+)</h2>", page)


def test_an_owner_for_whom_everything_waits_is_asked_no_more_of(
    owner_client, office, technician, shop, monkeypatch, settings, tmp_path, django_assert_num_queries
):
    settings.DATA_DIR = tmp_path
    deliver()
    seal_period(MARCH, "olive")
    saved(shop, write_off_mg=100 * G, name="Test Shop")
    write_off(Container.objects.order_by("id").first().code)
    made(ReorderPoint, substance=Substance.objects.get(code="R-134a"), least=5_000 * G)
    set_clock(monkeypatch, 1)
    add_certificate(person=technician, by=None, scheme="608", number="T-1", issued=today(), expires=today())
    call_command("let_in", "tess")
    note("backup", True, "400 vouchers.", apart=False)
    note("trial", False, "A voucher differs.")
    with django_assert_num_queries(10):
        page = owner_client.get("/").content.decode()
    assert titles(page) == [
        "What was noted of clocks",
        "Open jobs",
        "Write-offs that wait for your yes",
        "Open and due",
        "Running short",
        "Certificates that end soon",
        "The last months",
        "A receipt to hand out",
        "How the records are kept",
    ]
    for said in (
        "set forward by 1 h",
        "Sealed up to 31 Mar 2026",
        "A voucher differs.",
        "tess was given",
        "both are gone",
    ):
        assert said in page, said


def test_what_was_seen_and_handed_out_is_asked_for_no_longer(owner_client, shop, monkeypatch, settings, tmp_path):
    settings.DATA_DIR = tmp_path
    deliver()
    made_seal = seal_period(MARCH, "olive")
    set_clock(monkeypatch, 1)
    hand_out(made_seal, to="Ada Example", day=today(), by="olive", key=key())
    assert "What was noted of clocks" in titles(owner_client.get("/").content.decode())
    assert clocks_seen("olive") == 1
    waits = titles(owner_client.get("/").content.decode())
    assert "What was noted of clocks" not in waits and "A receipt to hand out" not in waits


def test_a_clock_that_is_noted_under_the_entry_that_the_others_were_seen_still_waits(
    owner_client, technician, shop, monkeypatch
):
    set_clock(monkeypatch, 1)
    change_person(technician, by=None, name="Tess Second")
    set_clock(monkeypatch, 3)  # four hours since the process began to count: this test's transaction never ends
    assert clocks_seen("olive") == 1
    page = owner_client.get("/").content.decode()
    assert "set forward by 4 h" in page and "set forward by 1 h" not in page
    assert clocks_seen("olive") == 1
    assert "What was noted of clocks" not in owner_client.get("/").content.decode()
