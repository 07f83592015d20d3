"""Passkeys: added, used, and every answer that is not to be taken."""

import datetime as dt

import pytest
from axes.models import AccessAttempt
from django.test import Client
from django.utils import timezone

from inventory.ledger.actions import writing
from inventory.ledger.models import Record
from inventory.shop.clock import today
from jobs.people.actions import change_person
from shopledger.inspectors.actions import end_access, issue_access
from shopledger.signin import passkeys, second
from shopledger.signin.models import Passkey, SignIn
from tests.conftest import PASSWORD
from tests.shopledger.keys import Device
from tests.shopledger.test_signin import counting, sign_in, signed_in  # noqa: F401 (a fixture)

pytestmark = pytest.mark.django_db
HERE = {"HTTP_HOST": "localhost", "REMOTE_ADDR": "10.0.0.1"}


def browser(person=None):
    client = Client(**HERE)
    if person is not None:
        client.force_login(person)
    return client


def sent(client, address, **said):
    return client.post(address, said, content_type="application/json")


def add(client, device, name="my phone"):
    asked = sent(client, "/me/passkeys/asked/").json()
    return sent(client, "/me/passkeys/", credential=device.made(asked), name=name)


def use(client, device, **said):
    asked = sent(client, "/sign-in/passkey/asked/").json()
    return sent(client, "/sign-in/passkey/", credential=device.signed(asked), **said)


@pytest.fixture
def device(shop, technician):
    made = Device()
    assert add(browser(technician), made).status_code == 200
    return made


def test_one_is_added_and_signs_in_alone(device, technician):
    key = Passkey.objects.get()
    assert (key.name, key.verified, key.site, key.last_used) == ("my phone", True, "localhost", None)
    assert second.has_second_factor(technician)
    record = Record.objects.filter(kind="sign-in", key="tess").latest("id")
    assert "passkey" in record.body and key.public_key not in record.body
    client = browser()
    answer = use(client, device, next="/jobs/")
    assert answer.json() == {"go": "/jobs/"} and signed_in(client)
    assert client.get("/jobs/").status_code == 200
    assert SignIn.objects.get(pk=client.session["sign_in"]).how == "passkey"
    key.refresh_from_db()
    assert key.last_used and key.count == 1


def test_who_forgot_to_sign_out_is_signed_out(device, office, technician):
    client = browser(office)
    assert use(client, device).status_code == 200
    assert list(SignIn.objects.filter(pk=client.session["sign_in"]).values_list("person", flat=True)) == [technician.pk]
    assert not SignIn.objects.filter(person=office).exists()


def test_elsewhere_it_leads_nowhere(device):
    assert use(browser(), device, next="https://elsewhere.example/").json() == {"go": "/"}


def test_the_password_alone_signs_nobody_in_who_has_one(device):
    client = Client()
    said = sign_in(client).content.decode()
    assert "Now use your passkey" in said and not signed_in(client)


@pytest.mark.parametrize(
    ("more", "heading"),
    [
        ({}, "Now your passkey, or a code on paper:"),
        ({"code": "123456"}, "Not signed in. Please put this right:"),
        ({"password": "another"}, "Not signed in. Please put this right:"),
    ],
)
def test_the_page_of_the_second_step_says_what_is_to_be_done_now(device, more, heading):
    said = Client().post("/sign-in/", {"username": "tess", "password": PASSWORD, **more}).content.decode()
    assert f"<h2>{heading}</h2>" in said and ("Not signed in" in said) == bool(more)
    # A page gives no password back: a code is sent with one.
    assert ("type the password again with one of your codes on paper" in said) == (not more)


def test_beside_the_password_where_the_device_does_not_ask_who_holds_it(shop, technician):
    device = Device(verifies=False)
    add(browser(technician), device)
    assert not Passkey.objects.get().verified
    client = browser()
    assert use(client, device).status_code == 422 and not signed_in(client)
    client.post("/sign-in/", {"username": "tess", "password": PASSWORD, "code": ""})
    asked = sent(client, "/sign-in/passkey/asked/").json()
    assert [one["id"] for one in asked["allowCredentials"]] == [Passkey.objects.get().credential]
    answer = sent(client, "/sign-in/passkey/", credential=device.signed(asked))
    assert answer.status_code == 200 and signed_in(client)
    assert SignIn.objects.get(pk=client.session["sign_in"]).how == "password and passkey"


