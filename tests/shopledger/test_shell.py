"""Signing in, navigation, forms, lists, and what a person reads when something fails."""

import datetime as dt
import re
import uuid

import django_tables2 as tables
import pytest
from django import forms
from django.contrib.auth import SESSION_KEY
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, OperationalError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.template import Context, Template
from django.template.loader import get_template
from django.test import Client
from django.urls import include, path, reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.shop.forms import DayField, OnceForm, add_refused
from inventory.text.refusal import Refused
from jobs.people.actions import add_certificate
from shopledger.errors import views as faults
from shopledger.navigation import ways as navigation
from tests.conftest import PASSWORD
from tests.kept import saved


def refuses(request: HttpRequest) -> HttpResponse:
    raise Refused("Container <C-7> was sent away on 2 Mar 2026; choose another.")


def finds_the_disk_full(request: HttpRequest) -> HttpResponse:
    raise OperationalError("database or disk is full")


def is_a_moment_late(request: HttpRequest) -> HttpResponse:
    raise IntegrityError("UNIQUE constraint failed: secret detail")


def forbids(request: HttpRequest) -> HttpResponse:
    raise PermissionDenied("Only an owner may read the ledger's head.")


def hides(request: HttpRequest) -> HttpResponse:
    raise Http404("No Voucher matches the given query.")


def breaks(request: HttpRequest) -> HttpResponse:
    raise ZeroDivisionError("secret detail")


def tells_the_day(request: HttpRequest) -> HttpResponse:
    return HttpResponse(timezone.localtime(dt.datetime(2026, 3, 2, 3, 0, tzinfo=dt.UTC)).isoformat())


@require_POST
def posts(request: HttpRequest) -> HttpResponse:
    return HttpResponse("done")


urlpatterns = [
    path("refuses/", refuses),
    path("full/", finds_the_disk_full),
    path("twice/", is_a_moment_late),
    path("forbids/", forbids),
    path("hides/", hides),
    path("breaks/", breaks),
    path("day/", tells_the_day),
    path("posts/", posts),
    path("", include("shopledger.urls")),
]
handler400, handler403, handler404, handler500 = (
    faults.unreadable,
    faults.not_allowed,
    faults.not_found,
    faults.broken,
)
these_urls = pytest.mark.urls(__name__)
HTMX = {"HX-Request": "true", "HX-Current-URL": "http://testserver/jobs/7/"}


def text_of(response: HttpResponse) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))


def tight(html: str) -> str:
    """Without the spaces about its tags, which no reader sees."""
    return re.sub(r" ?([<>]) ?", r"\1", re.sub(r"\s+", " ", html))


# Signing in


def test_a_visitor_is_led_to_sign_in_and_then_to_the_page_asked_for(client, technician):
    response = client.get(reverse("preferences"))
    assert response.status_code == 302
    assert response.url == f"{reverse('sign-in')}?next={reverse('preferences')}"
    page = client.get(response.url)
    assert f'<input type="hidden" name="next" value="{reverse("preferences")}">' in page.content.decode()
    response = client.post(
        reverse("sign-in"), {"username": "tess", "password": PASSWORD, "next": reverse("preferences")}
    )
    assert response.url == reverse("preferences")


def test_signing_in_leads_nowhere_else(client, technician):
    response = client.post(
        reverse("sign-in"), {"username": "tess", "password": PASSWORD, "next": "https://elsewhere.example/"}
    )
    assert response.url == reverse("home")


def test_signing_in_does_not_tell_which_names_exist(client, technician):
    pages = []
    for username in ("tess", "nobody"):
        response = client.post(reverse("sign-in"), {"username": username, "password": "wrong"})
        assert SESSION_KEY not in client.session
        pages.append(text_of(response))
    assert "do not belong together" in pages[0]
    assert pages[0] == pages[1]


def test_someone_who_left_reads_the_same_sentence(client, technician):
    saved(technician, is_active=False)
    response = client.post(reverse("sign-in"), {"username": "tess", "password": PASSWORD})
    assert "do not belong together" in text_of(response)


