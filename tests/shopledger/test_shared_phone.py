"""Several people on one phone: coming back by PIN, what ends that, the lock, and what a PIN never does."""

import datetime as dt
import json
import logging
import zipfile

import pytest
from django.contrib.auth.hashers import check_password
from django.contrib.sessions.models import Session
from django.core.management import call_command
from django.test import Client

from inventory.ledger.models import Record
from inventory.ledger.verify import verify
from inventory.text.refusal import Refused
from jobs.people.actions import change_person, set_password
from jobs.people.models import Person
from shopledger.signin import machine, opened, pins, second, standing
from shopledger.signin.middleware import ASKS_AGAIN
from shopledger.signin.models import Phone, Pin, SignIn, Standing
from shopledger.signin.pin_rules import objection
from tests.conftest import PASSWORD
from tests.shopledger.test_sign_ins import PHONE, is_in, move_clock
from tests.shopledger.test_signin import code_of, counting  # noqa: F401 (a fixture)

pytestmark = pytest.mark.django_db
PINS = {"tess": "730518", "timur": "264907", "olive": "918264", "oscar": "502846"}


@pytest.fixture
def noon(monkeypatch):
    """10 at the shop, in Denver: 17 UTC; until its day is over are 14 hours."""
    at = dt.datetime(2026, 3, 2, 17, 0, tzinfo=dt.UTC)
    monkeypatch.setattr("django.utils.timezone.now", lambda: at)
    return at


@pytest.fixture
def timur(shop):
    return Person.objects.create_user("timur", password=PASSWORD, name="Timur Test", role="technician")


@pytest.fixture
def phone(shop, technician, timur):
    """A phone on which both technicians signed in in full today; Timur is there."""
    for person in (technician, timur):
        pins.set_pin(person, PINS[person.username])
    client = Client(REMOTE_ADDR="10.0.0.1", HTTP_USER_AGENT=PHONE)
    fully(client, technician)
    assert client.post("/sign-in/somebody-else/").url == "/sign-in/?fully=yes"
    fully(client, timur)
    return client


def fully(client, person, code=""):
    answer = client.post("/sign-in/", {"username": person.username, "password": PASSWORD, "code": code})
    assert answer.status_code == 302, answer.content.decode()


def by_pin(client, person, pin=None, **more):
    return client.post(f"/sign-in/people/{person.pk}/", {"pin": pin or PINS[person.username], **more})


def who(client):
    """The username that is signed in, blank for nobody."""
    answer = client.get("/")
    return answer.context["user"].username if answer.status_code == 200 else ""


def text(client, address):
    return client.get(address, follow=True).content.decode()


def share(client):
    assert client.post("/sign-in/shared/", {"shared": "yes"}).status_code == 302


# -- the PIN itself --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pin", "why"),
    [
        ("000000", "one digit six times"),
        ("777777", "one digit six times"),
        ("123456", "follow each other"),
        ("654321", "follow each other"),
        ("890123", "follow each other"),
        ("024680", "follow each other"),
        ("121212", "over and over"),
        ("123123", "over and over"),
        ("112233", "Many people"),
        ("111222", "Many people"),
        ("159753", "Many people"),
        ("12345", "six digits"),
        ("1234567", "six digits"),
        ("12345a", "six digits"),
        ("１２３９４５", "six digits"),
        ("", "six digits"),
    ],
)
def test_what_is_tried_first_is_refused_with_what_would_be_right(technician, pin, why):
    said = objection(pin)
    assert why in said and said.endswith(".")
    with pytest.raises(Refused, match=why):
        pins.set_pin(technician, pin)
    assert not Pin.objects.exists() and not Record.objects.filter(kind="sign-in").exists()


@pytest.mark.parametrize("pin", [*PINS.values(), "100002", "998877"[:4] + "12"])
def test_any_other_will_do(pin):
    assert objection(pin) == ""


