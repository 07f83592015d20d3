"""A shared phone locks; wrong PINs end what lets somebody come back; and a PIN opens nothing that asks who one is."""

import datetime as dt
import re

import pytest
from axes.models import AccessAttempt, AccessLog
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import get_resolver

from inventory.ledger.actions import writing
from inventory.ledger.models import Record
from inventory.ledger.verify import verify
from inventory.shop.clock import today
from jobs.people.models import Person
from shopledger.inspectors.actions import issue_access
from shopledger.shared_phone.actions import is_right
from shopledger.signin import pins, second, standing
from shopledger.signin.middleware import ASKS_AGAIN
from shopledger.signin.models import Phone, Pin, SignIn, Standing, WrongGuess
from tests.conftest import PASSWORD
from tests.shopledger.test_shared_phone import (  # noqa: F401 (fixtures)
    PINS,
    by_pin,
    fully,
    noon,
    phone,
    share,
    text,
    timur,
    who,
)
from tests.shopledger.test_sign_ins import move_clock
from tests.shopledger.test_signin import code_of, counting, sign_in  # noqa: F401 (a fixture)

pytestmark = pytest.mark.django_db
MINUTE = dt.timedelta(minutes=1)
PART = {"HX-Request": "true", "HX-Current-URL": "http://testserver/jobs/5/"}


@pytest.fixture
def shared(noon, phone):  # noqa: F811
    """The shop's phone: Timur is there, and Tess may come back."""
    share(phone)
    return phone


def set_minutes(shop, minutes):
    shop.lock_minutes = minutes
    with writing():
        shop.save()


# -- wrong PINs ------------------------------------------------------------------------------------------------


def test_the_fifth_wrong_pin_asks_for_the_full_sign_in(phone, technician, timur):  # noqa: F811
    for number in range(4):
        answer = by_pin(phone, technician, f"90513{number}")
        assert answer.status_code == 422 and "This is not the PIN" in answer.content.decode()
        assert not re.search(r"\b(tries|left|five|four|three|two|one more)\b", answer.content.decode())
    last = by_pin(phone, technician, "905139")
    assert last.url == "/sign-in/?fully=yes" and who(phone) == "timur"
    assert by_pin(phone, technician).url == last.url, "the right one neither, and it is answered alike"
    assert not Standing.objects.filter(person=technician).exists()
    assert Standing.objects.get(person=timur).wrong == 0
    phone.post("/sign-in/somebody-else/")
    fully(phone, technician)
    assert Standing.objects.get(person=technician).wrong == 0
    assert "5 wrong PINs were typed for you on Chrome on Android" in text(phone, "/")


def test_right_ones_between_take_no_wrong_one_back(phone, technician, timur):  # noqa: F811
    for number in range(4):
        assert by_pin(phone, technician, f"90513{number}").status_code == 422
        assert by_pin(phone, technician).url == "/"
        by_pin(phone, timur)
    assert by_pin(phone, technician, "905139").url == "/sign-in/?fully=yes"
    assert by_pin(phone, technician).url == "/sign-in/?fully=yes"


def test_what_is_no_pin_guesses_nothing(phone, technician):  # noqa: F811
    for _ in range(7):
        assert phone.post(f"/sign-in/people/{technician.pk}/", {"pin": ""}).status_code == 422
    assert Standing.objects.get(person=technician).wrong == 0 and by_pin(phone, technician).url == "/"


@pytest.mark.parametrize("odd", ["\0", "9" * 400, "'; DROP TABLE x; --", "१२३४५६", "7305 18"])
def test_odd_ones_are_wrong_ones(phone, technician, odd):  # noqa: F811
    assert by_pin(phone, technician, odd).status_code in {400, 422} and who(phone) == "timur"