def test_an_empty_sign_in_says_what_is_missing_at_the_field(client, db):
    page = client.post(reverse("sign-in"), {}).content.decode()
    assert '<a href="#id_username">Username: Enter your username.</a>' in page
    assert re.search(r'<input[^>]*name="username"[^>]*aria-describedby="id_username_error"', page)


def test_signing_in_changes_the_session_key(client, technician):
    client.get(reverse("sign-in"))
    client.session.save()
    before = client.session.session_key
    client.post(reverse("sign-in"), {"username": "tess", "password": PASSWORD})
    assert client.session.session_key != before


def test_signing_out_ends_the_session_and_is_a_post(technician_client):
    assert technician_client.get(reverse("sign-out")).status_code == 405
    assert SESSION_KEY in technician_client.session
    response = technician_client.post(reverse("sign-out"))
    assert response.url == reverse("sign-in")
    assert SESSION_KEY not in technician_client.session


def test_signing_out_after_the_session_ended_is_no_detour(client, db):
    assert client.post(reverse("sign-out")).url == reverse("sign-in")


# The page around every page


def entries(page: str) -> list[str]:
    """Each way once: what is under More on a phone stands in the list as well."""
    main = re.search(r'<nav class="nav".*?</nav>', page, re.S).group()
    return list(dict.fromkeys(re.findall(r">([^<]+)</a>", main)))


@these_urls
@pytest.mark.parametrize("role", ["technician", "office", "owner"])
def test_navigation_holds_what_the_role_may_open_and_has_a_page(request, role, shop):
    client = request.getfixturevalue(f"{role}_client")
    page = tight(client.get(reverse("home")).content.decode())
    wanted = [label for label, name, roles in navigation.WAYS if role in roles and _has_page(name)]
    assert entries(page) == wanted
    assert re.findall(r'aria-current="page">([^<]+)</a></li>', page) == ["Home"]
    if role == "technician":
        assert not {"Receiving", "People", "Settings", "Ledger"} & set(entries(page))


def _has_page(name: str) -> bool:
    try:
        reverse(name)
    except Exception:
        return False
    return True


def test_the_entry_above_the_present_page_is_marked():
    ways = navigation.ways("owner", reverse("people") + "7/edit/")
    assert {way.label: way.current for way in ways if way.current} == {"People": "true"}
    assert not [way for way in navigation.ways("owner", "/me/units/") if way.current]


def test_pages_name_the_shop_and_the_person_and_defer_to_local_rules(technician_client, shop):
    page = text_of(technician_client.get(reverse("home")))
    assert "Test Shop" in page
    assert "Tess Test" in page
    assert "Check local rules; licensed practice comes first." in page


def test_an_invented_shop_says_so(technician_client, shop):
    sentence = "An invented shop"
    assert sentence not in text_of(technician_client.get(reverse("home")))
    saved(shop, invented=True)
    assert sentence in text_of(technician_client.get(reverse("home")))


def test_a_name_with_markup_is_shown_as_text(technician_client, technician, shop):
    markup = '<script>alert("1")</script>'
    saved(technician, name=markup)
    saved(shop, name=markup)
    assert b"<script>alert" not in technician_client.get(reverse("home")).content


def test_no_template_holds_a_script_or_a_style(settings):
    folder = settings.BASE_DIR / "templates"
    for file in folder.rglob("*.html"):
        source = file.read_text()
        assert not re.search(r"<style|\sstyle=|\son[a-z]+=\s*[\"']", source), file
        assert not re.search(r"<script(?![^>]*\bsrc=)", source), file


def test_every_template_parses(settings):
    folder = settings.BASE_DIR / "templates"
    names = [str(file.relative_to(folder)) for file in folder.rglob("*.html")]
    assert "base.html" in names
    for name in names:
        get_template(name)


