"""What happened outside the ledger: who, when, before and after, told from the records, once, and shown."""

import datetime as dt
import json
import uuid

import pytest
from django.db import DatabaseError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.audit.queries import as_lines, changes, changes_of, followed, records_between, records_told
from inventory.containers.models import Scale
from inventory.ledger.actions import writing
from inventory.ledger.models import Record, Voucher
from inventory.ledger.stating import Unstated
from inventory.ledger.verify import verify
from inventory.parties.models import Party
from inventory.scales.actions import Plate, save_scale
from inventory.shop.models import Shop
from inventory.shop.who import COMMANDS
from inventory.text.refusal import Refused
from jobs.people.actions import add_certificate, add_person, change_person, set_password
from jobs.units.actions import add_unit, change_unit
from shopledger.logbook.actions import load
from shopledger.logbook.models import LoadedLog
from tests.kept import made, saved
from tests.stock import came, delivery

pytestmark = pytest.mark.django_db
BESIDE_ACTIONS = [
    lambda party: party.save(),
    lambda party: party.delete(),
    lambda party: Party(name="B", role="supplier").save(),
]


class Trail:
    """The lines since a moment, the latest first."""

    def __init__(self):
        latest = Record.objects.order_by("-id").first()
        self.since = latest.pk if latest else 0

    def lines(self):
        return changes(records_told().filter(pk__gt=self.since).order_by("-id"))

    def last(self):
        return self.lines()[0]

    def records(self):
        return Record.objects.filter(pk__gt=self.since).count()


@pytest.fixture
def trail(shop, owner, technician):
    """What the fixtures stated themselves is no matter here."""
    return Trail()


def test_a_person_made_changed_and_given_a_password(trail, owner):
    person = add_person(by=owner, username="nora", name="Nora Example", role="technician", password="a quiet lamp 9")
    (made,) = trail.lines()
    assert (made.kind, made.what, made.key, made.title, made.by) == (
        "made",
        "person",
        "nora",
        "Nora Example",
        COMMANDS,
    )
    assert abs(dt.datetime.now(dt.UTC) - made.at) < dt.timedelta(minutes=10)
    assert made.after["username"] == "nora" and made.after["role"] == "technician" and made.before == {}
    assert made.after["name"] == "Nora Example", "a document and its words are one line"
    change_person(person, by=owner, role="office")
    last = trail.last()
    assert (last.kind, last.before, last.after) == ("changed", {"role": "technician"}, {"role": "office"})
    for password in ("another quiet lamp 8", "a third quiet lamp 7"):
        set_password(person, by=owner, password=password)
        last = trail.last()
        assert (last.what, last.key, last.after) == ("sign-in", "nora", {"password": "set anew"})
    assert len(trail.lines()) == 4
    kept = json.dumps(list(Record.objects.values_list("body", flat=True)))
    assert "lamp" not in kept and "md5$" not in kept and "pbkdf2" not in kept


def test_what_does_not_differ_is_no_line(trail, technician):
    unit = add_unit(by=technician, plate="T-1", refrigerant="R-134a", charge_max_mg=500_000)
    count, entries = trail.records(), Voucher.objects.count()
    change_unit(unit, by=technician, plate="T-1")
    assert trail.records() == count and Voucher.objects.count() == entries
    change_unit(unit, by=technician, charge_max_mg=520_000)
    assert trail.last().pairs == [("charge max", "500 g", "520 g")]


