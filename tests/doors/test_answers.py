"""What each answer tells the browser, and what a request may not do: every address, found in the URL list itself."""

import hashlib
import re
import uuid
from dataclasses import dataclass
from html.parser import HTMLParser
from urllib.parse import urlsplit

import pytest
from django.apps import apps
from django.contrib.messages import get_messages
from django.templatetags.static import static
from django.test import Client

from inventory.shop.models import Shop
from jobs.drafts.actions import start_job
from jobs.people.models import Person
from jobs.signing.actions import sign_job
from tests.conftest import PASSWORD
from tests.inventory.test_attachments import uploads  # noqa: F401 (a fixture)
from tests.inventory.test_office_pages import CANS, delivery
from tests.jobs.test_jobs import bay, whole_job  # noqa: F401 (a fixture)
from tests.shopledger.test_every_page import addresses  # noqa: F401 (a fixture)

pytestmark = pytest.mark.django_db
# Not a change of what anybody recorded: a session, a device that waits for its first code, when somebody was here.
OF_A_LOOK = {"sessions.session", "otp_totp.totpdevice", "shopledger.slowpage", "shopledger.signin"}


class Tags(HTMLParser):
    """Every tag of a page with its attributes, and of each form the tags within."""

    def __init__(self, page: str):
        super().__init__()
        self.tags: list[tuple[str, dict]] = []
        self.forms: list[tuple[dict, list[tuple[str, dict]]]] = []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        said = dict(attrs)
        self.tags.append((tag, said))
        if tag == "form":
            self.forms.append((said, []))
        elif self.forms:
            self.forms[-1][1].append((tag, said))


def body_of(answer) -> bytes:
    return b"".join(answer.streaming_content) if answer.streaming else answer.content


def standing() -> dict[str, str]:
    """What each table holds, as a digest."""
    found = {}
    for model in apps.get_models(include_auto_created=True):
        if model._meta.label_lower not in OF_A_LOOK and not model._meta.proxy:
            rows = repr(list(model._base_manager.order_by("pk").values_list()))
            found[model._meta.label_lower] = hashlib.sha256(rows.encode()).hexdigest()
    return found


@dataclass
class Walk:
    """Every address, asked by an owner: (name, answer, its body), and what the tables held before and after."""

    pages: list[tuple[str, object, bytes]]
    before: dict[str, str]
    after: dict[str, str]


WALKED: list[Walk] = []  # pages take a while: they are asked once for all that look at them


@pytest.fixture
def walk(request) -> Walk:
    if not WALKED:
        where, client = request.getfixturevalue("addresses"), request.getfixturevalue("owner_client")
        before, pages = standing(), []
        for name, address in where.items():
            if name != "sign-out":
                answer = client.get(address)
                pages.append((name, answer, body_of(answer)))
        WALKED.append(Walk(pages, before, standing()))
    return WALKED[0]


def test_each_answer_says_what_a_browser_may_do_with_it(walk):
    seen = set()
    for name, answer, body in walk.pages:
        policy = {one.split()[0]: one.split()[1:] for one in answer["Content-Security-Policy"].split(";")}
        if "sandbox" not in policy:
            for rule in ("default-src", "object-src", "base-uri", "frame-ancestors"):
                assert policy[rule] == ["'none'"], (name, rule)
            assert policy["script-src"] == policy["style-src"] == policy["connect-src"] == ["'self'"], name
        assert "unsafe" not in str(policy) and "*" not in str(policy), name
        assert answer["X-Content-Type-Options"] == "nosniff" and answer["Referrer-Policy"] == "same-origin", name
        assert answer["Cross-Origin-Opener-Policy"] == answer["Cross-Origin-Resource-Policy"] == "same-origin", name
        assert "microphone=()" in answer["Permissions-Policy"] and "geolocation=()" in answer["Permissions-Policy"]
        assert "serial=(self)" in answer["Permissions-Policy"] and "bluetooth=(self)" in answer["Permissions-Policy"]
        assert "Access-Control-Allow-Origin" not in answer and "Server" not in answer, name
        if not body:
            continue
        kind, _, charset = answer["Content-Type"].partition(";")
        seen.add(kind)
        if kind.startswith("text/") and kind != "text/javascript":
            assert charset.strip() == "charset=utf-8", (name, answer["Content-Type"])
        begins = {"application/pdf": b"%PDF", "application/zip": b"PK", "image/png": b"\x89PNG", "image/svg+xml": b"<"}
        assert body.lstrip().startswith(begins.get(kind, b"")), (name, kind)
    assert {"text/html", "application/pdf", "image/svg+xml"} <= seen


