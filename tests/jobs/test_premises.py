"""Premises of customers, the method of their leak rates, full charges: what is kept and refused, what pages show."""

import datetime as dt
import uuid

import pytest
from django.db import IntegrityError, transaction
from django.db.models.deletion import ProtectedError

from inventory.ledger.erasing import erase, find
from inventory.ledger.stated_rows import stated
from inventory.ledger.verify import verify
from inventory.shop.clock import today
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from jobs.units import actions, premises, queries
from jobs.units.models import FullCharge, LeakRateMethod, Premises, Unit
from jobs.units.premises import ChargeFound
from tests.kept import made, saved
from tests.reading import without_keys

pytestmark = pytest.mark.django_db
KG = 1_000_000
DAY = dt.date(2026, 3, 2)


@pytest.fixture
def customer():
    return actions.add_customer(by=None, name="Jo Bell")


@pytest.fixture
def place(customer):
    return premises.add_premises(customer, by=None, name="Main street", address="1 Road")


def unit(**fields):
    return actions.add_unit(by=None, **({"name": "A unit", "kind": "stationary"} | fields))


def method(place, name, day, reason="", **more):
    return premises.set_method(place, by=None, method=name, from_day=day, reason=reason, **more)


def charge(of, found, day=DAY, reason="", **more):
    return premises.set_full_charge(of, by=None, found=found, from_day=day, reason=reason, **more)


# -- premises ----------------------------------------------------------------------------------------------


def test_premises_have_a_code_and_a_record(place):
    assert place.code == f"S-{place.pk:06d}"
    kept = stated("premises", place.code)
    assert kept.said["name"] == "Main street" and kept.said["customer"] == place.customer.code
    assert verify().faults == []


def test_a_name_is_of_one_place_of_a_customer(customer, place):
    with pytest.raises(Refused, match=f"Jo Bell has premises called Main street already .{place.code}") as refused:
        premises.add_premises(customer, by=None, name="MAIN  street")
    assert refused.value.field == "name"
    other = actions.add_customer(by=None, name="Ann Other")
    assert premises.add_premises(other, by=None, name="Main street").customer == other
    assert premises.change_premises(place, by=None, name="Main street", note="ring twice").note == "ring twice"


@pytest.mark.parametrize(("name", "sentence"), [("", "at least one character"), ("x" * 151, "at most 150 fit")])
def test_premises_without_a_name_are_refused(customer, name, sentence):
    with pytest.raises(Refused, match=sentence):
        premises.add_premises(customer, by=None, name=name)
    assert not Premises.objects.exists()


def test_the_same_form_sent_twice_makes_one_place(customer):
    key = uuid.uuid4()
    first, again = (premises.add_premises(customer, by=None, name="Harbour", key=key) for _ in range(2))
    assert first == again and Premises.objects.count() == 1


def test_a_customer_with_premises_cannot_go(place):
    with pytest.raises(ProtectedError):
        place.customer.delete()


# -- a unit and where it stands -------------------------------------------------------------------------------


def test_a_unit_stands_in_premises_of_its_customer(customer, place):
    assert unit(customer=customer, premises=place).premises == place
    assert unit(customer=customer, premises=" main  STREET ").premises == place
    new = unit(customer="Jo Bell", premises="Harbour").premises
    assert (new.name, new.customer) == ("Harbour", customer)
    assert unit(customer=customer, premises="").premises is None


def test_premises_of_somebody_else_are_refused(customer, place):
    other = actions.add_customer(by=None, name="Ann Other")
    with pytest.raises(Refused, match="Main street are premises of Jo Bell") as refused:
        unit(customer=other, premises=place)
    assert refused.value.field == "premises"
    with pytest.raises(Refused, match="name the customer"):
        unit(premises="Main street")
    here = unit(customer=customer, premises=place)
    with pytest.raises(Refused, match="are premises of Jo Bell"):
        actions.change_unit(here, by=None, customer=other)
    with pytest.raises(Refused, match="write where the unit stands with Ann Other"):
        actions.change_unit(here, by=None, customer=other, premises="Main street")
    assert actions.change_unit(here, by=None, customer=other, premises="Her shop").premises.customer == other


def test_the_database_itself_wants_a_customer_with_premises(place):
    with pytest.raises(IntegrityError, match="unit_premises_of_a_customer"), transaction.atomic():
        made(Unit, name="A unit", premises=place)