def test_a_request_is_its_person_s_and_signing_in_is_no_change(trail, owner_client, owner):
    owner_client.post("/people/new/", {})
    answer = owner_client.post(
        "/settings/",
        {
            "name": "Renamed",
            "timezone": Shop.objects.get().timezone,  # another one is noted apart, as what clocks do
            "rulebook": "eu",
            "currency": "EUR",
            "altitude_m": "0",
            "oil_months": "6",
            "lock_minutes": "10",
            "cost_formula": "fifo",
        },
    )
    assert answer.status_code == 302
    (last,) = trail.lines()
    assert (last.by, last.what, last.title) == ("olive", "settings", "Renamed")
    assert last.before["name"] == "Test Shop" and last.after["rulebook"] == "eu"
    count = trail.records()
    owner_client.logout()
    assert owner_client.login(username="olive", password="a long one for tests")
    assert trail.records() == count
    saved(Shop.objects.get())
    assert trail.records() == count
    page = owner_client.get("/settings/").content.decode()
    assert "What happened to it" in page and "Test Shop → Renamed" in page


def test_a_refused_change_leaves_no_line(trail, owner):
    count, entries = trail.records(), Voucher.objects.count()
    with pytest.raises(Refused, match="only owner"):
        change_person(owner, by=owner, role="technician")
    with pytest.raises(RuntimeError), transaction.atomic():
        made(Party, name="Acme", role="supplier")
        raise RuntimeError
    assert trail.records() == count and Voucher.objects.count() == entries


@pytest.mark.parametrize("way", BESIDE_ACTIONS)
def test_nothing_is_written_that_would_not_be_told(trail, way):
    party = made(Party, name="Acme", role="supplier")
    count = trail.records()
    with pytest.raises(Unstated, match="is evidence"), transaction.atomic():
        way(party)
    assert trail.records() == count and Party.objects.get().name == "Acme"


def test_a_removed_record_keeps_what_it_said(trail):
    party = made(Party, name="Acme", role="supplier", address="1 Road", registration="R-1")
    with writing():
        party.delete()
    last = trail.last()
    assert (last.kind, last.key, last.title, last.after) == ("removed", party.code, party.code, {})
    assert (last.before["address"], last.before["registration"]) == ("1 Road", "R-1")
    assert len(trail.lines()) == 2 and verify().faults == []


def test_the_usual_scale_of_before_is_told_too(trail):
    for code in ("S1", "S2"):
        save_scale(code=code, plate=Plate(1000), checked_until=None, usual=True)
    (lost,) = [one for one in trail.lines() if one.kind == "changed"]
    assert (lost.key, lost.before["usual"], lost.after["usual"]) == ("S1", True, False)
    assert lost.told == [("usual", "yes → no")]
    assert Scale.objects.get(usual=True).code == "S2"


def test_what_became_of_a_thing_within_one_act_is_told_step_by_step(trail):
    with writing():
        scale = Scale.objects.create(code="S1", readability_mg=1000)
        for capacity in (5_000_000, 6_000_000):
            scale.capacity_mg = capacity
            scale.save()
    lines = trail.lines()[::-1]
    assert len({one.voucher for one in lines}) == 1 and [one.kind for one in lines] == ["made", "changed", "changed"]
    assert (lines[1].before, lines[1].after) == ({}, {"capacity_mg": 5_000_000})
    assert (lines[2].before, lines[2].after) == ({"capacity_mg": 5_000_000}, {"capacity_mg": 6_000_000})
    numbers = [json.loads(line)["number"] for line in as_lines(records_told(["scale"]))]
    assert numbers == [one.pk for one in lines], "each once"


def test_words_stand_with_the_document_that_they_were_stated_with(trail):
    with writing():
        party = Party.objects.create(name="Acme", role="supplier")
        party.registration = "R-1"
        party.save()
    changed, made_ = trail.lines()
    assert (changed.kind, changed.after) == ("changed", {"registration": "R-1"})
    assert (made_.kind, made_.after["name"]) == ("made", "Acme")


def test_a_line_is_written_once(trail):
    made(Party, name="Acme", role="supplier")
    for change in (
        lambda: Record.objects.update(kind="other"),
        lambda: Record.objects.update(body="{}"),
        lambda: Record.objects.all()._raw_delete("default"),
        lambda: Voucher.objects.update(recorded_by="nobody"),
    ):
        with pytest.raises(DatabaseError, match="written once"), transaction.atomic():
            change()


