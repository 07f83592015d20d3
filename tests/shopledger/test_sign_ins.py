"""Where somebody is signed in, ending it, the limits of a sign-in, and a second factor that is demanded."""

import datetime as dt

import pytest
from django.contrib.sessions.models import Session
from django.db import OperationalError
from django.db.models.signals import post_save
from django.test import Client
from django.utils import timezone
from django_otp.plugins.otp_totp.models import TOTPDevice

from inventory.ledger.actions import writing
from inventory.ledger.models import Record
from inventory.ledger.verify import verify
from inventory.parties.models import Party
from inventory.shop.clock import today
from jobs.people.actions import change_person, set_password
from jobs.people.models import Person
from shopledger.inspectors.actions import issue_access
from shopledger.signin import opened, second
from shopledger.signin.browsers import called
from shopledger.signin.models import Notice, SignIn
from tests.conftest import PASSWORD
from tests.shopledger.test_signin import code_of, sign_in

pytestmark = pytest.mark.django_db
PHONE = (
    "Mozilla/5.0 (Linux; Android 14; Pixel 8) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/126.0 Mobile Safari/537.36"
)


def browser(person, address="10.0.0.1", agent=PHONE):
    client = Client(REMOTE_ADDR=address, HTTP_USER_AGENT=agent)
    answer = client.post("/sign-in/", {"username": person.username, "password": PASSWORD, "code": ""})
    assert answer.status_code == 302
    return client


def is_in(client):
    return client.get("/").status_code == 200


def move_clock(monkeypatch, by):
    at = timezone.now() + by
    monkeypatch.setattr("django.utils.timezone.now", lambda: at)


@pytest.mark.parametrize(
    ("agent", "words"),
    [
        (PHONE, "Chrome on Android"),
        ("Mozilla/5.0 (Windows NT 10.0; rv:127.0) Gecko/20100101 Firefox/127.0", "Firefox on Windows"),
        ("Mozilla/5.0 (Windows NT 10.0) AppleWebKit/537.36 Chrome/126.0 Safari/537.36 Edg/126.0", "Edge on Windows"),
        ("Mozilla/5.0 (iPhone; CPU iPhone OS 17_5 like Mac OS X) Version/17.5 Safari/604.1", "Safari on an iPhone"),
        ("curl/8", "an unknown program"),
        ("", "an unknown program"),
    ],
)
def test_a_browser_is_called_by_a_few_words(agent, words):
    assert called(agent) == words


def test_a_person_sees_where_they_are_signed_in_and_ends_one(shop, technician, office):
    phone, desk = browser(technician), browser(technician, "10.0.0.2", "Firefox/127.0 (Windows NT)")
    browser(office, "10.9.9.9")
    page = desk.get("/me/sign-ins/").content.decode()
    assert "Chrome on Android" in page and "Firefox on Windows" in page and "10.0.0.1" in page and "by password" in page
    assert page.count("this one") == 1 and "10.9.9.9" not in page
    key = phone.session.session_key
    assert Session.objects.filter(pk=key).exists()
    assert key not in str(list(SignIn.objects.values()))
    other = SignIn.objects.get(address="10.0.0.1")
    assert desk.post("/me/sign-ins/end/", {"one": other.pk}).status_code == 302
    assert not Session.objects.filter(pk=key).exists() and not is_in(phone) and is_in(desk)
    assert "1 ended" in Record.objects.filter(kind="sign-in", key="tess").latest("id").body
    assert verify().faults == []


def test_all_others_at_once(shop, technician):
    others, mine = [browser(technician) for _ in range(3)], browser(technician)
    mine.post("/me/sign-ins/end/")
    assert [is_in(one) for one in others] == [False] * 3 and is_in(mine)
    assert "There was nothing to end" in mine.post("/me/sign-ins/end/", follow=True).content.decode()


def test_nobody_ends_another_s_but_the_owner(shop, technician, office, owner):
    phone, desk, boss = browser(technician), browser(office), browser(owner)
    row = SignIn.objects.get(person=technician)
    desk.post("/me/sign-ins/end/", {"one": row.pk})
    assert desk.post(f"/people/{technician.pk}/sign-ins/end/", {"one": row.pk}).status_code == 403
    assert desk.get(f"/people/{technician.pk}/sign-ins/").status_code == 403 and is_in(phone)
    assert "Chrome on Android" in boss.get(f"/people/{technician.pk}/sign-ins/").content.decode()
    boss.post(f"/people/{technician.pk}/sign-ins/end/")
    assert not is_in(phone) and is_in(desk) and is_in(boss)
    for odd in ("", "x", "9" * 30, "-1"):
        boss.post(f"/people/{office.pk}/sign-ins/end/", {"one": odd})
    assert is_in(desk)
    again = browser(technician)
    assert "1 of your sign-ins was ended (by olive)" in again.get("/").content.decode()


