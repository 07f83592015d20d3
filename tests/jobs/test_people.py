"""People, their certificates, and the owner's pages about them."""

import datetime as dt
import uuid

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from inventory.shop.access import role_required
from inventory.shop.clock import today
from inventory.text.refusal import Refused
from jobs.people import actions, queries
from jobs.people.models import Certificate, Person
from jobs.people.wording import folded, one_line, paragraph, squeezed
from tests.kept import made

DAY = dt.date(2026, 3, 2)


def certificate(person, number="N-1", issued=dt.date(2020, 1, 1), expires=None, scheme="Scheme A"):
    return actions.add_certificate(by=None, person=person, scheme=scheme, number=number, issued=issued, expires=expires)


# What people type


def test_text_is_kept_on_one_line_and_composed():
    assert one_line("  Jose\u0301 \t  Bell\n", "name", called="name", longest=20) == "José Bell"


@pytest.mark.parametrize("text", ["a\x00b", "a\x1bb", "a\ud800b"])
def test_characters_that_databases_lose_are_refused(text):
    with pytest.raises(Refused, match=r"control character U\+") as refused:
        one_line(text, "name", called="name", longest=20)
    assert refused.value.field == "name"


def test_a_text_that_does_not_fit_is_refused_with_both_lengths():
    with pytest.raises(Refused, match="has 21 characters; at most 20 fit"):
        one_line("x" * 21, "name", called="name", longest=20)
    with pytest.raises(Refused, match="at most 5000"):
        paragraph("x" * 5001, "note", called="note")


def test_paragraphs_keep_their_lines():
    assert paragraph("one\r\ntwo\rthree\n", "note", called="note") == "one\ntwo\nthree"


@pytest.mark.parametrize(
    ("typed", "found"),
    [("ŁÓDŹ", "łodz"), ("Straße", "STRASSE"), ("Žižka", "zizka"), ("ﬁat", "FIAT"), ("ΣΊΣΥΦΟΣ", "σισυφος")],
)
def test_folding_leaves_no_case_and_no_accent(typed, found):
    assert folded(typed) == folded(found)


def test_squeezing_leaves_letters_and_digits():
    assert squeezed("AB-12 cde") == "ab12cde"


# People


def test_a_person_added_can_sign_in_with_the_password(client, db):
    person = actions.add_person(
        by=None, username="maria", name="  Maria  Ortiz ", role="technician", password="wet pump 7 am"
    )
    assert person.name == "Maria Ortiz" and person.check_password("wet pump 7 am")
    assert client.login(username="maria", password="wet pump 7 am")


def test_without_a_password_nobody_signs_in(client, db):
    actions.add_person(by=None, username="maria", name="Maria", role="technician")
    assert not Person.objects.get(username="maria").has_usable_password()
    assert not client.login(username="maria", password="")


@pytest.mark.parametrize(
    ("change", "field", "sentence"),
    [
        ({"username": ""}, "username", "username is missing"),
        ({"username": "two words"}, "username", "without blanks"),
        ({"username": "a/b"}, "username", "may hold only letters"),
        ({"username": "TESS"}, "username", "tess is taken"),
        ({"name": " "}, "name", "name is missing"),
        ({"role": "boss"}, "role", "one of technician, office, owner"),
        ({"mass_unit": "stone"}, "mass_unit", "one of g, kg, oz, lb, lb oz"),
        ({"volume_unit": "pint"}, "volume_unit", "one of mL, L, fl oz"),
        ({"password": "short"}, "password", "too short"),
        ({"password": "password"}, "password", "too common"),
    ],
)
def test_what_cannot_be_a_person_is_refused_at_its_field(technician, change, field, sentence):
    given = {"username": "new", "name": "New One", "role": "office", "password": None} | change
    with pytest.raises(Refused, match=sentence) as refused:
        actions.add_person(by=None, **given)
    assert refused.value.field == field
    assert Person.objects.count() == 1


def test_the_username_never_changes(technician):
    with pytest.raises(TypeError):
        actions.change_person(technician, by=None, username="other")
    loaded = Person.objects.get(pk=technician.pk)
    loaded.username = "other"
    with pytest.raises(Refused, match="records hold it"):
        loaded.save()
    technician.username = "other"
    with pytest.raises(Refused, match="records hold it"):
        technician.save()


