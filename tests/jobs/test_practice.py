"""A practice job, through its pages: the real rules, and nothing outlives a request."""

import datetime as dt
import re

import pytest
from django.apps import apps
from django.contrib.sessions.backends.db import SessionStore
from django.contrib.sessions.models import Session
from django.db import connection
from django.test import Client

from inventory.containers.models import Container
from inventory.ledger.models import ChainHead
from inventory.ledger.verify import verify
from jobs.drafts.models import Job
from jobs.people.models import Person
from jobs.practice.kept import KEPT, MOST
from tests.forms import forms_of
from tests.jobs.test_jobs import bay  # noqa: F401 (a fixture)

pytestmark = pytest.mark.django_db
JOB = "/jobs/0/"
BAND = "Practice: nothing of this is kept"
BESIDE = {"django_session", "shopledger_signin"}  # the note itself, and that the sign-in was used


def everything():
    """What each table holds, row by row, and the chain's head."""
    found = {}
    with connection.cursor() as cursor:
        for model in apps.get_models(include_auto_created=True):
            table = model._meta.db_table
            if table not in BESIDE:
                cursor.execute(f'SELECT * FROM "{table}"')
                found[table] = sorted(map(repr, cursor.fetchall()))
    head = ChainHead.objects.get(id=1)
    return found, (head.number, head.digest)


def notes(client):
    """What is kept of the practice of this client's person."""
    row = Session.objects.get(session_key=client.session[KEPT]["notes"])
    return SessionStore().decode(row.session_data)


def noted(client, **said):
    """Change what is kept."""
    row = Session.objects.filter(session_key=client.session[KEPT]["notes"])
    row.update(session_data=SessionStore().encode({**notes(client), **said}))


def begun(client):
    answer = client.post("/jobs/practice/start/")
    assert answer.status_code == 302 and answer.url == JOB
    return client


def page(client):
    answer = client.get(JOB)
    assert answer.status_code == 200
    return answer.content.decode()


def text(answer):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


def fill(client, address, holds=None, **said):
    """Send the form of the page that posts there, with what is said in it. holds: fields that tell it from others."""
    found = [one for to, one in forms_of(page(client)) if to == address]
    found = [one for one in found if all(one.get(name) == value for name, value in (holds or {}).items())]
    assert found, address
    return client.post(address, {**found[0], **said})


def weigh(client, action, asked, reading):
    answer = fill(client, f"{JOB}entry/", {"action": action, "quick": asked}, **{asked: reading})
    assert answer.status_code == 302, text(answer)


def skip(client, step):
    answer = client.post(f"{JOB}skip/{step}/", {"reason": "not today"})
    assert answer.status_code == 302


def whole(client):
    """A whole job up to its signature."""
    identified = {"identified_as": "R-134a", "identified_how": "identifier"}
    assert fill(client, f"{JOB}step/identify/", **identified).status_code == 302
    weigh(client, "recover", "before", "6100 g")
    weigh(client, "recover", "after", "6390 g")
    skip(client, "repair")
    skip(client, "test")
    assert client.post(f"{JOB}clock/evacuation_started/").status_code == 302
    client.post("/jobs/practice/pass/")
    assert client.post(f"{JOB}vacuum/reached/", {"reading": "500", "unit": "micron"}).status_code == 302
    client.post("/jobs/practice/pass/")
    assert client.post(f"{JOB}vacuum/held/", {"reading": "620", "unit": "micron"}).status_code == 302
    weigh(client, "oil-add", "quantity", "30 mL")
    weigh(client, "charge", "before", "438 g")
    weigh(client, "charge", "after", "98 g")
    weigh(client, "charge", "before", "438 g")
    weigh(client, "charge", "after", "278 g")
    skip(client, "check")


def sign(client, **reasons):
    return fill(client, f"{JOB}sign/", **reasons)


def test_a_whole_job_is_practised_and_nothing_of_it_is_kept(bay, technician_client):  # noqa: F811
    before = everything()
    client = begun(technician_client)
    shown = page(client)
    assert BAND in shown and "PRACTICE" in shown and "Let 30 minutes pass" in shown
    assert "CAN-1" not in shown and "REC-1" not in shown and "PRACTICE-REC" in shown
    whole(client)
    shown = page(client)
    assert "hold passed" in shown
    assert "Nothing stands in the way." in shown, re.findall(r'name="reason-[^"]+"', shown)
    answer = sign(client)
    said = text(answer)
    assert answer.status_code == 200, said
    assert "Practised: this is what would have been posted" in said and BAND in said
    assert "PRACTICE-1 to the unit" in said and "the unit to PRACTICE-REC" in said and "500 g" in said
    assert KEPT not in client.session
    assert everything() == before and verify().faults == []
    assert client.get(JOB).url == "/jobs/new/"
    assert "is signed as voucher" not in text(client.get("/"))