def test_no_page_holds_a_script_or_a_style_of_its_own_or_leads_elsewhere(walk):
    checked = 0
    for name, answer, body in walk.pages:
        if answer.status_code in {301, 302}:
            assert not urlsplit(answer.url).netloc, (name, answer.url)
        if not answer.get("Content-Type", "").startswith("text/html"):
            continue
        checked += 1
        page = Tags(body.decode())
        for tag, said in page.tags:
            assert tag not in {"style", "object", "embed", "iframe", "base"}, name
            assert tag != "script" or said.get("src", "").startswith("/static/"), (name, said)
            assert not any(one.startswith("on") or one == "style" for one in said), (name, said)
            for one in ("href", "src", "action", "formaction"):
                where = urlsplit(said.get(one) or "")
                assert where.scheme in {"", "data"} or (tag == "a" and where.scheme in {"https", "http", "tel"}), (
                    name,
                    said,
                )
                assert where.scheme != "data" or tag == "img", (name, said)
            if tag == "a" and urlsplit(said.get("href") or "").netloc:
                assert "noopener" in said.get("rel", "") or said.get("target") != "_blank", (name, said)
    assert checked > 80


def test_secrets_are_typed_into_fields_that_hide_them_and_never_into_an_address(walk):
    found = 0
    sign_in = Client().get("/sign-in/")
    for name, answer, body in [*walk.pages, ("sign-in", sign_in, sign_in.content)]:
        assert b"onpaste" not in body, name
        if not answer.get("Content-Type", "").startswith("text/html"):
            continue
        page = Tags(body.decode())
        for form, fields in page.forms:
            for tag, said in fields:
                if tag != "input" or "password" not in said.get("name", ""):
                    continue
                found += 1
                assert said["type"] == "password" and form.get("method", "").lower() == "post"
                assert said.get("autocomplete") in {"current-password", "new-password"}, said
                assert "readonly" not in said and int(said.get("maxlength") or 999) >= 64
            if form.get("method", "get").lower() == "post" and not form.get("hx-post"):
                assert any(said.get("name") == "csrfmiddlewaretoken" for _, said in fields), form
        for _, said in page.tags:
            asked = urlsplit(said.get("href") or "").query
            assert not re.search(r"(?:^|&)(?:password|token|code|secret|session\w*)=", asked), (name, asked)
    assert found >= 6


def test_looking_changes_nothing(walk, owner_client):
    """GET of every address, also those whose form does something by POST."""
    assert walk.after == walk.before
    assert owner_client.get("/sign-out/").status_code == 405 and owner_client.get("/me/units/").status_code == 200


@pytest.mark.parametrize("method", ["TRACE", "PUT", "DELETE", "PATCH", "CONNECT", "PROPFIND"])
def test_there_are_no_other_methods(owner_client, method):
    for address in ("/", "/sign-in/", "/stock/", static("shopledger/app.js"), "/healthz"):
        answer = owner_client.generic(method, address, headers={"x-secret": "echo"})
        assert answer.status_code == 405 and b"echo" not in answer.content, address