def test_pages_carry_the_content_policy(technician_client):
    policy = technician_client.get(reverse("home")).headers["Content-Security-Policy"]
    assert "script-src 'self'" in policy
    assert "style-src 'self'" in policy
    assert "unsafe" not in policy


@pytest.mark.parametrize(("role", "statements"), [("owner", 10), ("office", 8), ("technician", 7)])
def test_home_costs_the_same_with_one_certificate_ending_and_with_many(
    request, role, statements, technician, shop, django_assert_num_queries
):
    client = request.getfixturevalue(f"{role}_client")
    person = technician if role == "owner" else request.getfixturevalue(role)

    def ends(number: int) -> None:
        today = timezone.now().date()
        add_certificate(person=person, by=None, scheme="Section 609", number=f"T-{number}", issued=today, expires=today)

    ends(0)
    with django_assert_num_queries(statements):
        page = text_of(client.get(reverse("home")))
    assert ("Tess Test: " if role == "owner" else "") + "Section 609 T-0" in page
    for number in range(1, 20):
        ends(number)
    with django_assert_num_queries(statements):
        client.get(reverse("home"))


def test_a_technician_sees_only_their_own_certificates_ending(technician_client, office, shop):
    today = timezone.now().date()
    add_certificate(person=office, by=None, scheme="Section 609", number="T-1", issued=today, expires=today)
    assert "T-1" not in text_of(technician_client.get(reverse("home")))


# Units, password


def test_everyone_chooses_the_units_they_are_shown(technician_client, technician, office):
    response = technician_client.post(reverse("preferences"), {"mass_unit": "oz", "volume_unit": "fl oz"})
    assert response.url == reverse("preferences")
    technician.refresh_from_db()
    office.refresh_from_db()
    assert (technician.mass_unit, technician.volume_unit) == ("oz", "fl oz")
    assert (office.mass_unit, office.volume_unit) == ("g", "mL")


def test_everyone_chooses_how_close_rows_stand(technician_client, technician, office_client):
    assert '<html lang="en">' in technician_client.get(reverse("home")).content.decode()
    units = {"mass_unit": "g", "volume_unit": "mL"}
    assert technician_client.post(reverse("preferences"), {**units, "compact": "on"}).status_code == 302
    assert '<html lang="en" class="compact">' in technician_client.get(reverse("home")).content.decode()
    assert '<html lang="en">' in office_client.get(reverse("home")).content.decode()
    assert technician_client.post(reverse("preferences"), units).status_code == 302
    technician.refresh_from_db()
    assert not technician.compact


def test_a_figure_that_is_not_all_it_holds_carries_the_rest(rf, technician):
    request = rf.get("/")
    request.user = technician

    def said(milligrams, beside=""):
        template = Template("{% mass value beside %}")
        return template.render(Context({"request": request, "value": milligrams, "beside": beside}))

    assert said(412_000) == '<span class="q">412 g</span>'
    assert said(1_250_000) == '<span class="q">1\u202f250 g</span>'
    whole = '<data class="q" value="27656.4 g" title="27\u202f656.4 g">27.6564 kg</data>'
    assert said(27_656_400) == whole
    assert said(411_068) == '<data class="q" value="411.068 g" title="411.068 g">411.1 g</data>'
    assert said(27_656_400, "g") == '<span class="q">27\u202f656.4 g</span>', "beside a field it keeps its unit"


def test_an_unknown_unit_changes_nothing_and_is_named(technician_client, technician):
    response = technician_client.post(reverse("preferences"), {"mass_unit": "stone", "volume_unit": "L"})
    assert response.status_code == 200
    assert "Refrigerant in: Select a valid choice. stone" in text_of(response)
    technician.refresh_from_db()
    assert (technician.mass_unit, technician.volume_unit) == ("g", "mL")


