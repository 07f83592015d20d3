"""Signing in: wrong passwords, the second factor, and what the browser is told to keep to itself."""

import logging
import re

import pytest
from axes.models import AccessFailureLog
from django.test import Client
from django_otp.oath import totp
from django_otp.plugins.otp_totp.models import TOTPDevice

from inventory.ledger.models import Record
from jobs.people.models import Person
from shopledger.signin import second
from tests.conftest import PASSWORD

pytestmark = pytest.mark.django_db


def sign_in(client, username="tess", password=PASSWORD, code="", address="10.0.0.1"):
    return client.post("/sign-in/", {"username": username, "password": password, "code": code}, REMOTE_ADDR=address)


def signed_in(client):
    return "_auth_user_id" in client.session


# -- wrong passwords ------------------------------------------------------------------------------


@pytest.fixture
def counting(settings):
    settings.AXES_ENABLED = True


def test_the_fifth_wrong_password_shuts_out_even_the_right_one(shop, technician, counting):
    client = Client()
    for _ in range(4):
        assert "do not belong together" in sign_in(client, password="wrong").content.decode()
    shut = sign_in(client, password="wrong")
    assert shut.status_code == 429 and "15 minutes" in shut.content.decode()
    assert sign_in(client).status_code == 429 and not signed_in(client)
    assert AccessFailureLog.objects.filter(username="tess").count() >= 5
    assert not any("wrong" in str(value) for row in AccessFailureLog.objects.values() for value in row.values())


def test_another_place_and_another_person_are_not_shut_out(shop, technician, office, counting):
    for _ in range(6):
        sign_in(Client(), password="wrong")
    client = Client()
    assert sign_in(client, username="oscar").status_code == 302
    client = Client()
    assert sign_in(client, address="10.0.0.2").status_code == 302 and signed_in(client)


def test_a_name_that_does_not_exist_is_answered_alike(shop, technician, counting):
    answers = {}
    for name in ("tess", "nobody"):
        client = Client()
        found = [sign_in(client, username=name, password="wrong") for _ in range(6)]
        answers[name] = [(one.status_code, re.sub(r"csrf[^>]*|nobody|tess", "", one.content.decode())) for one in found]
    assert [code for code, _ in answers["tess"]] == [code for code, _ in answers["nobody"]]
    assert answers["tess"][0][1] == answers["nobody"][0][1]


def test_the_owner_lets_in_again(shop, technician, owner_client, office_client, counting):
    for _ in range(6):
        sign_in(Client(), password="wrong")
    assert office_client.post(f"/people/{technician.pk}/let-in/").status_code == 403
    assert owner_client.get(f"/people/{technician.pk}/let-in/").status_code == 405
    assert owner_client.post(f"/people/{technician.pk}/let-in/").status_code == 302
    client = Client()
    assert sign_in(client).status_code == 302 and signed_in(client)


def test_the_right_password_forgets_the_wrong_ones(shop, technician, counting):
    for _ in range(2):
        for _ in range(4):
            sign_in(Client(), password="wrong")
        assert sign_in(Client()).status_code == 302


# -- the session and the browser ------------------------------------------------------------------------


def test_signing_in_changes_the_session_and_a_new_password_ends_the_others(shop, technician, owner_client):
    client, phone = Client(), Client()
    client.get("/sign-in/")
    client.session["x"] = 1
    before = client.session.session_key
    sign_in(client)
    assert client.session.session_key != before
    sign_in(phone)
    kept = client.session.session_key
    new = "a very new lamp 1"
    done = client.post("/me/password/", {"old_password": PASSWORD, "new_password1": new, "new_password2": new})
    assert done.status_code == 302 and client.session.session_key != kept
    assert client.get("/").status_code == 200 and phone.get("/").status_code == 302


def test_what_every_page_tells_the_browser(shop, technician_client):
    page = technician_client.get("/")
    policy = page["Content-Security-Policy"]
    assert "default-src 'none'" in policy and "unsafe" not in policy and "frame-ancestors 'none'" in policy
    assert page["X-Frame-Options"] == "DENY" and page["X-Content-Type-Options"] == "nosniff"
    assert page["Referrer-Policy"] == "same-origin"
    text = page.content.decode()
    assert not re.search(r"<script(?![^>]*\bsrc=)|\son[a-z]+=|\sstyle=|javascript:", text)
    client = Client()
    sign_in(client)
    cookie = client.cookies["sessionid"]
    assert cookie["httponly"] and cookie["samesite"] == "Lax" and int(cookie["max-age"]) == 12 * 3600


def test_a_form_without_its_token_is_refused(shop, technician, owner):
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(owner)
    for address in ("/settings/", "/people/new/", "/sign-out/", "/seals/new/", "/inspectors/", "/columns/"):
        assert strict.post(address, {"name": "x"}).status_code == 403, address


@pytest.mark.parametrize(
    "password",
    ["short one", "Tess Test 1", "1234567890", "password1234", "shopledger2026", "testshop99", "refrigerant1"],
)
def test_weak_passwords_are_refused(shop, technician, owner_client, password):
    answer = owner_client.post(f"/people/{technician.pk}/password/", {"password": password, "repeated": password})
    assert answer.status_code in {200, 422}
    assert Person.objects.get(pk=technician.pk).check_password(PASSWORD)


