"""Who finds a sign-in open changes no way in, lets nobody in and does nothing that cannot be undone."""

import datetime as dt
import re

import pytest
from django.test import Client
from django.urls import get_resolver
from django_otp.plugins.otp_totp.models import TOTPDevice

from inventory.shop.clock import today
from jobs.people.models import Person
from shopledger.signin import second
from shopledger.signin.middleware import ASKS_AGAIN, SETTING_UP
from tests.conftest import PASSWORD
from tests.shopledger.test_sign_ins import browser, is_in, move_clock
from tests.shopledger.test_signin import code_of, sign_in

pytestmark = pytest.mark.django_db


def test_the_password_is_asked_again_before_a_way_in_is_changed(shop, technician, owner, monkeypatch):
    phone, boss = browser(technician), browser(owner)
    move_clock(monkeypatch, dt.timedelta(minutes=30))
    assert phone.get("/me/second-factor/").url == "/me/again/?next=%2Fme%2Fsecond-factor%2F"
    for client, address in (
        (phone, "/me/sign-ins/end/"),
        (phone, "/me/paper-codes/"),
        (phone, "/me/passkeys/1/remove/"),
        (boss, f"/people/{technician.pk}/let-in/"),
        (boss, f"/people/{technician.pk}/password/"),
        (boss, f"/people/{technician.pk}/sign-ins/end/"),
    ):
        assert "/me/again/" in client.post(address).url, address
    assert phone.post("/me/again/", {"password": "wrong", "next": "/me/second-factor/"}).status_code == 422
    before = phone.session.session_key
    for elsewhere in ("https://evil.example/", "//evil.example/", "home", "'; DROP TABLE jobs_job; --", "\x1b[2J"):
        assert phone.post("/me/again/", {"password": PASSWORD, "next": elsewhere}).url == "/"
    assert phone.session.session_key != before
    assert phone.get("/me/second-factor/").status_code == 200


def test_nor_is_anybody_let_in_or_anything_that_cannot_be_undone_done_by_who_finds_a_sign_in_open(
    shop, technician, owner, monkeypatch
):
    boss = browser(owner)
    person = {
        "username": "ida",
        "name": "Ida",
        "role": "owner",
        "password": "lamp of nine 7",
        "repeated": "lamp of nine 7",
    }
    doors = {
        "/people/new/": person,
        f"/people/{technician.pk}/edit/": {"name": "Tess", "role": "owner", "is_active": "on"},
        "/settings/": {"name": "Theirs", "second_factor_roles": []},
        "/inspectors/": {"name": "Ira", "first": str(today()), "last": str(today()), "until": str(today())},
        "/seals/new/": {"through": "2026-03-31", "sure": "on"},
        "/erasing/customer/C-000001/": {"why": "asked", "sure": "on"},
    }
    move_clock(monkeypatch, dt.timedelta(minutes=30))
    for address, said in doors.items():
        assert boss.get(address).headers.get("Location", "").startswith("/me/again/"), address
        assert boss.post(address, said).headers.get("Location", "").startswith("/me/again/"), address
    assert Person.objects.count() == 2 and Person.objects.get(pk=technician.pk).role == "technician"
    assert boss.post("/me/again/", {"password": PASSWORD, "next": "/people/new/"}).url == "/people/new/"
    assert boss.post("/people/new/", person).status_code == 302 and Person.objects.filter(username="ida").exists()


@pytest.mark.parametrize(
    ("page", "sent_to"),
    [
        ("/me/sign-ins/?page=2", "/me/sign-ins/end/"),
        ("/people/new/", "/people/new/"),
        ("", "/me/sign-ins/end/"),
        ("https://elsewhere.example/me/", "/me/sign-ins/end/"),
    ],
)
def test_a_form_that_came_too_late_leads_back_to_its_page(shop, owner, monkeypatch, page, sent_to):
    boss = browser(owner)
    move_clock(monkeypatch, dt.timedelta(minutes=30))
    whole = page if page.startswith("https") or not page else f"http://testserver{page}"
    asked = boss.post(sent_to, headers={"Referer": whole} if whole else {})
    proving = boss.get(asked.url).content.decode()
    assert "Nothing was changed yet" in proving
    back = re.search(r'name="next" value="([^"]*)"', proving).group(1)
    wanted = page if page.startswith("/") else "/"
    assert boss.post("/me/again/", {"password": PASSWORD, "next": back}).url == wanted