def test_quantities_are_shown_in_the_person_s_units(rf, technician):
    technician.mass_unit, technician.volume_unit = "oz", "fl oz"
    request = rf.get("/")
    request.user = technician

    class Oil:
        is_oil = True

    template = Template("{% mass 411068 %}|{% volume 29574 %}|{% quantity 59147 oil %}|{% mass None %}")
    shown = re.sub(r"<[^>]+>", "", template.render(Context({"request": request, "oil": Oil()})))
    assert shown == "14.5 oz|1 fl oz|2 fl oz|–"  # 14.5 oz = 411.06809 g; 1 US fl oz = 29.57353 mL


def test_changing_the_password_asks_for_the_present_one(technician_client, technician):
    new = {"new_password1": "quiet brass manifold", "new_password2": "quiet brass manifold"}
    response = technician_client.post(reverse("password"), {"old_password": "wrong", **new})
    assert "This is not your present password" in text_of(response)
    response = technician_client.post(reverse("password"), {"old_password": PASSWORD, **new})
    assert response.url == reverse("home")
    technician.refresh_from_db()
    assert technician.check_password("quiet brass manifold")
    assert "Your password is changed." in text_of(technician_client.get(reverse("home")))


# What a person reads when something fails


@these_urls
@pytest.mark.parametrize(
    ("page", "status", "sentence"),
    [
        ("/refuses/", 409, "Container &lt;C-7&gt; was sent away on 2 Mar 2026; choose another."),
        ("/full/", 503, "An entry is recorded whole or not at all."),
        ("/twice/", 409, "Nothing of yours was recorded."),
        ("/forbids/", 403, "Only an owner may read the ledger&#x27;s head."),
        ("/hides/", 404, "There is no such page or record, or it is not one of yours."),
        ("/no-such-page/", 404, "There is no such page or record, or it is not one of yours."),
        ("/breaks/", 500, "This is a fault of the program, not of what you entered."),
        ("/posts/", 405, "Nothing was recorded."),
    ],
)
def test_every_fault_is_a_sentence_on_a_page_and_a_notice_in_a_part_of_one(
    technician_client, shop, page, status, sentence
):
    technician_client.raise_request_exception = False
    response = technician_client.get(page)
    whole = response.content.decode()
    assert (response.status_code, "<!doctype html>" in whole) == (status, True)
    assert sentence in whole
    assert "secret detail" not in whole
    assert "matches the given query" not in whole
    response = technician_client.get(page, headers=HTMX)
    part = response.content.decode()
    assert (response.status_code, "<html" in part) == (status, False)
    assert sentence in part
    assert part.startswith('<div class="notice error" role="alert">')


@these_urls
def test_a_database_away_while_the_session_is_read_is_the_same_sentence(technician_client, monkeypatch):
    """No view is reached then, and the page that says so must not ask the database either."""

    def away(*args: object, **kwargs: object) -> None:
        raise OperationalError("database is locked")

    technician_client.raise_request_exception = False
    monkeypatch.setattr("django.contrib.sessions.backends.db.SessionStore.load", away)
    response = technician_client.get(reverse("home"))
    assert response.status_code == 503
    assert "The ledger is busy, or its disk cannot be read or written." in response.content.decode()


def test_a_form_from_a_page_of_another_sign_in_is_not_taken_and_says_so(technician):
    client = Client(enforce_csrf_checks=True)
    client.force_login(technician)
    response = client.post(reverse("preferences"), {"mass_unit": "oz", "volume_unit": "L"})
    assert response.status_code == 403
    assert "This page was open too long" in text_of(response)
    technician.refresh_from_db()
    assert technician.mass_unit == "g"


def test_a_part_of_a_page_asked_for_after_the_sign_in_ended_leads_the_page_to_sign_in(client, db):
    response = client.get(reverse("preferences"), headers=HTMX)
    assert response.status_code == 200
    assert response.headers["HX-Redirect"] == f"{reverse('sign-in')}?next=%2Fjobs%2F7%2F"