# -- the method ---------------------------------------------------------------------------------------------


def test_one_method_for_all_units_of_the_premises_by_day(place, django_assert_num_queries):
    """40 CFR 82.152, leak rate: "must be used for all appliances ... located at an operating facility"."""
    method(place, "annualizing", DAY)
    method(place, "rolling", DAY + dt.timedelta(10), "taken over")
    elsewhere = premises.add_premises(place.customer, by=None, name="Harbour")
    here = [unit(customer=place.customer, premises=place) for _ in range(3)]
    units = [*here, unit(customer=place.customer, premises=elsewhere), unit()]
    for day, said in (
        (DAY - dt.timedelta(1), ""),
        (DAY, "annualizing"),
        (DAY + dt.timedelta(9), "annualizing"),
        (DAY + dt.timedelta(10), "rolling"),
    ):
        with django_assert_num_queries(1):
            found = queries.method_of(units, day)
        assert found == {**{one.pk: said for one in here}, units[3].pk: "", units[4].pk: ""}


def test_the_first_method_needs_no_reason_and_each_change_one(place):
    """40 CFR 84.106(l)(3): the change is put on record."""
    method(place, "annualizing", DAY)
    with pytest.raises(Refused, match="Say why the method changes") as refused:
        method(place, "rolling", DAY + dt.timedelta(1))
    assert refused.value.field == "reason" and LeakRateMethod.objects.count() == 1
    kept = method(place, "rolling", DAY + dt.timedelta(1), "taken over")
    assert stated("leak-rate-method", str(kept.pk)).said["reason"] == "taken over"


def test_a_wrong_method_is_put_right_by_another_row_of_its_day(place):
    wrong = method(place, "annualizing", DAY)
    method(place, "rolling", DAY, "typed wrong")
    here = unit(customer=place.customer, premises=place)
    assert queries.method_of([here], DAY) == {here.pk: "rolling"}
    assert LeakRateMethod.objects.get(pk=wrong.pk).method == "annualizing", "nothing is edited"


@pytest.mark.parametrize(
    ("name", "ahead", "field", "sentence"),
    [
        ("average", 0, "method", "Choose annualizing or rolling average"),
        ("rolling", 1, "from_day", "still to come"),
        ("annualizing", 0, "method", "annualizing already"),
    ],
)
def test_what_is_no_change_of_method_is_refused(place, name, ahead, field, sentence):
    method(place, "annualizing", DAY)
    with pytest.raises(Refused, match=sentence) as refused:
        method(place, name, today() + dt.timedelta(ahead), "because")
    assert refused.value.field == field


def test_the_same_form_sent_twice_is_one_change(place):
    key = uuid.uuid4()
    assert method(place, "rolling", DAY, key=key) == method(place, "rolling", DAY, key=key)


def test_the_database_itself_knows_the_methods(place):
    with pytest.raises(IntegrityError, match="leak_rate_method_known"), transaction.atomic():
        made(LeakRateMethod, premises=place, method="best", from_day=DAY)


# -- full charges -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("least", "most", "midpoint"),
    [
        (88 * KG, 92 * KG, 90 * KG),
        (3, 6, 4),  # 4.5, half to even
        (4, 7, 6),  # 5.5, half to even
        (5, 5, 5),
    ],
)
def test_the_full_charge_of_a_range_is_its_midpoint(least, most, midpoint):
    """40 CFR 82.152, "full charge": the midpoint of an established range. Half a mg: our rounding, not in the text."""
    kept = charge(unit(), ChargeFound("range", None, least, most))
    assert (kept.mg, kept.range_least_mg, kept.range_most_mg) == (midpoint, least, most)


def test_a_full_charge_holds_from_its_day_on_until_it_is_revised(django_assert_num_queries):
    one = unit(charge_min_mg=9 * KG, charge_max_mg=11 * KG)
    other, bare = unit(charge_nominal_mg=3 * KG), unit()
    charge(one, ChargeFound("calculated", 12 * KG), DAY)
    charge(one, ChargeFound("measured", 13 * KG), DAY + dt.timedelta(5), "weighed")
    charge(one, ChargeFound("maker", 14 * KG), DAY + dt.timedelta(5), "the plate was found")
    for day, said in (
        (DAY - dt.timedelta(1), (10 * KG, "label")),
        (DAY, (12 * KG, "calculated")),
        (DAY + dt.timedelta(4), (12 * KG, "calculated")),
        (DAY + dt.timedelta(5), (14 * KG, "maker")),
    ):
        with django_assert_num_queries(1):
            found = queries.full_charges([one, other, bare], day)
        assert found == {one.pk: said, other.pk: (3 * KG, "label")}
        assert one.full_charge_on(day) == said
    assert bare.full_charge_on(DAY) is None