@pytest.mark.parametrize("verifies", [True, False])
def test_it_is_the_second_factor_too_where_it_is_asked_again_who_somebody_is(shop, technician, office, verifies):
    mine, others = Device(verifies=verifies), Device()
    add(browser(technician), mine)
    add(browser(office), others)
    client = browser(technician)
    SignIn.objects.update(proved=timezone.now() - dt.timedelta(minutes=30))
    wanted, before = {"next": "/me/second-factor/"}, client.session["sign_in"]
    page = client.post("/me/again/", {"password": PASSWORD, "code": "", **wanted})
    assert page.status_code == 422 and "Now use your passkey" in page.content.decode()
    assert 'data-passkey="sign-in"' in page.content.decode()
    assert "/me/again/" in client.get("/me/second-factor/").url, "the password alone was not enough"
    assert use(client, others, **wanted).status_code == 422
    assert "/me/again/" in client.get("/me/second-factor/").url
    assert use(client, mine, **wanted).json() == {"go": "/me/second-factor/"}
    assert client.get("/me/second-factor/").status_code == 200
    assert not SignIn.objects.filter(pk=before).exists(), "it took the place of the one before"


def test_the_keys_of_a_person_are_named_only_after_the_right_password(device):
    client = browser()
    assert sent(client, "/sign-in/passkey/asked/").json()["allowCredentials"] == []
    client.post("/sign-in/", {"username": "tess", "password": "wrong", "code": ""})
    assert sent(client, "/sign-in/passkey/asked/").json()["allowCredentials"] == []


def test_after_one_person_s_password_another_s_key_is_not_taken(device, office):
    other = Device()
    add(browser(office), other)
    client = browser()
    client.post("/sign-in/", {"username": "tess", "password": PASSWORD, "code": ""})
    assert use(client, other).status_code == 422 and not signed_in(client)


def test_an_answer_counts_once(device):
    client = browser()
    asked = sent(client, "/sign-in/passkey/asked/").json()
    answer = device.signed(asked)
    assert sent(client, "/sign-in/passkey/", credential=answer).status_code == 200
    client.post("/sign-out/")
    assert sent(client, "/sign-in/passkey/", credential=answer).status_code == 422 and not signed_in(client)
    other = browser()
    sent(other, "/sign-in/passkey/asked/")
    assert sent(other, "/sign-in/passkey/", credential=answer).status_code == 422 and not signed_in(other)


def test_two_that_arrive_at_once_count_once(device, rf, monkeypatch):
    """The session of the second was read before the first was answered: the key itself remembers."""
    client = browser()
    asked = sent(client, "/sign-in/passkey/asked/").json()
    kept = dict(client.session[passkeys.ASKED])
    device_answer = device.signed(asked)
    assert sent(client, "/sign-in/passkey/", credential=device_answer).status_code == 200
    late = browser()
    session = late.session
    session[passkeys.ASKED] = kept
    session.save()
    late.cookies["sessionid"] = session.session_key
    Passkey.objects.update(count=0)  # as of a device that keeps no count
    assert sent(late, "/sign-in/passkey/", credential=device_answer).status_code == 422 and not signed_in(late)


def test_an_answer_that_comes_late_is_not_taken(device, monkeypatch):
    client = browser()
    asked = sent(client, "/sign-in/passkey/asked/").json()
    later = timezone.now() + passkeys.CHALLENGE_LASTS + dt.timedelta(seconds=1)
    monkeypatch.setattr("shopledger.signin.passkeys.timezone.now", lambda: later)
    said = sent(client, "/sign-in/passkey/", credential=device.signed(asked))
    assert said.status_code == 422 and "too long" in said.json()["said"]


@pytest.mark.parametrize(
    "wrong",
    [
        {"origin": "http://evil.example"},
        {"origin": "https://localhost.evil.example"},
        {"origin": "http://localhost:9"},
        {"site": "evil.example"},
        {"verifies": False},
        {"handle": "AAAA"},
        {"handle": ""},
        {"count": -1},
    ],
    ids=str,
)
def test_an_answer_from_elsewhere_or_of_another_is_not_taken(device, wrong):
    client = browser()
    Passkey.objects.update(count=5)
    device.count = 5
    for name, value in wrong.items():
        setattr(device, name, value)
    assert use(client, device).status_code == 422 and not signed_in(client)


def test_a_signature_by_another_key_is_not_taken(device):
    client = browser()
    thief = Device(credential=device.credential, handle=device.handle)
    assert use(client, thief).status_code == 422 and not signed_in(client)


def test_a_key_is_made_for_this_site_and_this_person_alone(shop, technician, office):
    for wrong in ({"origin": "http://evil.example"}, {"site": "evil.example"}):
        assert add(browser(technician), Device(**wrong)).status_code == 422
    asked = sent(browser(office), "/me/passkeys/asked/").json()
    other = browser(technician)
    sent(other, "/me/passkeys/asked/")
    assert sent(other, "/me/passkeys/", credential=Device().made(asked)).status_code == 422
    assert not Passkey.objects.exists()
    mine = Device()
    add(browser(technician), mine)
    assert add(browser(office), mine).status_code == 422, "a credential is one person's"