@these_urls
def test_the_page_before_is_offered_only_where_it_is_ours(technician_client, shop):
    ours = technician_client.get("/refuses/", headers={"Referer": "http://testserver/jobs/"})
    assert b'href="http://testserver/jobs/"' in ours.content
    other = technician_client.get("/refuses/", headers={"Referer": "https://elsewhere.example/"})
    assert b"elsewhere" not in other.content


def test_a_request_for_an_unknown_host_gets_a_sentence(client, db):
    response = client.get("/", headers={"Host": "elsewhere.example"})
    assert response.status_code == 400
    assert "Nothing was recorded." in text_of(response)


# The shop's calendar


@these_urls
def test_views_run_in_the_shop_s_time_zone(technician_client, shop):
    assert technician_client.get("/day/").content == b"2026-03-01T20:00:00-07:00"  # Denver, seven hours behind
    saved(shop, timezone="Asia/Tokyo")
    assert technician_client.get("/day/").content == b"2026-03-02T12:00:00+09:00"


def test_a_visitor_led_to_sign_in_costs_no_query(client, db, django_assert_num_queries):
    with django_assert_num_queries(0):
        client.get(reverse("home"))


def test_days_and_moments_read_the_same_everywhere():
    template = Template("{{ d|day }} {{ m|day }} {{ m|moment }} {{ none|day }}")
    moment = dt.datetime(2026, 3, 2, 14, 5, tzinfo=dt.UTC)
    with timezone.override(dt.timezone(dt.timedelta(hours=-15))):
        shown = template.render(Context({"d": dt.date(2026, 3, 2), "m": moment, "none": None}))
    assert re.sub(r"<[^>]+>", "", shown) == "2 Mar 2026 1 Mar 2026 1 Mar 2026, 23:05 –"


# Forms


class ReadingForm(OnceForm):
    day = DayField(label="Day")
    before = forms.CharField(label="Reading before", help_text="The whole can.")
    how = forms.ChoiceField(label="How measured", widget=forms.RadioSelect, choices=[("w", "By weights")])
    empty = forms.BooleanField(label="The can is empty", required=False)
    note = forms.CharField(required=False)


def test_each_form_shown_has_a_key_of_its_own_which_stays_through_corrections(shop):
    first, second = ReadingForm(), ReadingForm()
    keys = [re.search(r'name="key" value="([0-9a-f-]{36})"', str(form)).group(1) for form in (first, second)]
    assert keys[0] != keys[1]
    again = ReadingForm({"key": keys[0]})
    assert not again.is_valid()
    assert f'name="key" value="{keys[0]}"' in str(again)


@pytest.mark.parametrize("key", ["", "not-a-key"])
def test_a_form_without_its_key_says_what_to_do(shop, key):
    form = ReadingForm({"key": key, "day": "2026-03-02", "before": "612 g", "how": "w"})
    assert not form.is_valid()
    assert "Open the page again" in str(form)


def test_faults_lead_to_their_fields_and_are_read_with_them(shop):
    html = str(ReadingForm({"key": uuid.uuid4(), "day": "2 March", "before": ""}))
    assert '<a href="#id_day">Day: This is no day of the calendar; write it as 2026-03-02.</a>' in html
    assert '<a href="#id_before">Reading before: This is missing. Enter it, or choose one.</a>' in html
    assert re.search(r'<input[^>]*id="id_before"[^>]*>', html).group().count("aria-invalid") == 1
    assert 'aria-describedby="id_before_helptext id_before_error"' in html
    assert 'id="id_before_error"' in html
    assert 'value="2 March"' in html  # what was typed stays
    target = re.search(r'<a href="#([^"]+)">How measured', html).group(1)
    assert f'id="{target}"' in html


def test_every_field_has_a_label_or_a_legend(shop):
    html = str(ReadingForm())
    for name in ("day", "before", "empty", "note"):
        assert f'<label for="id_{name}">' in html
    assert "<legend>How measured</legend>" in html
    assert html.count("(optional)") == 1  # the note; a box to tick needs no such word


