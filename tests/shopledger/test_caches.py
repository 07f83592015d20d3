"""What a cache may keep of an answer: nothing of what a person sees, for good what is the same for everybody. Each
address is tried in `test_every_page.py`; here is what a walk does not meet."""

import pytest
from django.contrib.staticfiles.storage import staticfiles_storage
from django.db import OperationalError
from django.test import Client
from django.urls import reverse

from shopledger.home import views
from tests.shopledger.test_every_page import kept_by_caches as kept

pytestmark = pytest.mark.django_db


def test_nothing_of_a_report_is_kept_by_a_cache(owner_client, office_client):
    for format_ in ("csv", "xlsx", "json", "pdf"):
        answer = owner_client.get(
            reverse("report", args=["usage"]), {"first": "2026-01-01", "last": "2026-01-31", "format": format_}
        )
        assert answer.status_code == 200 and "attachment" in answer["Content-Disposition"], format_
        assert not kept(answer), format_


def test_faults_and_the_way_in_and_out_are_not_kept(owner_client, technician_client, monkeypatch):
    client = Client(enforce_csrf_checks=True)
    strange = Client(headers={"Host": "elsewhere.example"})
    for answer, status in (
        (client.get("/sign-in/"), 200),
        (client.get("/"), 302),
        (client.get("/nothing/"), 404),
        (client.post("/sign-in/", {"username": "tess", "password": "x"}), 403),
        (strange.get("/sign-in/"), 400),
        (owner_client.get("/nothing/"), 404),
        (owner_client.get("/static/nothing.css"), 404),
        (owner_client.get("/jobs"), 301),
        (owner_client.delete(reverse("job-sign", args=[1])), 405),
        (technician_client.get(reverse("people")), 403),
        (owner_client.get(reverse("job-sign", args=[1])), 405),
    ):
        assert answer.status_code == status and not kept(answer), answer.request
    monkeypatch.setattr(views, "panels", lambda request: _away())
    answer = owner_client.get("/")
    assert answer.status_code == 503 and not kept(answer)
    monkeypatch.setattr(views, "panels", lambda request: 1 // 0)
    owner_client.raise_request_exception = False
    answer = owner_client.get("/")
    assert answer.status_code == 500 and not kept(answer)


def _away():
    raise OperationalError("disk I/O error")


def test_no_part_of_a_page_is_kept(owner_client):
    for name in ("home", "jobs", "units", "people"):
        for ask in (owner_client.get, owner_client.head):
            assert not kept(ask(reverse(name), headers={"HX-Request": "true"})), name


def test_a_redirect_to_tls_is_not_kept(settings):
    settings.SECURE_SSL_REDIRECT = True
    answer = Client().get("/jobs/")
    assert answer.status_code == 301 and answer.url.startswith("https") and not kept(answer)


def test_what_is_the_same_for_everybody_is_kept(owner_client):
    for name in ("shopledger/app.css", "shopledger/app.js", "shopledger/mark.svg", "django_htmx/htmx-2.min.js"):
        answer = owner_client.get(staticfiles_storage.url(name))
        b"".join(answer.streaming_content)
        assert answer.status_code == 200, name
        assert {"public", "immutable"} <= set(answer["Cache-Control"].split(", ")), name
        again = owner_client.get(staticfiles_storage.url(name), headers={"If-None-Match": answer["ETag"]})
        assert again.status_code == 304 and "immutable" in again["Cache-Control"], name
    assert owner_client.get(reverse("worker"))["Cache-Control"] == "no-cache"


def test_signing_out_clears_what_the_browser_kept_but_not_what_waits_to_be_sent(owner_client):
    answer = owner_client.post(reverse("sign-out"))
    assert answer.status_code == 302 and answer["Clear-Site-Data"] == '"cache"'
    assert not kept(answer) and "X-Person" not in answer


def test_an_answer_says_whose_it_is(owner, owner_client):
    assert owner_client.get("/")["X-Person"] == str(owner.pk)
    assert "X-Person" not in Client().get("/sign-in/")
    assert "X-Person" not in owner_client.get(staticfiles_storage.url("shopledger/app.css"))


def test_what_one_person_s_page_sends_is_not_taken_from_another(technician, owner, owner_client, technician_client):
    """The page of somebody who was signed in here before: its cookie is the next person's by now."""
    mine, theirs = {"X-Person": str(owner.pk)}, {"X-Person": str(technician.pk), "HX-Request": "true"}
    units = {"mass_unit": "oz", "volume_unit": "fl oz", "pressure_unit": "psi"}
    answer = owner_client.post(reverse("preferences"), units, headers=theirs)
    assert answer.status_code == 409 and not kept(answer)
    assert "somebody else is signed in on this device" in answer.content.decode()
    owner.refresh_from_db()
    assert owner.mass_unit != "oz"
    assert owner_client.get("/", headers=theirs).status_code == 409
    assert owner_client.get("/", headers=mine).status_code == 200
    assert Client().get("/", headers=mine).status_code == 302


def test_the_phone_s_key_is_each_person_s_own(settings, owner, owner_client, technician_client):
    def key(client, path="/"):
        page = client.get(path).content.decode()
        return page.partition('id="outbox"')[2].partition('data-key="')[2].partition('"')[0]

    hers, his = key(owner_client), key(technician_client)
    assert len(hers) == len(his) == 64 and hers != his
    assert key(owner_client, "/jobs/") == hers, "the same on each page, and after each sign-in"
    assert key(Client(), "/sign-in/") == ""
    settings.SECRET_KEY, before = "another ledger's", settings.SECRET_KEY
    owner_client.force_login(owner)
    new = key(owner_client)
    assert new not in {hers, ""} and len(new) == 64
    settings.SECRET_KEY_FALLBACKS = [before]
    assert key(owner_client) == f"{new} {hers}", "what waits on phones is opened while the signing key is renewed"