def test_each_page_that_asks_again_is_one():
    names = {one.name for one in flattened(get_resolver().url_patterns)}
    assert names >= ASKS_AGAIN | SETTING_UP


def flattened(patterns):
    for one in patterns:
        yield from flattened(one.url_patterns) if hasattr(one, "url_patterns") else [one]


def with_second_factor(person):
    """A browser of somebody who has one, half an hour after signing in; and the codes on paper."""
    codes = second.confirm(person, code_of(second.prepare(person)))
    client = Client()
    assert sign_in(client, code=codes[0]).status_code == 302
    return client, codes


def test_the_second_factor_is_asked_too_where_there_is_one(shop, technician, monkeypatch):
    phone, codes = with_second_factor(technician)
    move_clock(monkeypatch, dt.timedelta(minutes=30))
    assert 'name="code"' in phone.get("/me/again/").content.decode()
    said = {"password": PASSWORD, "next": "/me/second-factor/"}
    for code in ("", "000000", codes[0]):
        answer = phone.post("/me/again/", {**said, "code": code})
        assert answer.status_code == 422 and "This sign-in has a second factor" in answer.content.decode(), code
    assert "/me/again/" in phone.get("/me/second-factor/").url
    assert phone.post("/me/again/", {**said, "password": "wrong", "code": codes[1]}).status_code == 422
    assert second.paper_codes_left(technician) == 7, "beside a wrong password no code is looked at"
    assert phone.post("/me/again/", {**said, "code": codes[1]}).url == "/me/second-factor/"
    assert phone.get("/me/second-factor/").status_code == 200


def test_who_has_none_is_asked_for_the_password_alone(shop, technician):
    assert 'name="code"' not in browser(technician).get("/me/again/").content.decode()


def test_wrong_codes_there_are_counted_with_all_the_others(shop, technician, monkeypatch, settings):
    settings.AXES_ENABLED = True
    phone, codes = with_second_factor(technician)
    answers = [
        phone.post("/me/again/", {"password": PASSWORD, "code": f"1234567{n}"}, REMOTE_ADDR="10.0.0.1").status_code
        for n in range(5)
    ]
    assert answers == [422] * 4 + [429]
    assert sign_in(Client(), code=codes[1]).status_code == 429


def test_a_new_password_does_not_stand_for_the_second_factor(shop, technician, monkeypatch):
    phone, _ = with_second_factor(technician)
    move_clock(monkeypatch, dt.timedelta(minutes=30))
    new = "a very new lamp 1"
    assert (
        phone.post("/me/password/", {"old_password": PASSWORD, "new_password1": new, "new_password2": new}).url == "/"
    )
    assert is_in(phone)
    assert "/me/again/" in phone.get("/me/second-factor/").url


def test_a_secret_that_another_sign_in_was_shown_is_never_set_up(shop, technician):
    """Whoever had it on their screen would have every code that it makes from then on."""
    first, mine = browser(technician), browser(technician)
    seen = first.get("/me/second-factor/").context["secret"]
    secret = mine.get("/me/second-factor/").context["secret"]
    assert secret != seen and mine.get("/me/second-factor/").context["secret"] == secret
    assert mine.post("/me/second-factor/", {"code": code_of(TOTPDevice.objects.get())}).status_code == 200
    assert second.has_second_factor(technician) and not is_in(first)


def test_the_owner_changes_their_own_password_with_the_present_one(shop, owner):
    assert browser(owner).get(f"/people/{owner.pk}/password/").url == "/me/password/"