def test_a_person_sets_changes_and_removes_it(shop, technician):
    client = Client(REMOTE_ADDR="10.0.0.1", HTTP_USER_AGENT=PHONE)
    fully(client, technician)
    assert "You have no PIN" in text(client, "/me/pin/")
    refused = client.post("/me/pin/", {"pin": "123456", "pin_again": "123456"})
    assert refused.status_code == 422 and "follow each other" in refused.content.decode()
    other = client.post("/me/pin/", {"pin": "730518", "pin_again": "730519"})
    assert other.status_code == 422 and "not the same six digits" in other.content.decode()
    assert "730518" not in other.content.decode() and not Pin.objects.exists()
    done = client.post("/me/pin/", {"pin": "730518", "pin_again": "730518"}, follow=True)
    assert "Your PIN is set" in done.content.decode()
    first = Pin.objects.get().hashed
    assert "730518" not in first and check_password("730518", first)
    client.post("/me/pin/", {"pin": "264907", "pin_again": "264907"})
    assert Pin.objects.get().hashed != first and pins.fits(technician, "264907")
    client.post("/me/pin/remove/")
    assert not Pin.objects.exists() and not Standing.objects.exists() and is_in(client)
    assert "There was no PIN" in client.post("/me/pin/remove/", follow=True).content.decode()
    told = [json.loads(one.body).get("PIN") for one in Record.objects.filter(kind="sign-in", key="tess").order_by("pk")]
    assert told == ["set", "changed", "removed"] and verify().faults == []


def test_two_people_with_the_same_pin_have_other_hashes(shop, technician, timur):
    for person in (technician, timur):
        pins.set_pin(person, "730518")
    assert len(set(Pin.objects.values_list("hashed", flat=True))) == 2


def test_the_password_is_asked_again_before_it_is_set_or_removed(shop, technician, owner, monkeypatch):
    pins.set_pin(technician, PINS["tess"])
    client, boss = Client(), Client()
    fully(client, technician)
    fully(boss, owner)
    move_clock(monkeypatch, dt.timedelta(minutes=30))
    assert {"pin", "pin-remove", "person-pin-remove"} <= ASKS_AGAIN
    assert client.get("/me/pin/").url.startswith("/me/again/")
    assert client.post("/me/pin/", {"pin": "264907", "pin_again": "264907"}).url.startswith("/me/again/")
    assert client.post("/me/pin/remove/").url.startswith("/me/again/")
    assert boss.post(f"/people/{technician.pk}/pin/remove/").url.startswith("/me/again/")
    assert pins.fits(technician, PINS["tess"])
    client.post("/me/again/", {"password": PASSWORD, "next": "/me/pin/"})
    assert client.post("/me/pin/", {"pin": "264907", "pin_again": "264907"}).status_code == 302
    assert pins.fits(technician, "264907")


def test_the_owner_takes_one_away_and_nobody_else(phone, technician, timur, owner, office_client):
    address = f"/people/{technician.pk}/pin/remove/"
    assert office_client.post(address).status_code == 403 and phone.post(address).status_code == 403
    boss = Client()
    fully(boss, owner)
    assert "Remove the PIN" in text(boss, f"/people/{technician.pk}/")
    boss.post(address)
    assert not pins.has_pin(technician) and pins.has_pin(timur)
    assert "Remove the PIN" not in text(boss, f"/people/{technician.pk}/")
    assert "Tess Test has no PIN" in boss.post(address, follow=True).content.decode()
    assert by_pin(phone, technician).url == "/sign-in/?fully=yes" and who(phone) == "timur"


def test_who_typed_too_many_wrong_ones_is_told_what_to_do(phone, technician, timur):
    """Also who is signed in meanwhile, and lands on their own first page."""
    for _ in range(standing.MOST_WRONG - 1):
        assert by_pin(phone, technician, "918273").status_code == 422
    answer = phone.post(f"/sign-in/people/{technician.pk}/", {"pin": "918273"}, follow=True)
    assert "5 PINs were wrong: on this phone Tess Test signs in with their password now." in answer.content.decode()
    assert who(phone) == "timur"


