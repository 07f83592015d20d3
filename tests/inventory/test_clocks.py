"""Clocks that were set, stand apart, or that a second server has: noticed at the next entry, and written into the
record. Every clock here is the test's own."""

import datetime as dt
import json

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from inventory.audit.queries import as_lines, records_told
from inventory.ledger import clocks
from inventory.ledger.accounts import AccountClass as A
from inventory.ledger.accounts import Spot, Transfer
from inventory.ledger.actions import Draft, post, rehearsing, writing
from inventory.ledger.models import Record, Voucher
from inventory.ledger.seals import seal
from inventory.ledger.verify import verify
from inventory.shop.clock import today
from inventory.shop.models import Shop
from tests.inventory.test_processes import program, said, stocked  # noqa: F401 (fixtures)

HOUR = 3600
NOON = dt.datetime(2026, 3, 2, 12, tzinfo=dt.UTC)


class Clocks:
    """One machine's: what it shows, how long it runs, and what the database's machine shows."""

    def __init__(self):
        self.at, self.runs = NOON.timestamp(), 5000.0
        self.name = "bay"

    def pass_by(self, seconds):
        self.at, self.runs = self.at + seconds, self.runs + seconds

    def moment(self):
        return dt.datetime.fromtimestamp(self.at, dt.UTC)


@pytest.fixture
def machine(monkeypatch):
    one = Clocks()
    monkeypatch.setattr(clocks, "wall", lambda: one.at)
    monkeypatch.setattr(clocks, "steady", lambda: one.runs)
    monkeypatch.setattr(clocks, "host", lambda: one.name)
    monkeypatch.setattr(clocks, "DATABASE_TIME", {})  # which is not the test's own
    monkeypatch.setattr("django.utils.timezone.now", one.moment)
    monkeypatch.setattr(clocks, "here", clocks.Watch())
    return one


def voucher():
    lost, unit = Spot("R-134a", A.OTHER_LOSS), Spot("R-134a", A.UNIT)
    return post(Draft("job", dt.date(2026, 3, 1), "tess", (Transfer(lost, unit, 1),)))


def noted():
    """(voucher, what, milliseconds) of each, the first first."""
    rows = Record.objects.filter(kind="clock").order_by("voucher_id", "line")
    return [(row.voucher_id, json.loads(row.body)["what"], json.loads(row.body).get("by_ms")) for row in rows]


def another_process(monkeypatch):
    monkeypatch.setattr(clocks, "here", clocks.Watch())


# -- set, forward and back -------------------------------------------------------------------------------


@pytest.mark.parametrize(("by", "what"), [(120, "set forward"), (-120, "set back"), (119.999, ""), (-119.999, "")])
def test_a_clock_that_was_set_shows_at_once(machine, by, what):
    watch = clocks.Watch()
    machine.pass_by(9 * HOUR)
    assert list(watch.look("", machine.moment(), None)) == []
    machine.at += by
    assert [one.what for one in watch.look("", machine.moment(), None)] == ([what] if what else [])


@pytest.mark.django_db
def test_it_is_written_under_the_voucher_at_hand_once_and_the_record_holds(machine, monkeypatch):
    voucher()
    machine.pass_by(60)
    machine.at += 3 * HOUR
    assert voucher() == 2
    machine.pass_by(60)
    voucher()
    another_process(monkeypatch)
    voucher()
    assert noted() == [(2, "set forward", 3 * HOUR * 1000)]
    told = clocks.sentence(Record.objects.get(kind="clock"))
    assert told.startswith("The clock of bay was set forward by 3 h while it ran.")
    assert verify().faults == []


@pytest.mark.django_db
def test_set_back_it_is_both_set_and_behind_the_last_voucher_and_stamps_wait(machine):
    voucher()
    machine.at -= 400 * 24 * HOUR
    voucher()
    assert [what for _, what, _ in noted()] == ["set back", "behind the last voucher"]
    first, second = Voucher.objects.filter(kind="job").order_by("number")
    assert first.recorded_at == second.recorded_at == "2026-03-02T12:00:00.000000Z"
    said = [clocks.sentence(row) for row in clocks.unseen()]
    assert any("400 days behind the moment of the last voucher, 2026-03-02T12:00:00.000000Z" in one for one in said)