def test_each_request_leaves_everything_as_it_was(bay, technician_client):  # noqa: F811
    before = everything()
    client = begun(technician_client)
    for act in (
        lambda: client.get(JOB),
        lambda: client.get(f"{JOB}hose/", {"length_m": "2", "inner_diameter_mm": "5", "phase": "liquid"}),
        lambda: client.post(f"{JOB}clock/evacuation_started/"),
        lambda: client.post(
            f"{JOB}ports/", {"ports": "behind the grille", "key": "0b6d9c3e-3a8e-4b5e-9d0e-2f1f2a3b4c5d"}
        ),
        lambda: client.post(f"{JOB}entry/", {"action": "charge", "quick": "before", "before": "x"}),
        lambda: client.post(f"{JOB}step/nothing/"),
        lambda: client.post(f"{JOB}sign/", {"version": "7"}),
        lambda: client.get(f"{JOB}version/"),
    ):
        assert act().status_code < 500
        assert everything() == before
    assert "behind the grille" in page(client)


def test_what_was_tapped_keeps_its_moment_and_time_can_be_let_pass(bay, technician_client):  # noqa: F811
    client = begun(technician_client)
    client.post(f"{JOB}clock/evacuation_started/")
    running = re.search(r'data-running="(\d+)"', page(client))[1]
    assert int(running) < 120
    client.post("/jobs/practice/pass/")
    assert 1800 <= int(re.search(r'data-running="(\d+)"', page(client))[1]) < 1800 + 120


def test_what_a_phone_kept_says_when_it_was(bay, technician_client):  # noqa: F811
    client = begun(technician_client)
    client.post("/jobs/practice/pass/")
    tapped = (dt.datetime.now(dt.UTC) - dt.timedelta(minutes=12)).isoformat()
    client.post(f"{JOB}clock/evacuation_started/", {"tapped": tapped}, headers={"HX-Request": "true"})
    assert 12 * 60 <= int(re.search(r'data-running="(\d+)"', page(client))[1]) < 14 * 60


def test_the_rules_are_the_real_ones(bay, technician_client):  # noqa: F811
    client = begun(technician_client)
    answer = fill(client, f"{JOB}entry/", {"action": "oil-add", "quick": "quantity"}, quantity="900 mL")
    assert answer.status_code == 422 and BAND in answer.content.decode()
    assert notes(client)["posts"] == []


def test_a_real_container_is_refused(bay, technician_client):  # noqa: F811
    client = begun(technician_client)
    answer = fill(
        client, f"{JOB}entry/", {"action": "charge", "quick": "before"}, before="440 g", container="CAN-1", pick=""
    )
    assert answer.status_code == 422 and "CAN-1 is a real container, and this is practice" in text(answer)
    answer = client.get(JOB, {"scanned": "CAN-1"}, follow=True)
    assert "CAN-1 is a real container" in text(answer)
    assert client.get(JOB, {"scanned": "PRACTICE-2"}).status_code == 200


@pytest.mark.parametrize(
    ("address", "sentence"),
    [
        ("photos/", "Practice keeps no photos"),
        ("photos/3/", "Practice keeps no photos"),
        ("finger/", "Practice takes no customer’s signature"),
        ("finger/back/", "Practice takes no customer’s signature"),
        ("hands/", "You practise alone"),
        ("hands/3/end/", "You practise alone"),
        ("hand-over/", "You practise alone"),
        ("correct/", "A practice job is not corrected"),
        ("sheet.pdf", "A practice job has no sheet"),
        ("customer-sheet.pdf", "A practice job has no sheet"),
    ],
)
def test_what_practice_does_without_is_said(bay, technician_client, address, sentence):  # noqa: F811
    client = begun(technician_client)
    scripted = client.post(JOB + address, headers={"HX-Request": "true"})
    assert scripted.status_code == 422 and sentence in text(scripted)
    assert sentence in text(client.post(JOB + address, follow=True))