@pytest.mark.parametrize(
    "change",
    [
        lambda person, owner: set_password(person, by=owner, password="a very new lamp 1"),
        lambda person, owner: change_person(person, by=owner, role="office"),
        lambda person, owner: change_person(person, by=owner, is_active=False),
        lambda person, owner: second.confirm(person, code_of(second.prepare(person))),
        lambda person, owner: opened.end_sign_ins(person),
    ],
    ids=["password", "role", "leaving", "second factor", "ended"],
)
def test_what_changes_a_way_of_signing_in_ends_the_sign_ins(shop, technician, owner, change):
    phone = browser(technician)
    change(technician, owner)
    assert not is_in(phone) and not SignIn.objects.exists() and not Session.objects.exists()


def test_who_comes_back_is_not_signed_in_by_an_old_session(shop, technician, owner):
    phone = browser(technician)
    change_person(technician, by=owner, is_active=False)
    change_person(technician, by=owner, is_active=True)
    assert not is_in(phone)


def test_a_change_of_the_name_ends_nothing(shop, technician, owner):
    phone = browser(technician)
    change_person(technician, by=owner, name="Tess Tested")
    assert is_in(phone)


def test_signing_out_takes_the_row(shop, technician):
    phone = browser(technician)
    phone.post("/sign-out/")
    assert not SignIn.objects.exists()


def test_sessions_that_are_over_are_cleared_away_at_the_next_sign_in(shop, technician, office, monkeypatch):
    monkeypatch.setattr(opened, "CLEARED_AT_ONCE", 2)
    kept = browser(office).session.session_key
    for number in range(3):
        Session.objects.create(session_key=f"over-{number}", session_data="", expire_date=timezone.now())
    for left in (1, 0):
        browser(technician)
        assert Session.objects.filter(pk__startswith="over-").count() == left
    assert Session.objects.filter(pk=kept).exists()


def test_what_a_visitor_is_given_ends_soon_and_what_signs_in_lasts_the_day(shop, technician):
    client = Client(HTTP_HOST="localhost")
    assert client.post("/sign-in/passkey/asked/").status_code == 200
    assert Session.objects.get().expire_date - timezone.now() <= opened.FRESH
    sign_in(client)
    assert client.session.get_expiry_age() == 12 * 3600
    assert client.post("/sign-in/passkey/asked/").status_code == 200
    assert client.session.get_expiry_age() == 12 * 3600, "nor is who is signed in cut short by asking"


def test_a_session_without_its_row_is_worth_nothing(shop, technician):
    phone = browser(technician)
    SignIn.objects.all().delete()
    assert phone.get("/sign-in/").status_code == 200, "it does not lead in circles"
    other = browser(technician)
    SignIn.objects.all().delete()
    assert "/sign-in/" in other.get("/jobs/").url


def test_it_ends_when_nobody_uses_it_and_after_a_working_day(shop, technician, monkeypatch):
    used, idle = browser(technician), browser(technician, "10.0.0.2")
    for _ in range(2):
        move_clock(monkeypatch, dt.timedelta(minutes=70))
        assert is_in(used)
    assert not is_in(idle)
    for _ in range(9):
        move_clock(monkeypatch, dt.timedelta(minutes=60))
        assert is_in(used)
    move_clock(monkeypatch, dt.timedelta(minutes=41))
    assert not is_in(used), "12 hours after it began"


def test_a_page_that_looks_by_itself_is_no_use(shop, technician, monkeypatch):
    phone = browser(technician)
    before = SignIn.objects.get().last_used
    move_clock(monkeypatch, dt.timedelta(minutes=70))
    phone.get("/jobs/1/version/", headers={"HX-Request": "true"})
    assert SignIn.objects.get().last_used == before


def test_a_database_that_takes_no_writing_still_shows_pages(shop, technician, monkeypatch):
    phone = browser(technician)
    move_clock(monkeypatch, dt.timedelta(minutes=5))
    monkeypatch.setattr("shopledger.signin.middleware.in_no_queue", lambda: (_ for _ in ()).throw(OperationalError()))
    assert is_in(phone)


def test_an_entry_that_was_recorded_is_said_to_be_so_when_the_sign_in_ends_meanwhile(shop, office):
    """Signed out in another window, or a backup was put in place of the ledger, between the posting and the answer."""
    desk = browser(office)

    def end_it(**_):
        Session.objects.all().delete()

    post_save.connect(end_it, sender=Party)
    try:
        answer = desk.post("/receiving/parties/new/", {"name": "Valve and Gauge", "role": "supplier"})
    finally:
        post_save.disconnect(end_it, sender=Party)
    assert Party.objects.filter(name="Valve and Gauge").exists()
    assert answer.status_code == 302 and "sign-in" not in answer.url
    assert "sign-in" in desk.get(answer.url).url


# -- what a person hears -----------------------------------------------------------------------------------------


def test_a_person_hears_on_the_next_page_what_changed(shop, technician, owner):
    set_password(technician, by=owner, password=PASSWORD + " 2")
    client = Client()
    sign_in(client, password=PASSWORD + " 2")
    assert "Your password was changed" in client.get("/").content.decode()
    assert "Your password was changed" not in client.get("/").content.decode(), "once"
    again = Client()
    sign_in(again, password=PASSWORD + " 2")
    assert "Your password was changed" not in again.get("/").content.decode()