@pytest.mark.parametrize(
    ("found", "ahead", "reason", "field", "sentence"),
    [
        (ChargeFound("guessed", KG), 0, "", "how", "one of the four ways"),
        (ChargeFound("maker"), 0, "", "mg", "more than nothing"),
        (ChargeFound("maker", 0), 0, "", "mg", "more than nothing"),
        (ChargeFound("maker", KG, KG, KG), 0, "", "how", "belongs to its midpoint"),
        (ChargeFound("range", None, KG), 0, "", "range_most_mg", "two ends"),
        (ChargeFound("range", None, None, KG), 0, "", "range_least_mg", "two ends"),
        (ChargeFound("range", None, 2 * KG, KG), 0, "", "range_least_mg", "no more than the most"),
        (ChargeFound("range", None, 0, KG), 0, "", "range_least_mg", "more than nothing"),
        (ChargeFound("maker", KG), 1, "", "from_day", "still to come"),
    ],
)
def test_what_is_no_full_charge_is_refused_at_its_field(found, ahead, reason, field, sentence):
    with pytest.raises(Refused, match=sentence) as refused:
        charge(unit(), found, today() + dt.timedelta(ahead), reason)
    assert refused.value.field == field and not FullCharge.objects.exists()


def test_a_revision_says_why():
    """40 CFR 82.157(l)(1), 84.106(l)(1): revisions of the full charge with their days."""
    one = unit()
    charge(one, ChargeFound("maker", KG))
    with pytest.raises(Refused, match="Say why the full charge is revised") as refused:
        charge(one, ChargeFound("maker", 2 * KG))
    assert refused.value.field == "reason" and FullCharge.objects.count() == 1


@pytest.mark.parametrize(
    ("fields", "constraint"),
    [
        ({"how": "guessed", "mg": 5}, "full_charge_how_known"),
        ({"how": "maker", "mg": 0}, "full_charge_positive"),
        ({"how": "range", "mg": 9, "range_least_mg": 1, "range_most_mg": 5}, "full_charge_within_its_range"),
        ({"how": "maker", "mg": 3, "range_least_mg": 1, "range_most_mg": 5}, "full_charge_within_its_range"),
    ],
)
def test_the_database_itself_refuses_a_full_charge(fields, constraint):
    one = unit()
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        made(FullCharge, unit=one, from_day=DAY, **fields)


# -- erasing ------------------------------------------------------------------------------------------------


def test_the_words_of_premises_and_reasons_can_go(place, monkeypatch):
    kept = method(place, "rolling", DAY)
    changed = method(place, "annualizing", DAY + dt.timedelta(1), "Jo Bell said so")
    monkeypatch.setattr("inventory.ledger.erasing.today", lambda: dt.date(2050, 1, 1))
    erase("premises", place.code, why="asked", by="olive")
    place.refresh_from_db()
    assert (place.name, place.address) == (place.code, "")
    assert find("leak-rate-method", str(changed.pk)).digests and not find("leak-rate-method", str(kept.pk)).digests
    erase("leak-rate-method", str(changed.pk), why="asked", by="olive")
    changed.refresh_from_db()
    assert (changed.reason, changed.method) == ("", "annualizing")
    assert verify().faults == []


def test_a_full_charge_rests_until_its_unit_is_retired():
    """40 CFR 84.106(l)(1): until three years after the appliance is retired. How long is the rulebook's matter."""
    one = unit()
    kept = charge(one, ChargeFound("maker", KG), reason="from the plate")
    assert [rests.day for rests in find("full-charge", str(kept.pk)).keeps] == [today()]
    actions.change_unit(one, by=None, retired_on=DAY)
    assert [(rests.kind, rests.day) for rests in find("full-charge", str(kept.pk)).keeps] == [("equipment", DAY)]


# -- pages --------------------------------------------------------------------------------------------------


@pytest.fixture
def key():
    return {"key": str(uuid.uuid4())}


