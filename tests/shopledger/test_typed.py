"""What was typed into a form that was not taken: on the page that says so, to be sent again; and when it is not."""

import errno
import uuid

import pytest
from django import forms
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, OperationalError
from django.test import Client
from django.urls import get_resolver

from inventory.ledger.models import Voucher
from jobs.people.models import Person
from shopledger.errors import typed
from tests.conftest import PASSWORD
from tests.forms import sent
from tests.inventory.test_attachments import PDF, uploads  # noqa: F401 (fixture)
from tests.inventory.test_office_pages import CANS, delivery, ready  # noqa: F401 (a fixture)

pytestmark = pytest.mark.django_db
NEW = "/receiving/new/"
FORGED = {"headers": {"Origin": "https://elsewhere.example"}}
OURS = {"headers": {"Origin": "http://testserver"}}


def failing(monkeypatch, name, error):
    def fails(*args, **kwargs):
        raise error

    monkeypatch.setattr(name, fails)


def deliveries():
    return list(Voucher.objects.filter(kind="receipt").values_list("document", flat=True))


@pytest.mark.parametrize(
    ("error", "status", "sentence"),
    [
        (
            OperationalError("database is locked"),
            503,
            "What you typed is kept on this page, to be sent again in a moment",
        ),
        (OSError(errno.ENOSPC, "No space left on device"), 503, "to be sent again in a moment"),
        (IntegrityError("UNIQUE constraint failed"), 409, "What you typed is kept on this page"),
        (ZeroDivisionError("secret detail"), 500, "What you typed is kept on this page"),
    ],
)
def test_what_was_typed_is_there_again_and_sent_by_one_button(ready, monkeypatch, error, status, sentence):  # noqa: F811
    ready.raise_request_exception = False
    form = delivery(CANS, document='INV "1" <b>&amp;\n2', supplier="Łódź & Söhne")
    with monkeypatch.context() as patched:
        failing(patched, "inventory.receiving.views.receive", error)
        answer = ready.post(f"{NEW}?from=home", form)
    page = answer.content.decode()
    assert answer.status_code == status and sentence in page and "secret detail" not in page
    assert f'action="{NEW}?from=home"' in page and 'method="post"' in page and page.count("Send it again") == 1
    assert answer["Cache-Control"] == "no-store"
    assert "<b>" not in page and "&lt;b&gt;&amp;amp;" in page
    again = sent(page)
    assert again == form, "everything, with the form's own id"
    assert deliveries() == []
    form = again | {"document": "INV-2"}
    for _ in range(2):
        assert ready.post(NEW, form).status_code == 302
    assert deliveries() == ["INV-2"]


def test_what_was_typed_can_be_read_and_what_the_form_added_is_not_listed(ready, monkeypatch):  # noqa: F811
    failing(monkeypatch, "inventory.receiving.views.receive", OperationalError("locked"))
    form = delivery(CANS)
    listed = ready.post(NEW, form).content.decode().partition("What you typed</summary>")[2]
    assert "<dt>Line 1, Net each</dt><dd>340 g</dd>" in listed and "340 g" in listed and "INV-1" in listed
    assert form["key"] not in listed and "FORMS" not in listed


def test_it_works_while_the_database_is_away_for_all(ready, monkeypatch):  # noqa: F811
    """No session can be read then; the page's own key is proved by its cookie."""
    client = Client(enforce_csrf_checks=True, raise_request_exception=False)
    client.cookies = ready.cookies
    key = ready.get(NEW).context["csrf_token"]
    form = delivery(CANS)
    with monkeypatch.context() as patched:
        failing(patched, "shopledger.serving.sessions.SessionStore.load", OperationalError("gone"))
        answer = client.post(NEW, form | {"csrfmiddlewaretoken": key})
    page = answer.content.decode()
    assert answer.status_code == 503 and sent(page) == form
    token = page.partition('name="csrfmiddlewaretoken" value="')[2].partition('"')[0]
    assert client.post(NEW, sent(page) | {"csrfmiddlewaretoken": token}).status_code == 302
    assert deliveries() == ["INV-1"]


def test_a_part_of_a_page_keeps_its_form_and_gets_a_notice(ready, monkeypatch):  # noqa: F811
    failing(monkeypatch, "inventory.receiving.views.receive", OperationalError("locked"))
    page = ready.post(NEW, delivery(CANS), headers={"HX-Request": "true"}).content.decode()
    assert "<form" not in page and "INV-1" not in page and 'role="alert"' in page


def test_reading_carries_nothing(ready, monkeypatch):  # noqa: F811
    failing(monkeypatch, "inventory.receiving.views.render", OperationalError("locked"))
    page = ready.get(NEW).content.decode()
    assert "<form" not in page and "Go back and send it again" in page


