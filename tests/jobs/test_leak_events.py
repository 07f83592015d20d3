"""What happened about the leaks of a unit: what is kept, what is refused, how a wrong one is voided, the pages."""

import datetime as dt
import uuid
from dataclasses import dataclass

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, transaction
from django.urls import reverse

from inventory.attachments.models import Attachment
from inventory.ledger.erasing import erase, find
from inventory.ledger.stated_rows import stated
from inventory.ledger.verify import verify
from inventory.shop.clock import now, today, zone
from inventory.text.refusal import Refused
from jobs.drafts.actions import start_job
from jobs.leaks.actions import add_leak_event, void_leak_event
from jobs.leaks.events import in_order
from jobs.leaks.forms import ASKED
from jobs.leaks.models import LeakEvent
from jobs.people.actions import add_certificate
from jobs.units.actions import add_unit
from tests.inventory.test_attachments import PDF, uploads  # noqa: F401 (a fixture)
from tests.kept import made

pytestmark = pytest.mark.django_db
DAY = dt.date(2026, 3, 2)
WHO = {"person_said": "Ken Other"}
TEST = {"method": "electronic detector", **WHO}
KINDS = [kind for kind, _ in LeakEvent.KINDS]


@pytest.fixture
def rack(shop):
    return add_unit(by=None, name="Rack", kind="stationary", exactly="refrigeration", refrigerant="R-404A")


def day(n):
    return DAY + dt.timedelta(n)


def event(of, kind, on=DAY, **said):
    """With what the kind cannot be without."""
    needs = {
        "inspection": TEST,
        "release": {"cause": "hose"},
        "repair": {"evacuated": False, **WHO},
        "initial-test": {"passed": True, **TEST},
        "follow-up-test": {"passed": True, "all_leaks": True, **TEST},
        "extension-granted": {"until": on + dt.timedelta(30)},
    }
    return add_leak_event(of, by=None, kind=kind, day=on, **{**needs.get(kind, {}), **said})


BEFORE = {
    "follow-up-test": "initial-test",
    "back-in-use": "mothballed",
    "extension-granted": "extension-asked",
    "plan-done": "plan",
}


# -- what is kept ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_is_kept_with_its_record(rack, kind):
    if kind in BEFORE:
        event(rack, BEFORE[kind])
    kept = event(rack, kind, day(1), note="in the rain", places="the shaft", key=uuid.uuid4())
    said = stated("leak-event", str(kept.pk)).said
    assert (said["kind"], said["day"], said["unit"]) == (kind, "2026-03-03", rack.code)
    assert (said["note"], said["places"]) == ("in the rain", "the shaft")
    assert verify().faults == []


def test_the_same_form_sent_twice_is_one_event(rack):
    key = uuid.uuid4()
    assert event(rack, "repair", key=key) == event(rack, "repair", key=key)
    assert LeakEvent.objects.count() == 1


def test_the_certificates_of_that_day_are_taken_where_none_is_written(rack, technician):
    issued = today() - dt.timedelta(400)
    held = add_certificate(by=None, person=technician, scheme="Section 608", number="U-1", issued=issued)
    kept = event(rack, "inspection", today(), person=technician, person_said="")
    assert kept.certificate == str(held)
    assert event(rack, "inspection", today(), person=technician, person_said="", certificate="X").certificate == "X"
    before = held.issued - dt.timedelta(1)
    assert event(rack, "inspection", before, person=technician, person_said="").certificate == ""