def test_it_is_in_no_record_no_log_and_no_backup(phone, technician, timur, tmp_path, caplog):
    caplog.set_level(logging.INFO)
    by_pin(phone, technician, "918273")
    by_pin(phone, technician)
    hashes = list(Pin.objects.values_list("hashed", flat=True))
    call_command("backup", str(tmp_path / "b.zip"))
    with zipfile.ZipFile(tmp_path / "b.zip") as kept:
        names = kept.namelist()
        whole = "".join(kept.read(name).decode("utf-8", "replace") for name in names)
    assert not [name for name in names if "_pin" in name or "standing" in name or "phone." in name]
    records = "".join(Record.objects.values_list("body", flat=True))
    for secret in (*PINS.values(), "918273", *hashes):
        assert secret not in records and secret not in caplog.text
        assert secret not in whole or len(secret) == 6 and secret.isdigit() and _by_chance(whole, secret)


def _by_chance(whole, digits):
    """Six digits may stand within a digest or a moment; never as a value of their own."""
    return f'"{digits}"' not in whole and f": {digits}" not in whole


# -- to and fro ------------------------------------------------------------------------------------------------


def test_a_tap_on_a_name_and_six_digits_and_there_one_is(phone, technician, timur):
    page = text(phone, "/sign-in/people/")
    assert "Timur Test is here now" in page and f'href="/sign-in/people/{technician.pk}/"' in page
    assert f'href="/sign-in/people/{timur.pk}/"' not in page
    before = phone.session.session_key
    assert by_pin(phone, technician).url == "/" and who(phone) == "tess"
    assert phone.session.session_key != before and not Session.objects.filter(pk=before).exists()
    assert by_pin(phone, timur).url == "/" and who(phone) == "timur"
    assert by_pin(phone, technician).url == "/" and who(phone) == "tess"
    assert SignIn.objects.count() == 1, "who changed away is signed in no more"


def test_the_sign_in_says_that_it_was_by_pin_and_the_log_tells_each(phone, technician, timur, caplog):
    caplog.set_level(logging.INFO, "shopledger.signin.told")
    by_pin(phone, technician)
    assert "by PIN" in text(phone, "/me/sign-ins/") and SignIn.objects.get().how == "PIN"
    by_pin(phone, timur)
    by_pin(phone, technician, "111111")
    said = [one.getMessage() for one in caplog.records]
    assert "signed in: tess, by PIN, from 10.0.0.1" in said and "signed in: timur, by PIN, from 10.0.0.1" in said
    assert "PIN refused: tess, from 10.0.0.1" in said


def test_it_says_where_somebody_comes_back_by_pin_and_ends_that(phone, technician, timur):
    desk = Client()
    fully(desk, technician)
    page = text(desk, "/me/sign-ins/")
    assert "Comes back by PIN" in page and "Chrome on Android" in page
    held = Standing.objects.get(person=technician, phone__browser="Chrome on Android")
    stranger = Standing.objects.get(person=timur)
    desk.post("/me/sign-ins/end/", {"standing": stranger.pk})
    assert Standing.objects.filter(pk=stranger.pk).exists(), "nobody ends another's"
    answer = desk.post("/me/sign-ins/end/", {"standing": held.pk}, follow=True)
    assert "That sign-in has ended" in answer.content.decode()
    assert by_pin(phone, technician).url == "/sign-in/?fully=yes" and is_in(desk)


def test_only_who_signed_in_there_in_full_today_and_on_this_browser(phone, technician, timur, office, noon):
    pins.set_pin(office, PINS["oscar"])
    other = Client()
    fully(other, office)
    assert by_pin(phone, office).url == "/sign-in/?fully=yes" and who(phone) == "timur"
    assert phone.get(f"/sign-in/people/{office.pk}/").url == "/sign-in/people/"
    assert phone.get("/sign-in/people/99999/").url == "/sign-in/people/", "as of a number that nobody has"
    assert by_pin(other, technician).url == "/sign-in/?fully=yes" and who(other) == "oscar"
    visitor = Client()
    assert visitor.get("/sign-in/people/").url == "/sign-in/?fully=yes"
    assert by_pin(visitor, technician).url == "/sign-in/?fully=yes" and who(visitor) == ""


def test_who_has_no_pin_is_on_no_list(shop, technician, timur):
    pins.set_pin(timur, PINS["timur"])
    client = Client()
    fully(client, technician)
    assert not Standing.objects.exists() and "phone" not in client.cookies
    assert "You have no PIN" in text(client, "/sign-in/people/")
    client.post("/sign-in/somebody-else/")
    fully(client, timur)
    assert "Tess Test" not in text(client, "/sign-in/people/")