def test_many_at_once_are_five_at_most(phone, technician, rf, monkeypatch):  # noqa: F811
    """Each is counted before it is looked at: while four are being looked at, the sixth is not."""
    held, looked, request = Standing.objects.select_related("person", "phone").get(person=technician), [], rf.post("/")

    def fits(person, pin):
        looked.append(pin)
        if len(looked) < 9:
            is_right(request, held, f"in the meantime {len(looked)}")
        return False

    monkeypatch.setattr("shopledger.shared_phone.actions.pins.fits", fits)
    assert not is_right(request, held, "first")
    assert len(looked) == standing.MOST_WRONG and not Standing.objects.filter(pk=held.pk).exists()


def test_the_fifth_ends_the_sign_in_that_stands_there(shared, technician, timur):  # noqa: F811
    by_pin(shared, technician)
    second_browser = Client()
    second_browser.cookies["phone"] = shared.cookies["phone"].value  # the same phone, in a window without its session
    for number in range(5):
        by_pin(second_browser, technician, f"90513{number}")
    assert who(shared) == ""


@pytest.mark.usefixtures("counting")
def test_it_neither_counts_as_a_password_nor_takes_wrong_ones_back(phone, technician, timur):  # noqa: F811
    known = AccessLog.objects.count()
    for number in range(5):
        by_pin(phone, technician, f"90513{number}")
    assert not AccessAttempt.objects.exists() and not WrongGuess.objects.exists()
    assert sign_in(Client(), password=PASSWORD, address="10.0.0.1").status_code == 302, "nobody is shut out by it"
    known = AccessLog.objects.count()
    for _ in range(3):
        sign_in(Client(), username="timur", password="wrong", address="10.0.0.1")
    phone.post("/sign-in/somebody-else/")
    assert by_pin(phone, timur).url == "/"
    attempt = AccessAttempt.objects.get(username="timur")
    assert attempt.failures_since_start == 3 and AccessLog.objects.count() == known


# -- the lock --------------------------------------------------------------------------------------------------


def test_it_locks_after_the_shop_s_minutes_and_says_who_was_here(shared, technician, timur, monkeypatch):  # noqa: F811
    move_clock(monkeypatch, 9 * MINUTE)
    assert who(shared) == "timur"
    move_clock(monkeypatch, 9 * MINUTE)
    assert who(shared) == "timur", "each use counts"
    move_clock(monkeypatch, 10 * MINUTE)
    answer = shared.get("/jobs/?state=draft")
    assert answer.url == "/sign-in/?next=/jobs/%3Fstate%3Ddraft"
    answer = shared.get(answer.url)
    assert answer.url == f"/sign-in/people/{timur.pk}/?next=%2Fjobs%2F%3Fstate%3Ddraft"
    page = shared.get(answer.url).content.decode()
    assert "Locked. Timur Test was here." in page and 'name="pin"' in page and 'href="/sign-in/people/"' in page
    assert 'data-key=""' in page and 'class="nav"' not in page
    assert by_pin(shared, timur, next="/jobs/?state=draft").url == "/jobs/?state=draft" and who(shared) == "timur"


def test_another_person_takes_it(shared, technician, timur, monkeypatch):  # noqa: F811
    move_clock(monkeypatch, 10 * MINUTE)
    page = text(shared, "/sign-in/people/")
    assert "Timur Test was here last" in page and "Tess Test" in page and 'data-key=""' in page
    assert by_pin(shared, technician).url == "/" and who(shared) == "tess"
    page = text(shared, "/sign-in/people/")
    assert "Timur Test</a>" in page


def test_nothing_that_is_sent_to_a_locked_phone_is_done(shared, timur, monkeypatch):  # noqa: F811
    move_clock(monkeypatch, 10 * MINUTE)
    assert shared.post("/me/units/", {"mass_unit": "oz", "volume_unit": "mL"}).url == "/sign-in/?next=/me/units/"
    assert Person.objects.get(pk=timur.pk).mass_unit != "oz"
    assert who(shared) == ""


def test_a_part_of_a_page_is_answered_as_when_a_sign_in_ended(shared, timur, monkeypatch):  # noqa: F811
    """So the phone keeps the entry (outbox.js, `noSignIn`)."""
    move_clock(monkeypatch, 10 * MINUTE)
    answer = shared.post("/jobs/5/entry/", {"container": "CAN-1"}, headers=PART)
    assert answer.headers["HX-Redirect"] == "/sign-in/?next=%2Fjobs%2F5%2F"
    ended = Client()
    fully(ended, timur)
    SignIn.objects.all().delete()
    assert ended.post("/jobs/5/entry/", {}, headers=PART).headers["HX-Redirect"] == answer.headers["HX-Redirect"]