def test_of_a_log_that_is_loaded_each_row_is_told(trail, tmp_path):
    saved(Shop.objects.get(), name="Example")
    trail = Trail()
    (tmp_path / "shop.csv").write_text("name,readability\nExample,1 g\n")
    (tmp_path / "parties.csv").write_text("name,role\nAcme,supplier\nRenew,reclaimer\n")
    load(tmp_path)
    lines = trail.lines()
    assert {one.by for one in lines} == {COMMANDS}
    told = [(one.what, one.kind, one.after.get("name")) for one in lines if one.what == "party"]
    assert sorted(told) == [("party", "made", "Acme"), ("party", "made", "Renew")] and Party.objects.count() == 2
    (log,) = [one for one in lines if one.what == "log"]
    assert log.kind == "made" and log.after["digest"] == LoadedLog.objects.get().digest
    assert verify().faults == []


def test_the_ledger_is_no_part_of_it(trail, technician):
    delivery(came("C1", net=500_000), day=dt.date(2026, 3, 1))
    assert {one.what for one in trail.lines()} == {"party", "place"}, "which the delivery named for the first time"
    assert Record.objects.filter(kind="container").exists() and "container" not in followed()
    assert not {"job", "seal", "substance", "rulebook"} & set(followed())


def test_the_page_filters_and_turns_without_more_questions(owner_client, office_client, owner, technician):
    certificate = add_certificate(
        by=owner, person=technician, scheme="Trade school", number="C-1", issued=dt.date(2026, 1, 1)
    )
    for n in range(120):
        made(Party, name=f"Party {n:03d}", role="supplier")
    with CaptureQueriesContext(connection) as first:
        page = owner_client.get("/trail/").content.decode()
    assert "Party 119" in page and "Party 069" not in page
    place = changes_of(Party.objects.get(name="Party 070"))[0].pk
    with CaptureQueriesContext(connection) as second:
        page = owner_client.get(f"/trail/?before={place}").content.decode()
    assert "Party 069" in page and "Party 070" not in page and len(second) <= len(first)
    page = owner_client.get("/trail/?what=certificate").content.decode()
    assert "C-1" in page and "Party" not in page.split("<ul")[-1].replace("parties", "")
    assert "Party 119" in owner_client.get("/trail/", {"by": COMMANDS}).content.decode()
    assert "Party 119" not in owner_client.get("/trail/?by=olive").content.decode()
    assert "Party 119" not in owner_client.get("/trail/?first=2999-01-01").content.decode()
    assert owner_client.get("/trail/?first=x").status_code == 422
    assert office_client.get("/trail/").status_code == 403
    assert (
        "What happened to it" in owner_client.get(reverse("certificate-edit", args=[certificate.pk])).content.decode()
    )


def test_each_line_stands_on_one_page(trail, owner_client):
    for n in range(120):
        made(Party, name=f"Party {n:03d}", role="supplier")
    seen, address = [], "/trail/?what=party"
    while address:
        page = owner_client.get(address)
        seen += [one.title for one in page.context["rows"]]
        after = page.context["next"]
        address = after and f"/trail/?what=party&before={after}"
    assert seen == [f"Party {n:03d}" for n in reversed(range(120))]


def test_lines_for_a_bundle_are_the_period_s_and_say_codes(trail, technician):
    unit = add_unit(by=technician, plate="T-1", refrigerant="R-134a", key=uuid.uuid4())
    near = records_between(dt.date.today() - dt.timedelta(1), dt.date.today() + dt.timedelta(1), ["unit"])
    (line,) = as_lines(near)
    said = json.loads(line)
    assert (said["what"], said["kind"], said["key"]) == ("unit", "made", unit.code)
    assert said["after"]["refrigerant"] == "R-134a" and "T-1" not in line.decode(), "what can be erased is left out"
    assert not list(as_lines(records_between(dt.date(2020, 1, 1), dt.date(2020, 1, 2))))