def test_the_sign_in_page_asks_for_a_pin_first_and_for_a_password_where_that_is_wanted(phone, technician, timur):
    phone.post("/sign-out/")
    answer = phone.get("/sign-in/")
    assert answer.url == "/sign-in/people/" and "Tess Test" in text(phone, "/sign-in/")
    assert phone.get("/jobs/").url == "/sign-in/?next=/jobs/"
    assert phone.get("/sign-in/?next=/jobs/").url == "/sign-in/people/?next=%2Fjobs%2F"
    page = phone.get("/sign-in/?fully=yes")
    assert page.status_code == 200 and 'name="password"' in page.content.decode()


def test_the_next_page_is_one_of_this_site(phone, technician, timur):
    share(phone)
    for there, to in (("/jobs/", "/jobs/"), ("https://evil.example/", "/"), ("//evil.example/", "/"), ("home", "/")):
        phone.post("/sign-in/somebody-else/")
        assert by_pin(phone, timur, next=there).url == to
    assert by_pin(phone, technician, next="/jobs/").url == "/", "what another was about is not where one goes on"


# -- what is server-side truth ---------------------------------------------------------------------------------


def test_the_cookie_is_unguessable_signed_and_kept_as_a_digest(phone, shop, technician):
    cookie = phone.cookies["phone"]
    assert cookie["httponly"] and cookie["samesite"] == "Lax"
    said = cookie.value.split(":")[0]
    row = Phone.objects.get()
    assert len(said) >= 43 and said not in str(Phone.objects.values()[0]) and row.cookie == standing.digest(said)
    forged = Client()
    forged.cookies["phone"] = said
    assert by_pin(forged, technician).url == "/sign-in/?fully=yes" and who(forged) == ""
    forged.cookies["phone"] = cookie.value[:-1] + ("A" if cookie.value[-1] != "A" else "B")
    assert by_pin(forged, technician).url == "/sign-in/?fully=yes" and who(forged) == ""


def test_under_tls_it_is_this_host_s_alone(settings):
    settings.SESSION_COOKIE_SECURE = True
    assert standing.cookie_name() == "__Host-phone"


def test_a_copy_of_the_cookie_dies_with_the_next_full_sign_in(phone, technician, timur):
    copy = Client()
    copy.cookies["phone"] = phone.cookies["phone"].value
    assert copy.get("/sign-in/").url.startswith("/sign-in/people/")
    phone.post("/sign-out/")
    fully(phone, timur)
    assert copy.get("/sign-in/").status_code == 200 and by_pin(copy, technician).url == "/sign-in/?fully=yes"
    assert by_pin(phone, technician).url == "/", "the phone itself knows both"


def test_it_ends_with_the_shop_s_day(noon, phone, technician, timur, monkeypatch):
    """In Denver it is 10; the day is over at 7 UTC."""
    assert {one.until for one in Standing.objects.all()} == {dt.datetime(2026, 3, 3, 7, 0, tzinfo=dt.UTC)}
    move_clock(monkeypatch, dt.timedelta(hours=13, minutes=59))
    assert by_pin(phone, technician).url == "/" and who(phone) == "tess"
    move_clock(monkeypatch, dt.timedelta(minutes=1))
    assert who(phone) == "", "a sign-in by PIN ends with what it stands on"
    assert by_pin(phone, timur).url == "/sign-in/?fully=yes"


def test_and_after_fourteen_hours_where_the_day_is_longer(monkeypatch, shop, technician, timur):
    at = dt.datetime(2026, 3, 2, 8, 0, tzinfo=dt.UTC)  # 1 at night
    monkeypatch.setattr("django.utils.timezone.now", lambda: at)
    client = Client()
    pins.set_pin(technician, PINS["tess"])
    fully(client, technician)
    assert Standing.objects.get().until == at + standing.LASTS == at + dt.timedelta(hours=14)
    move_clock(monkeypatch, dt.timedelta(hours=14))
    assert by_pin(client, technician).url == "/sign-in/?fully=yes"