@pytest.mark.parametrize("address", ["/nothing-here/", "/no\0thing/", "/sign-in/people/", "/sign-in/?fully=yes"])
def test_no_page_of_a_locked_phone_shows_its_person_s(shared, timur, monkeypatch, address):  # noqa: F811
    assert 'data-key=""' not in shared.get("/nothing-here/").content.decode()
    move_clock(monkeypatch, 10 * MINUTE)
    page = shared.get(address).content.decode()
    assert ('data-key=""' in page or "data-key" not in page) and 'class="nav"' not in page


@pytest.mark.parametrize(
    ("minutes", "after", "there"), [(0, 110, "timur"), (1, 1, ""), (30, 29, "timur"), (30, 30, "")]
)
def test_the_shop_sets_the_minutes(shared, shop, monkeypatch, minutes, after, there):
    set_minutes(shop, minutes)
    assert who(shared) == "timur"
    move_clock(monkeypatch, after * MINUTE)
    assert who(shared) == there


def test_the_owner_sets_them_on_the_page_and_the_record_says_so(shop, owner_client):
    said = owner_client.get("/settings/").context["form"].initial
    assert said["lock_minutes"] == 10
    fields = {name: "" if value is None else value for name, value in said.items()}
    wrong = owner_client.post("/settings/", {**fields, "lock_minutes": "721"})
    assert wrong.status_code == 422
    assert owner_client.post("/settings/", {**fields, "lock_minutes": "25"}).status_code == 302
    shop.refresh_from_db()
    assert shop.lock_minutes == 25 and '"lock_minutes":25' in Record.objects.filter(kind="settings").latest("id").body
    assert verify().faults == []


def test_only_a_phone_that_somebody_called_shared_locks(noon, phone, technician, timur, monkeypatch):  # noqa: F811
    fully(desk := Client(), technician)
    move_clock(monkeypatch, 60 * MINUTE)
    assert who(phone) == "timur" and who(desk) == "tess"
    share(phone)
    assert "locks after 10 minutes" in text(phone, "/sign-in/people/")
    move_clock(monkeypatch, 11 * MINUTE)
    assert who(phone) == "" and who(desk) == "tess"
    by_pin(phone, timur)
    assert "one person" in phone.post("/sign-in/shared/", {"shared": "no"}, follow=True).content.decode()
    move_clock(monkeypatch, 60 * MINUTE)
    assert who(phone) == "timur"


def test_it_locks_for_who_has_no_pin_too_and_asks_for_the_password(noon, shop, technician, monkeypatch):  # noqa: F811
    client = Client()
    fully(client, technician)
    share(client)
    move_clock(monkeypatch, 10 * MINUTE)
    page = text(client, "/jobs/")
    assert "Tess Test was here last. No PIN lets anybody in" in page and 'name="password"' in page
    fully(client, technician)
    move_clock(monkeypatch, 10 * MINUTE)
    assert who(client) == "", "it is still the shared phone"


def test_a_touch_counts_and_a_page_that_looks_by_itself_does_not(shared, monkeypatch):
    move_clock(monkeypatch, 9 * MINUTE)
    assert shared.get("/sign-in/touched/", headers={"HX-Request": "true"}).status_code == 204
    shared.get("/jobs/1/version/", headers={"HX-Request": "true"})
    move_clock(monkeypatch, MINUTE)
    answer = shared.get("/sign-in/touched/", headers={"HX-Request": "true"})
    assert answer.headers["HX-Redirect"].startswith("/sign-in/")


def test_a_touch_that_sends_nothing_else_keeps_it_open(shared, monkeypatch):
    for _ in range(3):
        move_clock(monkeypatch, 9 * MINUTE)
        assert shared.post("/sign-in/touched/").status_code == 204
    assert who(shared) == "timur"