def test_a_change_touches_only_what_is_given(technician, owner):
    actions.change_person(technician, by=owner, name="Tess Two")
    technician.refresh_from_db()
    assert (technician.name, technician.role, technician.is_active) == ("Tess Two", "technician", True)


def test_somebody_who_left_cannot_sign_in_and_stays_in_the_records(technician, technician_client):
    actions.change_person(technician, by=None, is_active=False)
    assert technician_client.get(reverse("units")).status_code == 302
    assert Person.objects.filter(username="tess").exists()


def test_the_day_on_which_somebody_left_is_kept(technician, owner, owner_client):
    gone = actions.change_person(technician, by=owner, is_active=False)
    assert gone.left_on == today(), "where nobody says another"
    gone = actions.change_person(gone, by=owner, left_on=dt.date(2026, 3, 1))
    assert (gone.left_on, gone.is_active) == (dt.date(2026, 3, 1), False)
    for wrong in (today() + dt.timedelta(days=1), dt.date(26, 3, 1)):
        with pytest.raises(Refused, match="no day on which somebody left"):
            actions.change_person(gone, by=owner, left_on=wrong)
    address = reverse("person-edit", args=[gone.pk])
    form = {"name": gone.name, "role": "technician", "trainee_since": "", "is_active": "on", "left_on": "2026-03-01"}
    assert owner_client.post(address, form).status_code == 302, "the day that stands already says nothing new"
    gone.refresh_from_db()
    assert gone.left_on is None and gone.is_active
    refused = owner_client.post(address, {**form, "left_on": "2026-03-02"})
    assert "say that they have left" in refused.content.decode()
    with pytest.raises(Refused, match="works here"):
        actions.change_person(gone, by=owner, left_on=dt.date(2026, 3, 2))


@pytest.mark.parametrize("change", [{"role": "office"}, {"is_active": False}])
def test_the_last_owner_stays(owner, change):
    with pytest.raises(Refused, match="only owner") as refused:
        actions.change_person(owner, by=owner, **change)
    assert refused.value.field in change
    owner.refresh_from_db()
    assert owner.is_owner and owner.is_active


@pytest.mark.parametrize("change", [{"role": "office"}, {"is_active": False}])
def test_an_owner_may_go_when_another_stays(owner, change):
    actions.add_person(by=owner, username="second", name="Second", role="owner")
    actions.change_person(owner, by=owner, **change)
    with pytest.raises(Refused, match="Second is the only owner"):
        actions.change_person(Person.objects.get(username="second"), by=owner, **change)


def test_an_owner_who_left_does_not_count(owner):
    gone = actions.add_person(by=owner, username="gone", name="Gone", role="owner")
    actions.change_person(gone, by=owner, is_active=False)
    with pytest.raises(Refused, match="only owner"):
        actions.change_person(owner, by=owner, role="office")


def test_a_new_password_ends_the_sign_ins(technician, technician_client, owner):
    assert technician_client.get(reverse("units")).status_code == 200
    actions.set_password(technician, by=owner, password="a very new one")
    assert technician_client.get(reverse("units")).status_code == 302


def test_units_are_chosen_per_person(technician, office):
    actions.choose_units(technician, by=technician, mass_unit="lb oz", volume_unit="fl oz")
    technician.refresh_from_db()
    office.refresh_from_db()
    assert (technician.mass_unit, technician.volume_unit) == ("lb oz", "fl oz")
    assert (office.mass_unit, office.volume_unit) == ("g", "mL")


@pytest.mark.parametrize(
    ("change", "constraint"),
    [
        ({"role": "boss"}, "person_role_known"),
        ({"mass_unit": "st"}, "person_mass_unit_known"),
        ({"volume_unit": "pt"}, "person_volume_unit_known"),
        ({"name": ""}, "person_name_given"),
    ],
)
def test_the_database_itself_refuses(technician, change, constraint):
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        Person.objects.filter(pk=technician.pk).update(**change)


def test_usernames_that_differ_in_case_alone_are_one(technician):
    with pytest.raises(IntegrityError, match="(?i)username"), transaction.atomic():
        Person.objects.create(username="Tess", name="Another")


def test_whoever_runs_commands_can_make_an_owner(db):
    assert Person.objects.create_superuser("root", password="wet pump 7 am", name="Root").is_owner


# Certificates