@pytest.mark.parametrize(
    "credential", [None, {}, [], "x", {"id": 3}, {"id": "x", "response": None}, {"id": "\0", "response": {"a": 1}}]
)
def test_what_cannot_be_read_is_refused(device, technician, credential):
    client = browser()
    sent(client, "/sign-in/passkey/asked/")
    assert sent(client, "/sign-in/passkey/", credential=credential).status_code in {400, 422}
    inside = browser(technician)
    sent(inside, "/me/passkeys/asked/")
    assert sent(inside, "/me/passkeys/", credential=credential).status_code in {400, 422}
    assert inside.post("/me/passkeys/", "{", content_type="application/json").status_code == 422


def test_a_removed_key_signs_nobody_in(device, technician):
    client = browser(technician)
    key = Passkey.objects.get()
    assert browser(technician).get("/me/second-factor/").content.decode().count("my phone") >= 1
    assert client.post(f"/me/passkeys/{key.pk}/remove/").status_code == 302
    assert use(browser(), device).status_code == 422
    assert sign_in(Client()).status_code == 302


def test_another_person_s_key_cannot_be_removed(device, office):
    key = Passkey.objects.get()
    browser(office).post(f"/me/passkeys/{key.pk}/remove/")
    assert Passkey.objects.filter(pk=key.pk).exists()


def test_who_left_is_not_let_in(device, technician, owner):
    change_person(technician, by=owner, is_active=False)
    client = browser()
    assert use(client, device).status_code == 422 and not signed_in(client)


def test_an_inspector_whose_access_ended_is_not_let_in(shop, owner):
    access, _ = issue_access(name="Ira", first=today(), last=today(), until=today(), by=owner)
    device = Device()
    shop.second_factor_roles = ["inspector"]
    with writing():
        shop.save()
    assert add(browser(access.person), device).status_code == 200
    assert use(browser(), device).status_code == 200
    end_access(access.pk, by=owner)
    assert use(browser(), device).status_code == 422


def test_wrong_answers_count_as_wrong_passwords_do(device, counting):  # noqa: F811
    thief = Device(credential=device.credential, handle=device.handle)
    answers = [use(browser(), thief).status_code for _ in range(5)]
    assert answers == [422] * 4 + [429]
    device.count = 9
    assert use(browser(), device).status_code == 429, "the right one neither"
    assert sign_in(Client()).status_code == 429
    AccessAttempt.objects.all().delete()
    assert use(browser(), device).status_code == 200


def test_where_no_browser_gives_one_it_is_said(shop, technician, settings):
    settings.ALLOWED_HOSTS = ["localhost", "10.0.0.7", "shop.example"]
    for host in ("10.0.0.7", "shop.example"):
        client = Client(HTTP_HOST=host)
        assert "data-passkey" not in client.get("/sign-in/").content.decode()
        client.force_login(technician)
        page = client.get("/me/second-factor/").content.decode()
        assert "Passkeys need this site" in page and "data-passkey=" not in page
        assert sent(client, "/me/passkeys/asked/").status_code == 422
    settings.CSRF_TRUSTED_ORIGINS = ["https://shop.example"]
    device = Device(site="shop.example", origin="https://shop.example")
    client = Client(HTTP_HOST="shop.example")
    client.force_login(technician)
    assert add(client, device).status_code == 200
    assert Client(HTTP_HOST="evil.example").post("/sign-in/passkey/asked/").status_code == 400


def test_another_key_of_the_same_person_has_the_same_handle(device, technician):
    other = Device()
    add(browser(technician), other, "my desk")
    assert other.handle == device.handle
    asked = sent(browser(technician), "/me/passkeys/asked/").json()
    assert len(asked["excludeCredentials"]) == 2
    assert use(browser(), device).status_code == use(browser(), other).status_code == 200


def test_codes_for_paper_stand_in_for_it(device, technician):
    page = browser(technician).post("/me/paper-codes/")
    codes = page.context["codes"]
    for expected in (True, False):
        client = Client()
        sign_in(client, code=codes[0])
        assert signed_in(client) is expected
    second.forget_second_factors(technician)
    assert not second.has_second_factor(technician) and not Passkey.objects.exists()
    assert use(browser(), device).status_code == 422
    client = Client()
    assert sign_in(client).status_code == 302 and signed_in(client)


def test_a_form_in_place_of_what_a_passkey_signed_is_answered(owner_client):
    for address in ("/me/passkeys/", "/sign-in/passkey/"):
        answer = owner_client.post(address, {"credential": "x"})
        assert answer.status_code == 422 and "not readable" in answer.json()["said"], address