def test_a_page_that_unlocks_itself_stays_where_it_is(shared, timur, technician, monkeypatch):  # noqa: F811
    move_clock(monkeypatch, 10 * MINUTE)
    shared.get("/sign-in/touched/", headers={"HX-Request": "true"})
    wrong = shared.post(f"/sign-in/people/{timur.pk}/", {"pin": "905130"}, headers={"HX-Request": "true"})
    assert wrong.status_code == 422 and 'class="thumb' in wrong.content.decode()
    right = shared.post(f"/sign-in/people/{timur.pk}/", {"pin": PINS["timur"]}, headers={"HX-Request": "true"})
    assert right.status_code == 204 and who(shared) == "timur"


def test_a_locked_sign_in_is_listed_as_none(shared, timur, monkeypatch):  # noqa: F811
    fully(desk := Client(), timur)
    there = "the sign-in with Chrome on Android"
    assert there in text(desk, "/me/sign-ins/")
    move_clock(monkeypatch, 10 * MINUTE)
    assert there not in text(desk, "/me/sign-ins/")


def test_the_pages_say_that_they_lock_on_a_shared_phone_alone(phone):  # noqa: F811
    assert 'id="lock"' not in text(phone, "/")
    share(phone)
    assert 'id="lock" data-minutes="10"' in text(phone, "/")


# -- what a PIN never does -------------------------------------------------------------------------------------


def test_a_pin_opens_nothing_that_asks_who_one_is(phone, technician, timur):  # noqa: F811
    """Within the minutes of the full sign-in too."""
    by_pin(phone, technician)
    assert phone.get("/me/second-factor/").url == "/me/again/?next=%2Fme%2Fsecond-factor%2F"
    for name in ("me/pin/", "me/pin/remove/", "me/sign-ins/end/", "me/paper-codes/"):
        assert "/me/again/" in phone.post(f"/{name}", {"pin": "502846", "pin_again": "502846"}).url, name
    refused = phone.post("/me/again/", {"password": PINS["tess"], "next": "/me/pin/"})
    assert refused.status_code == 422 and pins.fits(technician, PINS["tess"])
    assert phone.post("/me/again/", {"password": PASSWORD, "next": "/me/pin/"}).url == "/me/pin/"
    assert phone.get("/me/pin/").status_code == 200


def test_of_an_owner_every_such_page(shop, owner, technician, monkeypatch):
    pins.set_pin(owner, PINS["olive"])
    client = Client()
    fully(client, owner)
    client.post("/sign-in/somebody-else/")
    by_pin(client, owner)
    for address in ("/settings/", "/people/new/", "/inspectors/", "/seals/new/", f"/people/{technician.pk}/edit/"):
        assert client.get(address).url.startswith("/me/again/"), address
    names = {name for name in get_resolver().reverse_dict if isinstance(name, str)}
    assert names >= ASKS_AGAIN


def test_the_second_factor_too_is_asked_again(shop, technician):
    second.confirm(technician, code_of(second.prepare(technician)))
    pins.set_pin(technician, PINS["tess"])
    client = Client()
    device = technician.totpdevice_set.get()
    device.last_t = -1
    device.save()
    fully(client, technician, code_of(device))
    client.post("/sign-in/somebody-else/")
    assert by_pin(client, technician).url == "/", "coming back asks for the PIN alone"
    assert client.post("/me/again/", {"password": PASSWORD, "next": "/me/pin/"}).status_code == 422
    assert client.get("/me/pin/").url.startswith("/me/again/")


def test_the_password_alone_lets_nobody_stand_there_who_has_a_second_factor(shop, technician):
    second.confirm(technician, code_of(second.prepare(technician)))
    pins.set_pin(technician, PINS["tess"])
    client = Client()
    answer = client.post("/sign-in/", {"username": "tess", "password": PASSWORD, "code": ""})
    assert answer.status_code == 200 and not Standing.objects.exists() and "phone" not in client.cookies