def test_a_signature_that_is_refused_keeps_its_reasons(bay, technician_client):  # noqa: F811
    client = begun(technician_client)
    assert fill(client, f"{JOB}step/repair/", system_opened="on").status_code == 302
    weigh(client, "charge", "before", "438 g")
    weigh(client, "charge", "after", "98 g")
    keys = set(re.findall(r'name="(reason-[^"]+)"', page(client)))
    assert len(keys) > 1
    first, *others = sorted(keys)
    answer = sign(client, **{first: "as agreed"})
    assert answer.status_code == 422
    assert "as agreed" in page(client)
    answer = sign(client, **dict.fromkeys(others, "as agreed too"))
    assert answer.status_code == 200 and "Practised" in text(answer)


def test_a_clock_that_was_tapped_beside_a_fault_stays(bay, technician_client):  # noqa: F811
    client = begun(technician_client)
    said = {"test_medium": "nitrogen", "test_start_said": "nonsense"}
    found = [one for to, one in forms_of(page(client)) if to == f"{JOB}step/test/"][0]
    answer = client.post(f"{JOB}clock/test_started/", {**found, **said})
    assert answer.status_code == 422
    assert "under pressure" in page(client)


def test_it_takes_so_many_entries_and_no_book(bay, technician_client):  # noqa: F811
    client = begun(technician_client)
    answer = client.post(f"{JOB}step/start/", {"complaint": "x" * 30_000}, follow=True)
    assert "more text than practice keeps" in text(answer)
    client.post(f"{JOB}skip/test/", {"reason": "not today"})
    noted(client, posts=(notes(client)["posts"] * MOST)[:MOST])
    answer = client.post(f"{JOB}skip/oil/", {"reason": "not today"}, follow=True)
    assert f"takes {MOST} entries" in text(answer)
    assert len(notes(client)["posts"]) == MOST


def test_one_that_cannot_go_on_begins_anew_and_says_so(bay, technician_client):  # noqa: F811
    client = begun(technician_client)
    weigh(client, "charge", "before", "438 g")
    posts = notes(client)["posts"]
    posts[0][1] = [[name, "1 g" if name == "before" else value] for name, value in posts[0][1]]
    noted(client, posts=posts)
    answer = client.get(JOB, follow=True)
    assert answer.status_code == 200 and "It begins anew below" in text(answer)
    assert notes(client)["posts"] == []


def test_it_ends_when_it_is_ended_given_up_or_old(bay, technician_client):  # noqa: F811
    client = begun(technician_client)
    assert "Nothing of it was kept" in text(client.post("/jobs/practice/end/", follow=True))
    assert "No practice is under way" in text(client.get(JOB, follow=True))
    scripted = client.post(f"{JOB}clock/evacuation_started/", headers={"HX-Request": "true"})
    assert scripted.status_code == 404 and "No practice is under way" in text(scripted)
    begun(client)
    assert "Nothing of it was kept" in text(client.post(f"{JOB}drop/", follow=True))
    begun(client)
    noted(client, began=(dt.datetime.now(dt.UTC) - dt.timedelta(hours=13)).isoformat())
    assert "No practice is under way" in text(client.get(JOB, follow=True))


def test_beginning_twice_goes_on(bay, technician_client):  # noqa: F811
    client = begun(technician_client)
    client.post(f"{JOB}clock/evacuation_started/")
    begun(client)
    assert len(notes(client)["posts"]) == 1


def test_it_is_its_persons_alone(bay, technician_client, office_client, office):  # noqa: F811
    client = begun(technician_client)
    client.post(f"{JOB}clock/evacuation_started/")
    assert office_client.get(JOB).url == "/jobs/new/"
    session = client.session
    session[KEPT] = {**session[KEPT], "person": office.pk}
    session.save()
    assert client.get(JOB).url == "/jobs/new/"


def test_an_open_page_that_asks_by_itself_holds_nobody_up(bay, technician_client, django_assert_max_num_queries):  # noqa: F811
    client = begun(technician_client)
    client.post(f"{JOB}clock/evacuation_started/")
    version = int(re.search(r'name="version" value="(\d+)"', page(client))[1])
    with django_assert_max_num_queries(6) as asked:
        answer = client.get(f"{JOB}version/")
    assert answer.json() == {"version": version, "draft": True}
    assert not any("inventory_chainhead" in one["sql"] for one in asked.captured_queries)


@pytest.mark.parametrize("role", ["technician", "office", "owner"])
def test_a_shop_with_nothing_in_it(shop, role):
    """No stock, no scale, no certificate, no other rulebook than the one that says nothing."""
    person = Person.objects.create_user("nora", password="wet pump 7 am", name="Nora New", role=role)
    client = Client()
    client.force_login(person)
    before = everything()
    begun(client)
    whole(client)
    keys = re.findall(r'name="(reason-[^"]+)"', page(client))
    answer = sign(client, **dict.fromkeys(keys, "in practice"))
    assert answer.status_code == 200, text(answer)[-3000:]
    assert "Practised" in text(answer)
    assert everything() == before and not Job.objects.exists() and not Container.objects.exists()