# -- what is refused -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "said", "field", "sentence"),
    [
        ("dance", {}, "kind", "no kind of event"),
        ("plan", {"day": 1}, "day", "still to come"),
        ("plan", {"day": -60_000}, "day", "before 1990"),
        ("initial-test", {"passed": None}, "passed", "no test counts without its result"),
        ("follow-up-test", {"passed": None}, "passed", "no test counts without its result"),
        ("follow-up-test", {"all_leaks": None}, "all_leaks", "all identified leaks repaired"),
        ("repair", {"passed": True}, "passed", "Only a test is passed or not"),
        ("initial-test", {"all_leaks": True}, "all_leaks", "Only a follow-up test"),
        ("repair", {"evacuated": None}, "evacuated", "whether the unit was evacuated"),
        ("inspection", {"evacuated": True}, "evacuated", "Only of a repair"),
        ("extension-granted", {"until": None}, "until", "until which day"),
        ("plan", {"until": dt.date(2026, 4, 1)}, "until", "Only an extension"),
        ("inspection", {"method": ""}, "method", "how it was tested"),
        ("inspection", {"person_said": ""}, "person", "who did it"),
        ("repair", {"person_said": " "}, "person", "who did it"),
        ("follow-up-test", {}, "kind", "comes after a successful initial verification test"),
        ("back-in-use", {}, "kind", "not mothballed by then"),
        ("extension-granted", {}, "kind", "asked for before it is granted"),
        ("plan-done", {}, "kind", "A plan comes before"),
        ("plan", {"note": "a\x00b"}, "note", "control character"),
        ("plan", {"method": "x" * 81}, "method", "at most 80"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field_and_leaves_nothing(rack, kind, said, field, sentence):
    on = today() + dt.timedelta(said.pop("day")) if "day" in said else today()
    with pytest.raises(Refused, match=sentence) as refused:
        event(rack, kind, on, **said)
    assert refused.value.field == field and not LeakEvent.objects.exists()


def test_a_test_that_failed_lets_no_follow_up_be(rack):
    event(rack, "initial-test", day(0), passed=False)
    with pytest.raises(Refused, match="successful initial"):
        event(rack, "follow-up-test", day(3))
    event(rack, "initial-test", day(2))
    assert event(rack, "follow-up-test", day(3)).result == "passed, all identified leaks repaired"


def test_a_follow_up_that_failed_need_not_say_more(rack):
    event(rack, "initial-test")
    assert event(rack, "follow-up-test", day(3), passed=False, all_leaks=None).result == "failed"


def test_the_initial_test_lies_before_on_its_own_day_too(rack):
    """By their times where both are known, else as they were entered."""
    at = dt.datetime.combine(DAY, dt.time(12), zone())
    event(rack, "initial-test", at=at)
    with pytest.raises(Refused, match="successful initial"):
        event(rack, "follow-up-test", at=at - dt.timedelta(hours=1))
    event(rack, "follow-up-test", at=at + dt.timedelta(hours=1))
    with pytest.raises(Refused, match="successful initial"):
        event(rack, "follow-up-test", day(-1))


def test_mothballed_and_back_take_turns(rack):
    event(rack, "mothballed", day(0))
    with pytest.raises(Refused, match="mothballed already"):
        event(rack, "mothballed", day(5))
    event(rack, "back-in-use", day(10))
    with pytest.raises(Refused, match="not mothballed by then"):
        event(rack, "back-in-use", day(11))
    with pytest.raises(Refused, match="another could not be: back in use of 12 Mar 2026") as refused:
        event(rack, "back-in-use", day(5))
    assert refused.value.field == "day"
    event(rack, "mothballed", day(12))
    assert LeakEvent.objects.count() == 3


@pytest.mark.parametrize(
    ("at", "sentence"),
    [
        (lambda: now() + dt.timedelta(minutes=5), "still to come"),
        (lambda: now() - dt.timedelta(days=3), "another day"),
    ],
)
def test_a_time_lies_on_the_day_and_not_ahead(rack, at, sentence):
    with pytest.raises(Refused, match=sentence) as refused:
        event(rack, "plan", today(), at=at())
    assert refused.value.field == "at"


def test_one_person_did_it(rack, technician):
    with pytest.raises(Refused, match="not both"):
        event(rack, "repair", person=technician)


def test_a_visit_is_one_of_the_unit(rack, technician):
    other = add_unit(by=None, name="Other")
    visits = [start_job(unit=of, technician=technician, by=technician, key=uuid.uuid4()) for of in (rack, other)]
    assert event(rack, "plan", job=visits[0]).job == visits[0]
    with pytest.raises(Refused, match=f"Job {visits[1].number} was a visit of another unit"):
        event(rack, "plan", job=visits[1])


@pytest.mark.parametrize(
    ("fields", "constraint"),
    [
        ({"kind": "initial-test"}, "leak_event_test_has_result"),
        ({"kind": "repair", "passed": True}, "leak_event_test_has_result"),
        ({"kind": "initial-test", "passed": True, "all_leaks": True}, "leak_event_all_leaks_of_follow_up"),
        ({"kind": "plan", "until": DAY}, "leak_event_until_of_extension"),
        ({"kind": "extension-granted"}, "leak_event_until_of_extension"),
        ({"kind": "plan", "evacuated": True}, "leak_event_evacuated_of_repair"),
        ({"kind": "plan", "void_reason": "x"}, "leak_event_void_says_when"),
    ],
)
def test_the_database_itself_refuses(rack, fields, constraint):
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        made(LeakEvent, unit=rack, day=DAY, **fields)


# -- voiding ------------------------------------------------------------------------------------------------


def test_a_wrong_one_is_void_and_stays(rack, technician):
    kept = event(rack, "initial-test")
    with pytest.raises(Refused, match="Say why it is void"):
        void_leak_event(kept, by=technician, reason="  ")
    void = void_leak_event(kept, by=technician, reason="of another unit")
    assert (void.void_reason, void.voided_by, void.voided_on) == ("of another unit", technician, today())
    assert void_leak_event(kept, by=None, reason="again").void_reason == "of another unit"
    assert stated("leak-event", str(kept.pk)).said["void_reason"] == "of another unit"
    with pytest.raises(Refused, match="successful initial"):
        event(rack, "follow-up-test", day(3))
    assert verify().faults == []


def test_what_another_needs_is_not_void_before_that_is(rack):
    first, then = event(rack, "initial-test"), event(rack, "follow-up-test", day(3))
    with pytest.raises(Refused, match="needed for: follow-up verification test of 5 Mar 2026"):
        void_leak_event(first, by=None, reason="wrong")
    void_leak_event(then, by=None, reason="wrong")
    assert void_leak_event(first, by=None, reason="wrong").is_void


# -- the order of a day -------------------------------------------------------------------------------------


@dataclass
class Told:
    pk: int | None
    day: dt.date = DAY
    hour: int | None = None

    @property
    def at(self):
        return None if self.hour is None else dt.datetime.combine(self.day, dt.time(self.hour), dt.UTC)


@pytest.mark.parametrize(
    ("events", "order"),
    [
        ([Told(1, day(1)), Told(2, day(0))], [2, 1]),
        ([Told(1, DAY, 12), Told(2, DAY, 9)], [2, 1]),
        ([Told(1, DAY, 12), Told(2, DAY, 9), Told(3, DAY)], [1, 2, 3]),
        ([Told(None, DAY), Told(2, DAY)], [2, None]),
        ([Told(None, DAY, 9), Told(2, DAY, 12)], [None, 2]),
    ],
)
def test_events_are_in_the_order_of_their_days_and_times(events, order):
    assert [one.pk for one in in_order(events)] == order


# -- erasing and papers --------------------------------------------------------------------------------------


def test_its_words_can_go_once_their_time_is_over(rack, monkeypatch):
    kept = event(rack, "repair", parts="seal, by Ken Other")
    assert [(one.kind, one.day) for one in find("leak-event", str(kept.pk)).keeps] == [("leak-check", DAY)]
    assert ("leak-check", DAY) in [(one.kind, one.day) for one in find("unit", rack.code).keeps]
    monkeypatch.setattr("inventory.ledger.erasing.today", lambda: dt.date(2050, 1, 1))
    erase("leak-event", str(kept.pk), why="asked", by="olive")
    kept.refresh_from_db()
    assert (kept.parts, kept.person_said, kept.evacuated) == ("", "", False)
    assert verify().faults == []


def test_papers_belong_to_an_event(rack, office_client, technician_client, uploads):  # noqa: F811
    kept = event(rack, "extension-asked")
    page = office_client.get(f"/leak-events/{kept.pk}/").content.decode()
    address = page.split('">Attach a file')[0].rsplit('href="', 1)[1]
    upload = SimpleUploadedFile("letter.pdf", PDF, "application/pdf")
    answer = office_client.post(address, {"file": upload, "title": "The letter", "key": str(uuid.uuid4())})
    assert answer.url == f"/leak-events/{kept.pk}/"
    paper = Attachment.objects.get(subject=f"leak-event:{kept.pk}")
    for client in (office_client, technician_client):
        assert "The letter" in client.get(f"/leak-events/{kept.pk}/").content.decode()
        assert client.get(reverse("attachment", args=[paper.pk])).status_code == 200
    assert [(one.kind, one.day) for one in find("attachment", str(paper.pk)).keeps] == [("leak-check", DAY)]


# -- pages --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_the_form_asks_what_fits_the_kind(rack, technician_client, kind):
    page = technician_client.get(f"/units/{rack.pk}/leak-events/new/?kind={kind}").content.decode()
    every = {name for names in ASKED.values() for name in names}
    for name in every:
        assert (f'name="{name}"' in page) == (name in ASKED.get(kind, ())), name


def test_what_happened_is_chosen_entered_and_shown(rack, technician, technician_client):
    address = f"/units/{rack.pk}/leak-events/new/"
    chosen = technician_client.get(address).content.decode()
    assert all(f"kind={kind}" in chosen for kind in KINDS)
    assert technician_client.get(f"{address}?kind=dance").status_code == 404
    said = {"day": "2026-03-02", "time": "14:05", "passed": "yes", "method": "soap", "key": str(uuid.uuid4())}
    answer = technician_client.post(f"{address}?kind=initial-test", said)
    assert answer.status_code == 422 and "Say who did it" in answer.content.decode()
    answer = technician_client.post(f"{address}?kind=initial-test", said | {"person": technician.pk})
    assert answer.status_code == 302
    kept = LeakEvent.objects.get()
    assert (kept.passed, kept.by, kept.at.astimezone(zone()).hour) == (True, technician, 14)
    page = technician_client.get(f"/units/{rack.pk}/").content.decode()
    assert "initial verification test" in page and "passed" in page and f"/leak-events/{kept.pk}/" in page
    assert "initial verification test" in technician_client.get(f"/units/{rack.pk}/leak-events/").content.decode()


def test_a_failed_follow_up_is_entered_without_more(rack, technician_client):
    event(rack, "initial-test")
    said = {"day": "2026-03-05", "method": "soap", "person_said": "Ken", "key": str(uuid.uuid4())}
    address = f"/units/{rack.pk}/leak-events/new/?kind=follow-up-test"
    answer = technician_client.post(address, said)
    assert answer.status_code == 422 and "Say yes or no" in answer.content.decode()
    answer = technician_client.post(address, said | {"passed": "yes"})
    assert answer.status_code == 422 and "all identified leaks repaired" in answer.content.decode()
    assert technician_client.post(address, said | {"passed": "no"}).status_code == 302


def test_an_event_is_void_on_its_page_with_a_reason(rack, technician_client):
    kept = event(rack, "plan")
    address = f"/leak-events/{kept.pk}/void/"
    answer = technician_client.post(address, {"reason": "", "key": str(uuid.uuid4())})
    assert answer.status_code == 422
    technician_client.post(address, {"reason": "<b>wrong</b>", "key": str(uuid.uuid4())})
    page = technician_client.get(f"/leak-events/{kept.pk}/").content.decode()
    assert "Void since" in page and "&lt;b&gt;wrong" in page and "It is wrong" not in page
    assert "void</span>" in technician_client.get(f"/units/{rack.pk}/").content.decode()


def test_a_technician_names_no_draft_of_another(rack, technician, office, technician_client, office_client, owner):
    job = start_job(unit=rack, technician=owner, by=owner, key=uuid.uuid4())
    address = f"/units/{rack.pk}/leak-events/new/?kind=plan"
    assert job.number not in technician_client.get(address).content.decode()
    assert job.number in office_client.get(address).content.decode()