def test_files_and_a_monitor_s_answer_say_it_too(client):
    for address in (static("shopledger/app.js"), "/healthz", "/worker.js"):
        answer = client.get(address)
        assert answer.status_code == 200, address
        assert "frame-ancestors 'none'" in answer["Content-Security-Policy"], address
        assert answer["X-Content-Type-Options"] == "nosniff", address
        assert answer["Cross-Origin-Resource-Policy"] == "same-origin", address


def test_with_tls_every_answer_insists_on_it(settings, client, shop):
    settings.SECURE_HSTS_SECONDS, settings.SECURE_HSTS_INCLUDE_SUBDOMAINS = 365 * 24 * 3600, True
    settings.SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    for address in ("/sign-in/", "/healthz", static("shopledger/app.js"), "/nothing/"):
        said = client.get(address, headers={"x-forwarded-proto": "https"})["Strict-Transport-Security"]
        assert "max-age=31536000" in said and "includeSubDomains" in said, address
        assert "Strict-Transport-Security" not in client.get(address), "a browser believes it over TLS alone"


def test_a_page_of_another_site_gets_no_leave_to_read(owner_client):
    answer = owner_client.get("/", headers={"origin": "https://elsewhere.example"})
    assert not [name for name in answer.headers if name.lower().startswith("access-control")]
    asked = owner_client.options(
        "/stock/", headers={"origin": "https://elsewhere.example", "access-control-request-method": "POST"}
    )
    assert not [name for name in asked.headers if name.lower().startswith("access-control")]


def test_a_form_of_another_site_is_refused_even_with_its_token(owner):
    """Over TLS the page that sends a form must be one of ours."""
    client = Client(enforce_csrf_checks=True)
    client.force_login(owner)
    token = client.get("/settings/", secure=True).context["csrf_token"]
    data = {"name": "Stolen", "csrfmiddlewaretoken": str(token)}
    for headers in ({"origin": "https://elsewhere.example"}, {"referer": "https://elsewhere.example/"}, {}):
        assert client.post("/settings/", data, secure=True, headers=headers).status_code == 403
    assert not Shop.objects.filter(name="Stolen").exists()


def test_what_a_form_does_not_ask_is_not_taken(shop, technician, technician_client, owner_client):
    """A field of the record that is no field of the form changes nothing, whoever sends it."""
    more = {"role": "owner", "is_superuser": "on", "is_staff": "on", "is_active": "", "username": "other"}
    technician_client.post("/me/units/", {"mass_unit": "oz", "volume_unit": "mL", "password": "x", **more})
    technician.refresh_from_db()
    assert technician.mass_unit == "oz" and technician.check_password(PASSWORD)
    assert (technician.role, technician.is_superuser, technician.is_active) == ("technician", False, True)
    assert technician.username == "tess"
    sent = {"username": "neu", "name": "Neu Test", "role": "office", "password": "", "repeated": "", "is_staff": "on"}
    assert (
        owner_client.post("/people/new/", {**sent, "is_superuser": "on", "last_login": "2020-01-01"}).status_code == 302
    )
    made = Person.objects.get(username="neu")
    assert (made.role, made.is_superuser, made.is_staff, made.last_login) == ("office", False, False, None)


def test_what_stands_in_the_address_is_no_part_of_the_form(shop, owner_client):
    sent = {"username": "neu", "name": "Neu Test", "role": "technician", "password": "", "repeated": ""}
    assert owner_client.post("/people/new/?role=owner&name=Other", sent).status_code == 302
    made = Person.objects.get(username="neu")
    assert (made.role, made.name) == ("technician", "Neu Test")
    twice = "username=two&name=Two+Test&role=owner&role=technician&password=&repeated="
    owner_client.post("/people/new/", twice, content_type="application/x-www-form-urlencoded")
    assert Person.objects.get(username="two").role == "technician", "the last one counts, everywhere"


def test_an_address_is_decoded_once(shop, owner_client):
    page = owner_client.get("/stock/?text=%253Cscript%253E%2527").content.decode()
    assert "%3Cscript%3E%27" in page and "<script>" not in page.split("</head>")[1].replace('<script type="module"', "")
    assert owner_client.get("/stock/containers/CAN%252e1/").status_code == 404