def test_a_certificate_counts_from_its_issue_through_its_last_day(technician):
    held = certificate(technician, issued=dt.date(2025, 3, 2), expires=DAY)
    days = {dt.date(2025, 3, 1): None, dt.date(2025, 3, 2): held, DAY: held, dt.date(2026, 3, 3): None}
    for day, expected in days.items():
        assert queries.certificates_held(technician, day) == ([held] if expected else [])
        assert held.valid_on(day) == (expected is not None)
        assert list(queries.certificates_valid(day)) == ([held] if expected else [])


def test_without_an_end_it_does_not_end(technician):
    held = certificate(technician)
    assert queries.certificates_held(technician, dt.date(9999, 12, 31)) == [held]


def test_the_latest_issued_comes_first(technician, office):
    first = certificate(technician)
    second = certificate(technician, number="N-2", issued=dt.date(2022, 1, 1), scheme="Scheme B")
    certificate(office, number="N-3", issued=dt.date(2023, 1, 1))
    same_day = certificate(technician, number="N-4", issued=dt.date(2022, 1, 1), scheme="Scheme C")
    assert queries.certificates_held(technician, DAY) == [same_day, second, first]


def test_certificates_that_end_are_named_until_renewed(technician, office):
    ends_in = {days: DAY + dt.timedelta(days=days) for days in (-1, 60, 61)}
    past = certificate(technician, "past", expires=ends_in[-1], scheme="Scheme A")
    soon = certificate(technician, "soon", expires=ends_in[60], scheme="Scheme B")
    certificate(technician, "later", expires=ends_in[61], scheme="Scheme C")
    certificate(office, "left", expires=ends_in[60])
    actions.change_person(office, by=None, is_active=False)
    assert list(queries.certificates_ending(DAY)) == [past, soon]
    certificate(technician, "renewed", expires=None, scheme="Scheme B")
    assert list(queries.certificates_ending(DAY)) == [past]


def test_the_same_certificate_is_entered_once_per_person(technician, office):
    certificate(technician)
    with pytest.raises(Refused, match="already has Scheme A N-1") as refused:
        certificate(technician)
    assert refused.value.field == "number"
    certificate(office)
    assert Certificate.objects.count() == 2


def test_the_same_form_sent_twice_is_entered_once(technician):
    given = {"person": technician, "scheme": "S", "number": "1", "issued": DAY, "key": uuid.uuid4()}
    first = actions.add_certificate(by=None, **given)
    assert actions.add_certificate(by=None, **given) == first
    assert Certificate.objects.count() == 1


@pytest.mark.parametrize(
    ("change", "field", "sentence"),
    [
        ({"scheme": ""}, "scheme", "scheme is missing"),
        ({"number": " "}, "number", "number is missing"),
        ({"expires": dt.date(2019, 12, 31)}, "expires", "before it was issued"),
        ({"issued": dt.date(206, 1, 1)}, "issued", "check the year"),
    ],
)
def test_what_cannot_be_a_certificate_is_refused_at_its_field(technician, change, field, sentence):
    given = {"scheme": "S", "number": "1", "issued": dt.date(2020, 1, 1)} | change
    with pytest.raises(Refused, match=sentence) as refused:
        actions.add_certificate(by=None, person=technician, **given)
    assert refused.value.field == field
    assert not Certificate.objects.exists()


def test_the_last_day_may_be_the_day_of_issue(technician):
    assert certificate(technician, issued=DAY, expires=DAY).valid_on(DAY)


def test_a_certificate_can_be_put_right(technician):
    held = certificate(technician, number="N-l")
    actions.change_certificate(held, by=None, scheme="Scheme A", number="N-1", issued=DAY, expires=None)
    held.refresh_from_db()
    assert (held.number, held.issued) == ("N-1", DAY)


def test_the_database_refuses_an_end_before_the_issue(technician):
    with pytest.raises(IntegrityError, match="certificate_expires_after_issued"), transaction.atomic():
        made(Certificate, person=technician, scheme="S", number="1", issued=DAY, expires=DAY - dt.timedelta(days=1))


# Pages

PAGES = ["people", "person-new", "person", "person-edit", "person-password", "certificate-new", "certificate-edit"]


def addresses(person, held):
    numbers = {"people": [], "person-new": [], "certificate-edit": [held.pk]}
    return {name: reverse(name, args=numbers.get(name, [person.pk])) for name in PAGES}