def test_the_day_offered_is_the_shop_s(shop, monkeypatch):
    monkeypatch.setattr("inventory.shop.clock.timezone.now", lambda: dt.datetime(2026, 3, 2, 3, 0, tzinfo=dt.UTC))
    assert 'type="date" name="day" value="2026-03-01"' in str(ReadingForm())  # still the day before in Denver


def test_a_refusal_goes_to_its_field_or_above_all(shop):
    def refused(field: str | None) -> forms.Form:
        form = ReadingForm({"key": uuid.uuid4(), "day": "2026-03-02", "before": "612 g", "how": "w"})
        assert form.is_valid()
        add_refused(form, Refused("The can holds 340 g; check the reading.", field))
        return form

    assert refused("before").errors == {"before": ["The can holds 340 g; check the reading."]}
    for field in (None, "no such field", "key"):
        assert refused(field).non_field_errors() == ["The can holds 340 g; check the reading."]


# Lists


class CanTable(tables.Table):
    code = tables.Column(linkify=lambda record: f"/c/{record['code']}/")
    net = tables.Column("Net <g>", attrs={"td": {"class": "number"}}, footer="2 kg")
    weighed = tables.Column(orderable=False)

    class Meta:
        empty_text = "No cans. Receive a delivery first."


def drawn(rf, rows: list[dict], query: str = "") -> str:
    request = rf.get(f"/cans/{query}")
    table = CanTable(rows)
    tables.RequestConfig(request, paginate={"per_page": 10}).configure(table)
    template = Template("{% load django_tables2 %}{% render_table table %}")
    return tight(template.render(Context({"table": table, "request": request})))


@pytest.fixture
def cans() -> list[dict]:
    return [
        {"code": f"A-{number:02}", "net": f"{number} <b>", "weighed": dt.date(2026, 3, 2)} for number in range(1, 26)
    ]


def test_cells_carry_their_heading_and_are_text(rf, cans):
    html = drawn(rf, cans)
    assert '<td data-label="Code"><a href="/c/A-01/">A-01</a></td>' in html
    assert '<td data-label="Net &lt;g&gt;" class="number">1 &lt;b&gt;</td>' in html
    assert '<td data-label="Weighed"><time datetime="2026-03-02">2 Mar 2026</time></td>' in html
    assert html.count("<tr>") == 12  # a head, ten rows, a foot


def test_headings_sort_and_start_again_at_the_first_page(rf, cans):
    html = drawn(rf, cans, "?page=2&q=x&sort=code")
    assert '<th scope="col" aria-sort="ascending"><a href="?q=x&amp;sort=-code">Code</a></th>' in html
    assert '<th scope="col">Weighed</th>' in html
    assert ">A-11<" in html
    html = drawn(rf, cans, "?sort=-code")
    assert 'aria-sort="descending"' in html
    assert html.index(">A-25<") < html.index(">A-24<")


def test_pages_of_a_list_mark_the_present_one(rf, cans):
    html = drawn(rf, cans, "?page=2&q=x")
    assert '<span class="here" aria-current="page">2</span>' in html
    assert '<a rel="prev" href="?page=1&amp;q=x">Previous</a>' in html
    assert "11–20 of 25" in html
    assert "aria-current" not in drawn(rf, cans[:3])


def test_an_empty_list_says_what_to_do(rf):
    html = drawn(rf, [])
    assert "No cans. Receive a delivery first." in html
    assert "2 kg" not in html


def test_an_unreadable_filter_says_so(rf):
    class Search(forms.Form):
        since = forms.DateField(label="Since", required=False)

    class Filter:
        form = Search({"since": "yesterday"})

    page = render(rf.get("/cans/?since=yesterday&sort=code"), "_filters.html", {"filter": Filter}).content.decode()
    assert "The list is not filtered. Please put this right:" in page
    assert '<a href="#id_since">Since: Enter a valid date.</a>' in page
    assert '<input type="hidden" name="sort" value="code">' in page
    assert '<a class="button quiet" href="/cans/">Clear</a>' in page