@pytest.mark.django_db
def test_a_clock_far_ahead_leaves_its_stamp_until_it_is_passed(machine, monkeypatch):
    """A year ahead for one voucher. Once it is right again, all later ones carry that moment, and it is said once."""
    machine.at += 365 * 24 * HOUR
    another_process(monkeypatch)  # it started with the wrong clock, so nothing it could compare with was right
    voucher()
    assert noted() == []
    machine.at -= 365 * 24 * HOUR
    another_process(monkeypatch)
    for _ in range(3):
        machine.pass_by(HOUR)
        voucher()
    assert [what for _, what, _ in noted()] == ["behind the last voucher"]
    stamps = set(Voucher.objects.filter(kind="job").values_list("recorded_at", flat=True))
    assert stamps == {"2027-03-02T12:00:00.000000Z"}
    assert verify().faults == []


@pytest.mark.django_db
def test_what_is_taken_back_is_found_again(machine):
    voucher()
    machine.at += HOUR
    with rehearsing():
        voucher()
        assert len(noted()) == 1
    assert noted() == []
    with pytest.raises(ZeroDivisionError), writing():
        1 / 0  # noqa: B018
    assert noted() == []
    voucher()
    assert [what for _, what, _ in noted()] == ["set forward"]


@pytest.mark.django_db
def test_a_second_machine_is_told_by_its_name(machine, monkeypatch):
    voucher()
    machine.at += HOUR
    voucher()
    machine.name = "desk"
    another_process(monkeypatch)
    machine.at += HOUR
    voucher()
    assert list(Record.objects.filter(kind="clock").order_by("id").values_list("key", flat=True)) == ["bay", "desk"]


# -- beside the database's clock -------------------------------------------------------------------------


def test_two_seconds_apart_are_noted_and_the_time_that_the_answer_took_is_doubt(machine):
    watch, asked = clocks.Watch(), machine.moment()

    def beside(seconds, took=0.0):
        """The database's machine shows this many seconds less; its answer took so long."""
        machine.at = asked.timestamp() + took
        return list(watch.look("", asked, asked.timestamp() + took / 2 - seconds))

    assert beside(2.0) == beside(-2.0) == beside(3.9, took=4.0) == []
    found = beside(7.5)
    assert [(one.what, one.by_ms) for one in found] == [("apart from the database's clock", 7500)]
    watch.noted(found[0])
    assert beside(8.5) == beside(7.0) == []
    back = beside(0.0)
    assert [one.what for one in back] == ["agrees with the database's clock again"]
    watch.noted(back[0])
    assert beside(0.1) == []


@pytest.mark.django_db
def test_what_stands_of_it_is_not_said_again_by_another_process(machine, monkeypatch):
    def look(ahead):
        with writing() as ledger:
            clocks.watch(ledger.statements, "", machine.moment(), machine.at - ahead)

    look(7)
    another_process(monkeypatch)
    look(7)
    assert [by for _, _, by in noted()] == [7000]
    another_process(monkeypatch)
    look(-30)
    assert [by for _, _, by in noted()] == [7000, -30000]
    clocks.here.noted(clocks.Finding(clocks.APART, -30000, {}))
    look(0)
    another_process(monkeypatch)
    look(7)
    assert [what[:6] for _, what, _ in noted()] == ["apart ", "apart ", "agrees", "apart "]


@pytest.mark.django_db
def test_nothing_more_is_asked_of_the_database(machine):
    voucher()
    with CaptureQueriesContext(connection) as captured:
        voucher()
    assert not [one for one in captured if "inventory_record" in one["sql"] and "SELECT" in one["sql"]]


SERVER = """
import datetime as dt
from django.utils import timezone
from inventory.ledger import clocks
real = timezone.now
timezone.now = lambda: real() + dt.timedelta(seconds={ahead})
clocks.host = lambda: "{name}"
draw(1)
"""