@pytest.mark.parametrize(("role", "status"), [("technician", 403), ("office", 403), ("owner", 200)])
@pytest.mark.parametrize("method", ["get", "post"])
def test_pages_about_people_are_the_owners_alone(request, technician, role, status, method):
    held = certificate(technician)
    client = request.getfixturevalue(f"{role}_client")
    before = list(Person.objects.order_by("pk").values()), list(Certificate.objects.values())
    for name, address in addresses(technician, held).items():
        assert getattr(client, method)(address).status_code == status, name
    assert (list(Person.objects.order_by("pk").values()), list(Certificate.objects.values())) == before


def test_visitors_are_sent_to_sign_in(client, technician):
    for address in addresses(technician, certificate(technician)).values():
        answer = client.get(address)
        assert answer.status_code == 302 and answer.url.startswith(reverse("sign-in"))


@pytest.mark.parametrize("number", [0, 4711, 10**20])
def test_unknown_people_and_certificates_are_not_found(owner_client, number):
    for name in ("person", "person-edit", "person-password", "certificate-new", "certificate-edit"):
        assert owner_client.get(reverse(name, args=[number])).status_code == 404


def test_roles_that_do_not_exist_cannot_be_asked_for():
    with pytest.raises(ValueError, match="technician, office, owner"):
        role_required("boss")
    with pytest.raises(ValueError, match="nothing given"):
        role_required()


def test_an_owner_enters_a_person_with_a_certificate(owner_client):
    answer = owner_client.post(
        reverse("person-new"),
        {"username": "maria", "name": "Maria Ortiz", "role": "technician", "password": "", "repeated": ""},
        follow=True,
    )
    person = Person.objects.get(username="maria")
    assert answer.redirect_chain == [(reverse("person", args=[person.pk]), 302)]
    assert "cannot sign in yet" in answer.content.decode()
    answer = owner_client.post(
        reverse("certificate-new", args=[person.pk]),
        {"key": str(uuid.uuid4()), "scheme": "Section 609", "number": "T-1", "issued": "2020-05-01", "expires": ""},
        follow=True,
    )
    page = answer.content.decode()
    assert "Section 609 T-1" in page and "does not expire" in page and "valid today" in page


def test_a_refused_form_keeps_what_was_typed_and_says_what_is_wrong(owner_client, technician):
    answer = owner_client.post(
        reverse("person-new"), {"username": "tess", "name": "Other <b>Tess</b>", "role": "office"}
    )
    page = answer.content.decode()
    assert "The username tess is taken; choose another." in page
    assert "Other &lt;b&gt;Tess&lt;/b&gt;" in page and "<b>Tess" not in page
    assert Person.objects.count() == 2


def test_the_only_owner_who_unticks_the_box_reads_why_not(owner_client, owner):
    answer = owner_client.post(reverse("person-edit", args=[owner.pk]), {"name": owner.name, "role": "owner"})
    assert "is the only owner who can sign in" in answer.content.decode()


def test_an_owner_changes_their_own_password_where_the_present_one_is_asked(owner_client, owner):
    address = reverse("person-password", args=[owner.pk])
    typed = {"password": "rather new words", "repeated": "rather new words"}
    assert owner_client.post(address, typed).url == owner_client.get(address).url == reverse("password")
    assert Person.objects.get(pk=owner.pk).password == owner.password


def test_two_different_passwords_are_refused(owner_client, technician):
    address = reverse("person-password", args=[technician.pk])
    answer = owner_client.post(address, {"password": "rather new words", "repeated": "rather new word"})
    assert "The two passwords differ" in answer.content.decode()
    assert Person.objects.get(pk=technician.pk).password == technician.password


def test_the_list_of_people_asks_the_same_number_of_questions_for_any_number(
    owner_client, django_assert_num_queries, django_assert_max_num_queries
):
    def add(first, last):
        for number in range(first, last):
            person = actions.add_person(by=None, username=f"p{number}", name=f"P {number}", role="technician")
            certificate(person, expires=dt.date(2026, 1, 1))

    add(0, 2)
    with django_assert_max_num_queries(12) as few:
        owner_client.get(reverse("people"))
    add(2, 22)
    with django_assert_num_queries(len(few)):
        page = owner_client.get(reverse("people")).content.decode()
    assert page.count('href="/people/') >= 23