def test_the_sign_in_that_did_it_is_not_told_and_others_are(shop, technician):
    mine, other = browser(technician), browser(technician)
    mine.post("/me/paper-codes/")  # nothing: there is no second factor yet
    assert not Notice.objects.exists()
    from tests.shopledger.test_passkeys import sent

    assert sent(mine, "/me/passkeys/asked/").status_code in {200, 422}
    Notice.objects.create(
        person=technician, said="A passkey was added.", by=SignIn.objects.get(pk=mine.session["sign_in"]).pk
    )
    assert "A passkey was added" not in mine.get("/").content.decode()
    assert "A passkey was added" in other.get("/").content.decode()


def test_a_password_hashed_anew_is_no_new_password(shop, technician, settings):
    settings.PASSWORD_HASHERS = [
        "django.contrib.auth.hashers.PBKDF2SHA1PasswordHasher",
        "django.contrib.auth.hashers.MD5PasswordHasher",
    ]
    client = browser(technician)
    assert Person.objects.get(pk=technician.pk).password.startswith("pbkdf2_sha1") and is_in(client)
    assert not Notice.objects.exists()


# -- a second factor that is demanded ----------------------------------------------------------------------------


@pytest.fixture
def demanded(shop):
    shop.second_factor_roles = ["technician", "inspector"]
    with writing():
        shop.save()


def test_the_owner_demands_it_in_the_settings_and_the_record_says_so(shop, owner_client, technician):
    said = owner_client.get("/settings/").context["form"].initial
    fields = {name: "" if value is None else value for name, value in said.items()}
    done = owner_client.post("/settings/", {**fields, "second_factor_roles": ["technician", "owner"]})
    assert done.status_code == 302
    shop.refresh_from_db()
    assert shop.second_factor_roles == ["technician", "owner"]
    assert "second_factor_roles" in Record.objects.filter(kind="settings").latest("id").body
    assert owner_client.get("/").url == "/me/second-factor/", "of the owner too, at once"


def test_who_has_none_is_led_to_it_and_reaches_nothing_else(demanded, technician, office):
    phone = browser(technician)
    for address in ("/", "/jobs/", "/me/units/", "/me/password/", "/me/sign-ins/", "/stock/"):
        assert phone.get(address).url == "/me/second-factor/", address
    assert phone.post("/me/units/", {"mass_unit": "oz", "volume_unit": "mL"}).url == "/me/second-factor/"
    assert phone.get("/jobs/", headers={"HX-Request": "true"}).headers["HX-Redirect"] == "/me/second-factor/"
    page = phone.get("/me/second-factor/")
    assert "The owner demands a second factor of your role" in page.content.decode()
    device = TOTPDevice.objects.get()
    assert phone.post("/me/second-factor/", {"code": code_of(device)}).status_code == 200
    assert is_in(phone) and is_in(browser(office))
    assert phone.post("/me/second-factor/", {"password": PASSWORD}).status_code == 422
    assert second.has_second_factor(technician)


def test_an_inspector_too(demanded, owner):
    access, password = issue_access(name="Ira", first=today(), last=today(), until=today(), by=owner)
    client = Client()
    sign_in(client, access.person.username, password)
    assert client.get("/inspect/").url == "/me/second-factor/" and client.get("/").url == "/me/second-factor/"
    assert client.get("/me/second-factor/").status_code == 200
    device = TOTPDevice.objects.get()
    assert client.post("/me/second-factor/", {"code": code_of(device)}).status_code == 200
    assert client.get("/inspect/").status_code == 200 and client.get("/me/second-factor/").status_code == 403


def test_the_owner_sees_who_has_none(demanded, technician, office, owner_client):
    page = owner_client.get("/people/ways-in/").content.decode()
    assert "Without the second factor that is demanded: Tess Test" in page and "Oscar Test" in page
    second.confirm(technician, code_of(second.prepare(technician)))
    assert "Without the second factor" not in owner_client.get("/people/ways-in/").content.decode()


@pytest.mark.parametrize("address", ["/nothing-here/", "/no\0thing/"])
def test_a_fault_shows_nothing_of_a_person_whose_sign_in_is_over(technician, shop, monkeypatch, address):
    """An address that is none is answered before the sign-in was looked at."""
    client = browser(technician)
    inside = client.get("/nothing-here/").content.decode()
    assert 'data-key="' in inside and technician.name in inside
    move_clock(monkeypatch, opened.idle() + dt.timedelta(minutes=1))
    page = client.get(address)
    text = page.content.decode()
    assert page.status_code == 404 and "Nothing here" in text
    assert 'data-key="' not in text and technician.name not in text and not is_in(client)


def test_nor_does_a_key_of_a_page_that_fits_no_more(technician, shop, monkeypatch):
    client = Client(enforce_csrf_checks=True)
    client.force_login(technician)
    move_clock(monkeypatch, opened.idle() + dt.timedelta(minutes=1))
    sent = {"HTTP_ORIGIN": "http://testserver"}
    page = client.post("/jobs/new/", {"note": "four bays"}, **sent)
    text = page.content.decode()
    assert page.status_code == 403 and "four bays" in text and "Nobody is signed in now" in text
    assert 'data-key="' not in text and technician.username not in text