TELL = """
from inventory.ledger.clocks import body_of
from inventory.ledger.models import Record
rows = [(row.key, body_of(row)) for row in Record.objects.filter(kind="clock").order_by("id")]
print([(key, body["what"][:6], abs(body["by_ms"]) > 3_000_000) for key, body in rows])
assert verify.verify().faults == []
"""


@pytest.mark.processes
@pytest.mark.both
def test_two_servers_whose_clocks_disagree(program):  # noqa: F811
    """One is an hour ahead. On PostgreSQL the database's clock says which; on one file the other finds the voucher."""
    for name, ahead in (("one", 3600), ("two", 0), ("one", 3600)):
        said(program(SERVER.format(name=name, ahead=ahead)))
    told = said(program(TELL))
    behind = ("two", "behind", True)
    assert told == str([("one", "apart ", True), behind] if connection.vendor == "postgresql" else [behind])


# -- what the owner sees ---------------------------------------------------------------------------------


@pytest.mark.django_db
def test_the_owner_is_told_until_it_was_seen(machine, owner_client, office_client, shop):
    voucher()
    machine.at += HOUR
    number = voucher()
    page = owner_client.get("/").content.decode()
    assert "What was noted of clocks" in page and "set forward by 1 h while it ran" in page
    assert "What was noted of clocks" not in office_client.get("/").content.decode()
    page = owner_client.get("/health/").content.decode()
    assert (
        "Noted of clocks" in page
        and f"voucher {number}</a>" in page
        and "One note of the clocks waits to be seen." in page
    )
    assert office_client.post("/health/clocks/").status_code == 403
    assert owner_client.get("/health/clocks/").status_code == 405
    for _ in range(2):
        assert owner_client.post("/health/clocks/").status_code == 302
    assert "What was noted of clocks" not in owner_client.get("/").content.decode()
    assert "Noted of clocks" not in owner_client.get("/health/").content.decode()
    assert Record.objects.filter(kind="clock-seen").count() == 1
    trail = owner_client.get("/trail/?what=clock").content.decode()
    assert "bay" in trail and "set forward" in trail
    lines = [json.loads(line) for line in as_lines(records_told())]
    assert [line["after"]["what"] for line in lines if line["what"] == "clock"] == ["set forward"]
    assert verify().faults == []


# -- another time zone -----------------------------------------------------------------------------------


def settings_form(**changed):
    shop = Shop.current()
    names = (
        "name",
        "address",
        "timezone",
        "rulebook",
        "altitude_m",
        "currency",
        "oil_months",
        "lock_minutes",
        "cost_formula",
    )
    return {**{name: getattr(shop, name) for name in names}, **changed}


@pytest.mark.django_db
def test_another_time_zone_is_said_and_written(machine, owner_client, shop):
    before = Shop.current().timezone
    answer = owner_client.post("/settings/", settings_form(timezone="Pacific/Auckland"), follow=True)
    page = answer.content.decode()
    assert "Days are cut in Pacific/Auckland from now on, where it is 3 Mar 2026" in page
    assert f"changed from {before} to Pacific/Auckland" in owner_client.get("/").content.decode()
    assert today() == dt.date(2026, 3, 3)
    assert Record.objects.filter(kind="clock", key="time zone").count() == 1
    assert owner_client.post("/settings/", settings_form()).status_code == 302
    assert Record.objects.filter(kind="clock", key="time zone").count() == 1
    assert verify().faults == []


@pytest.mark.django_db
def test_no_time_zone_puts_today_into_a_sealed_day(machine, owner_client, shop):
    owner_client.post("/settings/", settings_form(timezone="Pacific/Auckland"))  # where it is the 3rd
    voucher()
    seal(dt.date(2026, 3, 2), "olive")
    answer = owner_client.post("/settings/", settings_form(timezone="America/Denver"))
    assert answer.status_code == 422
    said = "In America/Denver it is still 2 Mar 2026, and all days up to 2 Mar 2026 are sealed"
    assert said in answer.content.decode() and Shop.current().timezone == "Pacific/Auckland"
    with transaction.atomic():
        machine.pass_by(24 * HOUR)
        assert owner_client.post("/settings/", settings_form(timezone="America/Denver")).status_code == 302