def test_visitors_and_inspectors_have_no_practice(shop):
    assert "/sign-in" in Client().post("/jobs/practice/start/").url
    assert "/sign-in" in Client().get(JOB).url


def test_where_today_takes_no_entries_it_is_said(bay, technician_client, monkeypatch):  # noqa: F811
    client = begun(technician_client)
    from inventory.text.refusal import Refused
    from jobs.practice import invented

    def refuses(**_):
        raise Refused("All days up to today are sealed.")

    monkeypatch.setattr(invented, "open_stock", refuses)
    answer = client.get(JOB, follow=True)
    assert "Practice cannot begin just now: All days up to today are sealed." in text(answer)
    assert KEPT not in client.session


def test_practise_a_job_stands_on_its_page(shop, technician_client):
    shown = technician_client.get("/jobs/new/").content.decode()
    assert [to for to, _ in forms_of(shown) if "practice" in to] == ["/jobs/practice/start/"]


# -- two at the same moment ----------------------------------------------------------------------------------------


@pytest.fixture
def at_once(monkeypatch):
    """Do something while a request is under way that has read the notes already: so many times."""
    from jobs.practice import middleware

    asked = middleware._refusal

    def begin(act, times=1):
        left = [act] * times

        def before(*said):
            refusal = asked(*said)
            if left:
                left.pop()()
            return refusal

        monkeypatch.setattr(middleware, "_refusal", before)

    return begin


def paths(client):
    return [path for path, *_ in notes(client)["posts"]]


def skipped(client, step):
    return client.post(f"{JOB}skip/{step}/", {"reason": "not today"})


def test_of_two_at_once_both_are_noted(bay, technician_client, at_once):  # noqa: F811
    client = begun(technician_client)
    answers = []
    at_once(lambda: answers.append(skipped(client, "repair").status_code))
    answers.append(skipped(client, "test").status_code)
    assert answers == [302, 302]
    assert paths(client) == [f"{JOB}skip/repair/", f"{JOB}skip/test/"]


def test_time_passes_for_what_was_noted_meanwhile(bay, technician_client, monkeypatch):  # noqa: F811
    from jobs.practice import kept

    client = begun(technician_client)
    skipped(client, "test")
    passed, left = kept.Practice.let_pass, [1]

    def meanwhile(practice):
        passed(practice)
        if left.pop() if left else False:
            noted(client, posts=[*notes(client)["posts"], *notes(client)["posts"]])

    monkeypatch.setattr(kept.Practice, "let_pass", meanwhile)
    client.post("/jobs/practice/pass/")
    assert len(paths(client)) == 2 and "30 minutes have passed" in text(client.get(JOB))


def test_where_it_never_is_alone_it_is_told_to_go_again(bay, technician_client, at_once):  # noqa: F811
    client = begun(technician_client)
    versions = iter(range(100, 200))
    at_once(lambda: noted(client, version=next(versions)), times=9)
    answer = client.post(f"{JOB}skip/test/", {"reason": "not today"}, headers={"HX-Request": "true"})
    assert answer.status_code == 409 and "enter this one again" in text(answer)
    assert paths(client) == [], "what was told to go again is not noted"


def test_a_signature_is_of_all_that_was_noted(bay, technician_client, at_once):  # noqa: F811
    client = begun(technician_client)
    whole(client)
    versions = iter(range(100, 200))
    page(client)
    at_once(lambda: noted(client, version=next(versions)), times=1)
    answer = client.post(f"{JOB}sign/", next(one for to, one in forms_of(page(client)) if to == f"{JOB}sign/"))
    assert answer.status_code == 200 and "Practised" in text(answer)
    assert KEPT not in client.session


def test_its_notes_outlive_a_session_that_is_written_back_whole(bay, technician_client):  # noqa: F811
    """As a page does that was asked for before, and leaves a notice."""
    client = begun(technician_client)
    before = client.session
    dict(before)
    skipped(client, "test")
    before["notice"] = "of another page"
    before.save()
    assert paths(client) == [f"{JOB}skip/test/"]


def test_many_entries_are_said(bay, technician_client):  # noqa: F811
    client = begun(technician_client)
    skipped(client, "test")
    assert "entries are used" not in page(client)
    noted(client, posts=(notes(client)["posts"] * 25)[:25])
    assert f"25 of {MOST} entries are used" in re.sub(r"\s+", " ", page(client))