def test_premises_are_entered_and_changed(shop, technician_client, customer, key):
    page = technician_client.get(f"/customers/{customer.pk}/").content.decode()
    assert f"/customers/{customer.pk}/premises/new/" in page
    answer = technician_client.post(f"/customers/{customer.pk}/premises/new/", {"name": "Harbour", **key})
    place = Premises.objects.get()
    assert answer.url == f"/premises/{place.pk}/"
    page = technician_client.get(answer.url).content.decode()
    assert "Harbour" in page and "Nobody has said yet by which method" in page
    assert "Harbour" in technician_client.get(f"/customers/{customer.pk}/").content.decode()
    key = {"key": str(uuid.uuid4())}
    answer = technician_client.post(f"/premises/{place.pk}/edit/", {"name": "", **key})
    assert answer.status_code == 422 and "Type what the premises are called" in answer.content.decode()
    technician_client.post(f"/premises/{place.pk}/edit/", {"name": "Docks", "address": "2 Quay", **key})
    place.refresh_from_db()
    assert (place.name, place.address) == ("Docks", "2 Quay")


def test_the_method_page_says_what_the_rule_asks_and_wants_a_reason(shop, technician_client, place, key):
    address = f"/premises/{place.pk}/method/"
    first = technician_client.get(address).content.decode()
    assert "One method for all units of the premises" in first and 'name="reason"' not in first
    said = {"method": "annualizing", "from_day": "2026-03-02", **key}
    assert technician_client.post(address, said).status_code == 302
    page = technician_client.get(address).content.decode()
    assert "CFR" not in without_keys(page), "no law is cited where the rulebook has no such rule"
    assert 'name="reason"' in page
    saved(Shop.objects.get(), rulebook="us-federal")
    page = technician_client.get(address).content.decode()
    assert "only after an acquisition" in page and "84.106(b)(3)" in page and 'name="reason"' in page
    answer = technician_client.post(address, said | {"method": "rolling", "key": str(uuid.uuid4())})
    assert answer.status_code == 422 and "Say why it changes" in answer.content.decode()
    assert LeakRateMethod.objects.get().method == "annualizing"
    page = technician_client.get(f"/premises/{place.pk}/").content.decode()
    assert "annualizing</strong> method" in page and "Change the method" in page


def test_the_full_charge_is_entered_in_one_s_own_units(shop, technician, technician_client, key):
    one = unit()
    address = f"/units/{one.pk}/full-charge/"
    said = {"how": "range", "range_least_mg": "88 kg", "range_most_mg": "92 kg", "from_day": "2026-03-02", **key}
    answer = technician_client.post(address, said | {"mg": "90 kg"})
    assert answer.status_code == 422 and "leave this blank" in answer.content.decode()
    assert technician_client.post(address, said).status_code == 302
    kept = FullCharge.objects.get()
    assert (kept.mg, kept.by) == (90 * KG, technician)
    page = technician_client.get(f"/units/{one.pk}/").content.decode()
    assert "the midpoint of an established range" in page and "Revise it" in page
    answer = technician_client.post(address, said | {"key": str(uuid.uuid4())})
    assert answer.status_code == 422 and "Say why the full charge is revised" in answer.content.decode()


def test_premises_are_offered_while_typing(shop, technician_client, place):
    premises.add_premises(place.customer, by=None, name="Harbour")
    offered = technician_client.get("/premises/choices/", {"customer": "Jo Bell", "premises": "har"}).content.decode()
    assert "Harbour" in offered and "Main street" not in offered
    for nobody in ("", "Jo", "Jo Bell (C-999999)"):
        assert "option" not in technician_client.get("/premises/choices/", {"customer": nobody}).content.decode()
    coded = f"Jo Bell ({place.customer.code})"
    assert "Harbour" in technician_client.get("/premises/choices/", {"customer": coded}).content.decode()


def test_what_people_typed_is_shown_as_text(shop, owner_client, customer):
    place = premises.add_premises(customer, by=None, name="<b>x</b>", address="<script>alert(1)</script>")
    method(place, "rolling", DAY)
    method(place, "annualizing", DAY, "<i>y</i>")
    for address in (f"/premises/{place.pk}/", f"/customers/{customer.pk}/", "/premises/choices/?customer=Jo Bell"):
        page = owner_client.get(address).content.decode()
        assert "<b>x</b>" not in page and "<script>alert" not in page and "<i>y</i>" not in page
        assert "&lt;b&gt;x&lt;/b&gt;" in page