@pytest.mark.parametrize(
    "password", ["wild copper lantern", "änderung im blauen ofen", "q" * 9 + " lamp Yu7 ~ " + "é" * 900]
)
def test_any_composition_and_length_is_taken(shop, technician, password):
    """No rule of kinds of characters; exactly as typed (OWASP ASVS 5, 6.2.5, 6.2.8, 6.2.9)."""
    client = Client()
    client.force_login(technician)
    done = client.post(
        "/me/password/", {"old_password": PASSWORD, "new_password1": password, "new_password2": password}
    )
    assert done.status_code == 302
    assert sign_in(Client(), password=password).status_code == 302
    assert sign_in(Client(), password=password.upper()).status_code == 200
    assert sign_in(Client(), password=password[:-1]).status_code == 200


def test_what_the_page_says_of_passwords_is_what_is_asked(shop, technician_client, owner_client, technician):
    for page in (technician_client.get("/me/password/"), owner_client.get(f"/people/{technician.pk}/password/")):
        text = page.content.decode()
        assert "at least 10 characters" in text and 'autocomplete="new-password"' in text and "onpaste" not in text


# -- the second factor ----------------------------------------------------------------------------------


def code_of(device, steps=0):
    return f"{totp(device.bin_key, step=device.step, digits=device.digits, drift=steps):06d}"


@pytest.fixture
def device(technician):
    device = second.prepare(technician)
    second.confirm(technician, code_of(device))
    # The code that proved the device is spent; time goes on.
    TOTPDevice.objects.update(last_t=-1)
    return TOTPDevice.objects.get()


def test_it_is_set_up_with_its_first_code(shop, technician, technician_client):
    page = technician_client.get("/me/second-factor/")
    secret = page.context["secret"]
    assert secret in page.content.decode() and page["Cache-Control"] == "no-store"
    assert technician_client.get("/me/second-factor/").context["secret"] == secret, "a reload keeps what was scanned"
    for wrong in ("000000x", "12345", "", "\u0661\u0662\u0663\u0664\u0665\u0666"):
        assert technician_client.post("/me/second-factor/", {"code": wrong}).status_code == 422
    assert not second.has_second_factor(technician)
    TOTPDevice.objects.update(throttling_failure_count=0, throttling_failure_timestamp=None)
    answer = technician_client.post("/me/second-factor/", {"code": code_of(TOTPDevice.objects.get())})
    codes = answer.context["codes"]
    assert len(codes) == 8 and codes[0] in answer.content.decode() and second.has_second_factor(technician)
    assert '"second factor":"on"' in Record.objects.filter(kind="sign-in").latest("id").body
    assert codes[0] not in technician_client.get("/me/second-factor/").content.decode()


def test_signing_in_asks_for_it(shop, technician, device):
    client = Client()
    assert "second factor" in sign_in(client).content.decode() and not signed_in(client)
    assert "second factor" in sign_in(client, code="000000").content.decode() and not signed_in(client)
    TOTPDevice.objects.update(throttling_failure_count=0, throttling_failure_timestamp=None)
    code = code_of(device)
    assert sign_in(client, code=f"{code[:3]} {code[3:]}").status_code == 302 and signed_in(client)
    again = Client()
    sign_in(again, code=code)
    assert not signed_in(again), "a code counts once"


def test_the_page_that_asks_for_a_code_says_so(shop, technician, device):
    page = sign_in(Client(), "tess").content.decode()
    assert "<h2>Now a code of your second factor:</h2>" in page and "Not signed in" not in page
    page = sign_in(Client(), "tess", code="000000").content.decode()
    assert "<h2>Not signed in. Please put this right:</h2>" in page


def test_a_wrong_password_says_nothing_of_a_second_factor(shop, technician, device):
    said = sign_in(Client(), password="wrong").content.decode()
    assert "do not belong together" in said and "This sign-in has a second factor" not in said


def test_a_code_on_paper_counts_once(shop, technician):
    device = second.prepare(technician)
    codes = second.confirm(technician, code_of(device))
    for expected in (True, False):
        client = Client()
        sign_in(client, code=codes[0])
        assert signed_in(client) is expected


def test_it_is_turned_off_with_the_password_or_by_the_owner(shop, technician, device, owner_client):
    client = Client()
    client.force_login(technician)
    assert client.post("/me/second-factor/", {"password": "wrong"}).status_code == 422
    assert second.has_second_factor(technician)
    assert owner_client.post(f"/people/{technician.pk}/let-in/", {"second": "1"}).status_code == 302
    assert (
        not second.has_second_factor(technician)
        and Record.objects.filter(kind="sign-in").latest("id").voucher.recorded_by == "olive"
    )
    second.confirm(technician, code_of(second.prepare(technician)))
    client.force_login(technician)  # the change ended the sign-in before
    assert client.post("/me/second-factor/", {"password": PASSWORD}).status_code == 302
    assert not second.has_second_factor(technician)
    assert sign_in(Client()).status_code == 302


def test_no_log_holds_what_was_typed(shop, technician, caplog):
    caplog.set_level(logging.DEBUG)
    sign_in(Client(), password="a secret word")
    sign_in(Client())
    assert "a secret word" not in caplog.text and PASSWORD not in caplog.text


# -- the cookie ---------------------------------------------------------------------------------------------


def test_a_cookie_is_taken_only_by_who_ends_its_session(shop, technician, client, settings):
    """What a page of before asked is answered late, when somebody else signed in on this phone: it ends nothing."""
    name = settings.SESSION_COOKIE_NAME
    sign_in(client)
    before = client.cookies[name].value
    late = Client()
    late.cookies[name] = before
    client.post("/sign-out/")
    assert client.cookies[name].value == ""
    for answer in (late.get("/"), late.get("/", headers={"HX-Request": "true"}), late.post("/sign-in/", {})):
        assert name not in answer.cookies, answer.status_code
    assert late.get("/").status_code == 302