@pytest.mark.parametrize(
    "change",
    [
        lambda person, owner: set_password(person, by=owner, password="a very new lamp 1"),
        lambda person, owner: change_person(person, by=owner, role="office"),
        lambda person, owner: change_person(person, by=owner, is_active=False),
        lambda person, owner: second.confirm(person, code_of(second.prepare(person))),
        lambda person, owner: opened.end_sign_ins(person),
        lambda person, owner: pins.set_pin(person, "502846"),
        lambda person, owner: pins.remove_pin(person),
        lambda person, owner: machine.let_in(person.username, without_second_factor=False),
    ],
    ids=["password", "role", "leaving", "second factor", "signed out everywhere", "PIN", "no PIN", "let in"],
)
@pytest.mark.parametrize("is_there", [True, False])
def test_it_dies_with_what_changes_a_way_of_signing_in(phone, technician, timur, owner, change, is_there):
    if is_there:
        by_pin(phone, technician)
    change(technician, owner)
    for pin in (PINS["tess"], "502846"):
        assert by_pin(phone, technician, pin).url == "/sign-in/?fully=yes"
    assert who(phone) == ("" if is_there else "timur")
    if not is_there:
        return
    assert by_pin(phone, timur).url == "/" and who(phone) == "timur", "what is another's stays"


def test_a_password_that_its_person_changes_there_too(phone, technician):
    by_pin(phone, technician)
    new = {"new_password1": "quiet brass manifold", "new_password2": "quiet brass manifold"}
    assert phone.post("/me/password/", {"old_password": PASSWORD, **new}).status_code == 302
    assert who(phone) == "" and by_pin(phone, technician).url == "/sign-in/?fully=yes"


def test_all_others_end_elsewhere_and_this_phone_stays(phone, technician, timur):
    fully(desk := Client(), timur)
    assert phone.post("/me/sign-ins/end/").status_code == 302
    assert who(phone) == "timur" and not is_in(desk) and by_pin(desk, timur).url == "/sign-in/?fully=yes"
    by_pin(phone, technician)
    assert by_pin(phone, timur).url == "/"


def test_the_pin_goes_with_who_leaves_and_with_the_shop_s_hands(phone, technician, owner):
    change_person(technician, by=owner, is_active=False)
    assert not pins.has_pin(technician)
    pins.set_pin(owner, PINS["olive"])
    machine.hand_over("nadia", "Nadia New")
    assert not Pin.objects.exists() and not Phone.objects.exists() and not Standing.objects.exists()


def test_signing_out_ends_it_for_that_person_and_everybody_out_for_all(phone, technician, timur):
    by_pin(phone, technician)
    phone.post("/sign-out/")
    assert by_pin(phone, technician).url == "/sign-in/?fully=yes"
    assert by_pin(phone, timur).url == "/" and who(phone) == "timur"
    phone.post("/sign-in/somebody-else/")
    fully(phone, technician)
    share(phone)
    answer = phone.post("/sign-in/everybody-out/")
    assert answer.url == "/sign-in/?fully=yes" and "cache" in answer.headers["Clear-Site-Data"]
    assert who(phone) == "" and not Standing.objects.exists() and not SignIn.objects.exists()
    for person in (technician, timur):
        assert by_pin(phone, person).url == "/sign-in/?fully=yes"
    assert Phone.objects.get().shared and Phone.objects.get().here is None, "that it is shared stays"
    assert phone.post("/sign-in/everybody-out/").status_code == 302, "a second time does nothing"


def test_everybody_out_works_on_a_phone_where_nobody_is_signed_in_and_only_there(phone, technician, timur):
    fully(desk := Client(), timur)
    phone.post("/sign-in/somebody-else/")
    phone.post("/sign-in/everybody-out/")
    assert phone.get("/sign-in/").status_code == 200 and who(desk) == "timur"
    assert Standing.objects.get().person == timur


def test_what_is_over_is_cleared_away(noon, phone, technician, timur, monkeypatch):
    move_clock(monkeypatch, dt.timedelta(days=1))
    fully(Client(), technician)
    assert Standing.objects.count() == 1 and Phone.objects.count() == 2
    move_clock(monkeypatch, standing.KEPT)
    fully(Client(), technician)
    assert Phone.objects.count() == 1