def test_a_page_that_was_left_does_not_come_back_with_another_s_address(client, technician):
    """Where signing in leads is a page of this site."""
    for there in ("//elsewhere.example", "https:elsewhere.example", "javascript:alert(1)", "/\\elsewhere.example"):
        answer = client.post("/sign-in/", {"username": "tess", "password": PASSWORD, "next": there})
        assert answer.url == "/", there
        client.post("/sign-out/")


def test_a_wrong_type_in_a_field_is_said_and_not_guessed(shop, owner_client):
    for role in ("1", "True", "[]", "OWNER", "technician\0", "technician "):
        sent = {"username": "odd", "name": "Odd Test", "role": role, "password": "", "repeated": ""}
        answer = owner_client.post("/people/new/", sent)
        assert answer.status_code in {200, 400, 422} and not Person.objects.filter(username="odd").exists(), role
        list(get_messages(answer.wsgi_request))


def test_one_visitor_s_address_cannot_be_made_up(client, technician, settings):
    """What a visitor sends as its own address is not believed: the web server sets the real one from the proxy's."""
    settings.AXES_ENABLED = True
    wrong = {"username": "tess", "password": "wrong"}
    for turn in range(5):
        answer = client.post("/sign-in/", wrong, REMOTE_ADDR="10.0.0.9", headers={"x-forwarded-for": f"192.0.2.{turn}"})
    assert answer.status_code == 429


def test_a_file_s_name_stays_a_name(shop, office_client):
    from django.core.files.uploadedfile import SimpleUploadedFile

    from inventory.attachments.actions import attach
    from tests.inventory.test_attachments import PDF

    for name in ('a"; filename="b.exe', "инвойс.pdf", "x\r\nSet-Cookie: a=b.pdf", "../../up.pdf"):
        one = attach(subject="voucher:1", upload=SimpleUploadedFile(name, PDF), by="oscar")
        said = office_client.get(f"/files/{one.pk}/?name=other.exe")["Content-Disposition"]
        assert said.startswith("attachment; filename") and "\n" not in said and "exe" not in said.partition(".pdf")[2]
        assert re.fullmatch(r"attachment; filename(?:=\"[\w .\-]+\.pdf\"|\*=utf-8''[\w.%\-]+\.pdf)", said), said


def test_signing_out_stands_on_every_page(walk):
    seen = 0
    for name, answer, body in walk.pages:
        whole = b"<html" in body and answer.status_code < 400
        if whole and answer.get("Content-Type", "").startswith("text/html"):
            assert b'action="/sign-out/"' in body, name
            seen += 1
    assert seen > 60


def test_what_costs_is_not_shown_to_technicians(shop, bay, technician, office_client, technician_client):  # noqa: F811
    """A price is a field of a container that the office reads: in no page and no file of a technician."""
    assert office_client.post("/receiving/new/", delivery({**CANS, "price": "123.45", "count": "1"})).status_code == 302
    assert "123.45" in office_client.get("/costs/").content.decode()
    assert technician_client.get("/costs/").status_code == 403
    for address in ("/stock/", "/stock/?export=csv", "/ledger/", "/ledger/1/"):
        assert b"123.45" not in body_of(technician_client.get(address, follow=True)), address
    job = start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4())
    whole_job(job, technician)
    sign_job(job.pk, by=technician)
    page = f"/jobs/{job.pk}/"
    said = office_client.get(page).content.decode()
    assert "Refrigerant and oil cost" in said
    report = re.search(r'/reports/job-costs/\?first=[^"]+', said)[0].replace("&amp;", "&")
    assert office_client.get(report).status_code == 200 and "first in, first out, the formula of the shop" in said
    assert "Refrigerant and oil cost" not in technician_client.get(page).content.decode()