def test_a_file_is_to_be_chosen_again(ready, uploads, monkeypatch):  # noqa: F811
    assert ready.post(NEW, delivery(CANS)).status_code == 302
    address = f"/files/to/voucher/{Voucher.objects.get(kind='receipt').pk}/"
    key = str(uuid.uuid4())
    form = {"key": key, "title": "Invoice", "file": SimpleUploadedFile("a <7>.pdf", PDF)}
    failing(monkeypatch, "inventory.attachments.views.attach", OperationalError("locked"))
    page = ready.post(address, form).content.decode()
    assert 'enctype="multipart/form-data"' in page and "Choose the file again: a &lt;7&gt;.pdf" in page
    assert 'type="file" name="file"  required' in page or 'type="file" name="file" required' in page
    assert sent(page) == {"key": key, "title": "Invoice", "file": ""} and "%PDF" not in page


def test_a_password_is_typed_again_and_never_carried(owner_client, shop, monkeypatch):
    failing(monkeypatch, "jobs.people.actions.add_person", OperationalError("locked"))
    form = {
        "username": "new",
        "name": "New",
        "role": "technician",
        "password": "quiet brass",
        "repeated": "quiet brass",
    }
    page = owner_client.post("/people/new/", {**form, "key": str(uuid.uuid4())}).content.decode()
    assert "quiet brass" not in page and page.count('type="password"') == 2 and 'value="technician"' in page


def test_nothing_of_signing_in_is_carried(client, owner_client, shop, monkeypatch):
    failing(monkeypatch, "django.contrib.auth.forms.AuthenticationForm.clean", OperationalError("locked"))
    page = client.post("/sign-in/", {"username": "olive", "password": PASSWORD, "code": "123456"}).content.decode()
    assert "<form" not in page and PASSWORD not in page and "123456" not in page and "olive" not in page


def test_every_password_and_code_of_a_form_is_known_as_one():
    """By its name, or since its room carries nothing."""
    assert get_resolver().url_patterns  # every form is loaded
    waiting, found = [forms.Form], {}
    while waiting:
        one = waiting.pop()
        waiting += one.__subclasses__()
        for name, field in getattr(one, "base_fields", {}).items():
            said = field.widget.attrs.get("autocomplete", "")
            if isinstance(field.widget, forms.PasswordInput) or said == "one-time-code":
                found[f"{one.__module__}.{one.__name__}.{name}"] = typed.SECRET.search(name)
    ours = {name: known for name, known in found.items() if name.startswith(("shopledger", "jobs", "inventory"))}
    assert len(ours) >= 4
    assert [name for name, known in ours.items() if not known and not name.startswith(typed.OF_SECRETS)] == []


@pytest.mark.parametrize(
    ("more", "carried"),
    [(OURS, True), (FORGED, False), ({}, False), ({"headers": {"Origin": "null"}}, False)],
)
def test_a_form_without_the_page_s_key_is_carried_only_from_a_page_of_ours(ready, office, more, carried):  # noqa: F811
    """No other site can write the Origin of its form: what it forged is not one click from recorded."""
    client = Client(enforce_csrf_checks=True)
    client.force_login(office)
    form = delivery(CANS)
    answer = client.post(NEW, form, **more)
    page = answer.content.decode()
    assert answer.status_code == 403 and "This page was open too long" in page and deliveries() == []
    assert ("Send it again" in page) == carried and ("INV-1" in page) == carried
    if carried:
        assert "recorded by oscar" in page and sent(page) == form
        token = page.rpartition('name="csrfmiddlewaretoken" value="')[2].partition('"')[0]
        again = client.post(NEW, sent(page) | {"csrfmiddlewaretoken": token}, **more)
        assert again.status_code == 302 and deliveries() == ["INV-1"]


def test_who_signed_out_meanwhile_keeps_what_was_typed(ready):  # noqa: F811
    client = Client(enforce_csrf_checks=True)
    page = client.post(NEW, delivery(CANS), **OURS).content.decode()
    assert "Nobody is signed in now: sign in first" in page and "INV-1" in page


def test_what_cannot_be_read_again_is_not_promised(ready, monkeypatch):  # noqa: F811
    """The disk for uploads fills while a file arrives: the sentence is the disk's, and nothing is carried."""
    ready.raise_request_exception = False
    failing(
        monkeypatch,
        "django.core.files.uploadhandler.MemoryFileUploadHandler.receive_data_chunk",
        OSError(errno.ENOSPC, "No space left on device"),
    )
    answer = ready.post("/files/to/voucher/1/", {"title": "x", "file": SimpleUploadedFile("a.pdf", PDF)})
    page = answer.content.decode()
    assert answer.status_code == 503 and "Go back and send it again" in page and "<form" not in page


def test_a_name_is_said_in_words():
    assert typed.words_of("line-0-net_mass") == "line 1, net mass"
    assert typed.words_of("document") == "document"
    assert Person.objects.count() == 0