def test_who_proved_who_they_are_stands_by_themself(noon, phone, technician, monkeypatch):  # noqa: F811
    by_pin(phone, technician)
    phone.post("/me/again/", {"password": PASSWORD, "next": "/me/pin/"})
    assert phone.post("/me/pin/", {"pin": "502846", "pin_again": "502846"}).status_code == 302
    assert who(phone) == "tess" and SignIn.objects.get(person=technician).how == "PIN"
    assert Standing.objects.get(person=technician).wrong == 0
    phone.post("/sign-in/somebody-else/")
    assert by_pin(phone, technician, "502846").url == "/"


def test_no_inspector_by_pin(shop, owner, technician):
    access, password = issue_access(name="Ira", first=today(), last=today(), until=today(), by=owner)
    inspector = access.person
    client = Client()
    assert sign_in(client, inspector.username, password).status_code == 302
    assert client.get("/me/pin/").status_code == 403 and client.get("/sign-in/people/").status_code == 403
    Pin.objects.create(person=inspector, hashed="x")
    client.post("/sign-out/")
    sign_in(client, inspector.username, password)
    assert not Standing.objects.exists()
    pins.set_pin(technician, PINS["tess"])
    other = Client()
    fully(other, technician)
    until = Standing.objects.get().until
    pins.set_pin(inspector, PINS["oscar"])
    Standing.objects.create(phone=Phone.objects.get(), person=inspector, until=until)
    assert by_pin(other, inspector, PINS["oscar"]).url == "/sign-in/?fully=yes"
    assert "Ira" not in text(other, "/sign-in/people/")


def test_a_second_factor_that_is_demanded_meanwhile_is_led_to(phone, shop, technician):  # noqa: F811
    shop.second_factor_roles = ["technician"]
    with writing():
        shop.save()
    by_pin(phone, technician)
    assert phone.get("/jobs/").url == "/me/second-factor/"
    assert phone.get("/sign-in/people/").status_code == 200, "who cannot set it up now makes room"


def test_a_form_of_who_was_there_before_is_not_taken_as_the_next_one_s(shop, technician, timur):  # noqa: F811
    strict = Client(enforce_csrf_checks=True, REMOTE_ADDR="10.0.0.1")
    origin = {"HTTP_ORIGIN": "http://testserver"}

    def token(address):
        return str(strict.get(address, follow=True).context["csrf_token"])

    for person in (technician, timur):
        pins.set_pin(person, PINS[person.username])
        data = {"username": person.username, "password": PASSWORD, "code": ""}
        data["csrfmiddlewaretoken"] = token("/sign-in/?fully=yes")
        assert strict.post("/sign-in/", data, **origin).status_code == 302
        if person == technician:
            strict.post("/sign-in/somebody-else/", {"csrfmiddlewaretoken": token("/")}, **origin)
    old = token("/me/units/")
    pin = {"pin": PINS["tess"], "csrfmiddlewaretoken": token(f"/sign-in/people/{technician.pk}/")}
    assert (
        strict.post(f"/sign-in/people/{technician.pk}/", {**pin, "csrfmiddlewaretoken": ""}, **origin).status_code
        == 403
    )
    assert strict.post(f"/sign-in/people/{technician.pk}/", pin, **origin).url == "/"
    units = {"mass_unit": "oz", "volume_unit": "mL", "csrfmiddlewaretoken": old}
    assert strict.post("/me/units/", units, **origin).status_code == 403
    sent = strict.post(
        "/me/units/", {**units, "csrfmiddlewaretoken": token("/me/units/")}, HTTP_X_PERSON=str(timur.pk), **origin
    )
    assert sent.status_code == 409, "a part of another's page says whose it is"


def test_no_page_asks_more_of_the_database_for_it(shared, technician, timur):  # noqa: F811
    """A sign-in on a known phone is found by one question, as any other."""
    fully(desk := Client(), technician)
    counts = []
    for client in (desk, shared):
        client.get("/me/units/")
        with CaptureQueriesContext(
            connection,
        ) as asked:
            client.get("/me/units/")
        counts.append(len(asked))
    assert counts[0] == counts[1]
