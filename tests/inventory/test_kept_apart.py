"""A customer's own gas, and what was found: each is kept apart, and never becomes anything by itself."""

import datetime as dt
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.containers.actions import correct_tare, count, decant, move, regrade, retire, take_back
from inventory.containers.models import Container, Scale
from inventory.containers.queries import fillable, kept_named, kept_rows, on_hand
from inventory.correcting.again import Said, way_of
from inventory.counting.actions import enter, start_count
from inventory.kept.actions import Brought, Identified, find, give_back, identify, keep_for, take_in
from inventory.ledger.models import Account, Movement, Voucher
from inventory.ledger.verify import verify
from inventory.parties.models import Party
from inventory.shipping.actions import ship
from inventory.shop.clock import today
from inventory.supply.costs import stock_value
from inventory.supply.queries import at_a_glance, supplies
from inventory.text.refusal import Refused
from jobs.units.actions import add_unit
from jobs.units.models import Customer
from shopledger.reporting.output import as_csv, make
from shopledger.reporting.report import Period
from shopledger.reports.registry import REPORTS
from tests.kept import made, saved
from tests.reading import without_keys
from tests.stock import came, delivery, flows

pytestmark = pytest.mark.django_db
G = 1000
DAY = dt.date(2026, 3, 2)


def head(**said):
    return {"day": DAY, "by": "olive", "key": str(uuid.uuid4()), **said}


@pytest.fixture
def customers(shop, technician):
    """Two customers with a unit each: their codes."""
    made(Scale, code="bench", readability_mg=1000, usual=True)
    for name in ("Ada Example", "Bo Example"):
        add_unit(by=technician, customer=name, plate=name[:2].upper() + "-1", refrigerant="R-134a")
    return list(Customer.objects.order_by("id").values_list("code", flat=True))


@pytest.fixture
def ada(customers):
    return customers[0]


def brought(code="OWN", gross=15_000, tare=5_000, **said):
    said = {"kind": "refillable", "substance": "R-134a", "grade": "recovered", "location": "Store", **said}
    return Brought(code=code, gross_mg=gross * G, tare_mg=tare * G, **said)


def own(ada, **said):
    return take_in(owner=ada, brought=brought(**said), **head())


def found(code="F-1", gross=12_000, kind="recovery", **said):
    said = {"location": "Store", "found_where": "behind the shed", **head(), **said}
    return find(kind=kind, code=code, gross_mg=gross * G, **said)[0]


def known(tare=9_000, **said):
    return Identified(**{"substance": "R-134a", "tare_mg": tare * G, "by": "Identifier 7", "purity": "99.5", **said})


def one(code):
    return Container.objects.select_related("account", "location", "substance").get(code=code)


def usage(first=DAY, last=DAY):
    made_of = make(REPORTS["usage"], Period(first, last), None, "olive")
    return [dict(zip([c.name for c in made_of.table.columns], row, strict=True)) for row in made_of.table.rows]


def kept(first=DAY, last=DAY):
    made_of = make(REPORTS["kept"], Period(first, last), None, "olive")
    names = [c.name for c in made_of.table.columns]
    return [{k: v for k, v in zip(names, row, strict=True) if v} for row in made_of.table.rows]


def whole():
    assert verify().faults == []


# -- a customer's own gas ---------------------------------------------------------------------------------------


def test_what_a_customer_brings_is_held_and_is_no_stock(ada):
    delivery(came("C1", net=500 * G, tare_mg=5_000 * G), day=DAY)
    number = own(ada)
    row, voucher = one("OWN"), Voucher.objects.get(number=number)
    assert (row.content, row.kept_for, row.price_minor, row.last_gross) == (10_000 * G, ada, None, 15_000 * G)
    assert (voucher.kind, flows()["CUSTOMER", "KEPT"]) == ("taking-in", 10_000 * G)
    assert Account.objects.get(name="OWN").owner == ada
    assert [(gas.code, gas.total, gas.count) for gas in on_hand()] == [("R-134a", 500 * G, 1)]
    assert [gas.total for gas in at_a_glance()[0]] == [500 * G]
    assert [gas.total for gas in supplies(DAY) if not gas.place] == [500 * G]
    assert [row[2] + row[4] for row in stock_value(today())] == [500 * G]
    assert "OWN" not in fillable() and "C1" in fillable()
    [row] = usage()
    assert (row["received"], row["closing"]) == (500 * G, 500 * G) and "found" not in row
    assert kept() == [{"customer": "Ada Example", "substance": "R-134a", "brought": 10_000 * G, "closing": 10_000 * G}]
    assert len(make(REPORTS["purchases"], Period(DAY, DAY), None, "olive").table.rows) == 1
    assert [(k.owner, k.called, k.total, k.count) for k in kept_named(kept_rows())] == [
        (ada, "Ada Example", 10_000 * G, 1)
    ]
    whole()


@pytest.mark.parametrize(("gross", "held"), [(5_000, 0), (5_001, 1)])
def test_the_gross_weight_and_the_tare_say_how_much_they_brought(ada, gross, held):
    own(ada, gross=gross)
    assert one("OWN").content == held * G


@pytest.mark.parametrize(
    ("said", "field", "why"),
    [
        ({"gross": 4_999}, "gross", "cannot weigh 5,000 g empty|cannot weigh"),
        ({"substance": "R-9z"}, "substance", "R-9z"),
        ({"substance": "PAG 46"}, "substance", "Only refrigerant"),
        ({"substance": " "}, "substance", "Name the refrigerant"),
        ({"water_capacity_mg": 5_000 * G}, "net", "do not go into it"),
    ],
)
def test_a_cylinder_that_cannot_be_theirs_so_is_refused_and_leaves_nothing(ada, said, field, why):
    before = Voucher.objects.count()
    with pytest.raises(Refused, match=why) as refused:
        own(ada, **said)
    assert refused.value.field == field
    assert Voucher.objects.count() == before and not Container.objects.exists()


def test_nobody_elses_gas_goes_in_and_none_of_it_comes_out_for_others(ada, customers):
    delivery(came("C1", net=500 * G, tare_mg=5_000 * G), came("E1", tare_mg=5_000 * G), day=DAY)
    own(ada)
    take_in(owner=customers[1], brought=brought(code="BO"), **head())
    acme = made(Party, name="Renew", role="reclaimer")
    for act, why in (
        (lambda: decant(source="OWN", into="E1", quantity=G, **head()), f"OWN is kept for {ada}, and E1 is the shop's"),
        (lambda: decant(source="C1", into="OWN", quantity=G, **head()), "C1 is the shop's, and OWN is kept for"),
        (lambda: decant(source="OWN", into="BO", quantity=G, **head()), "of the same owner|would spoil"),
        (lambda: ship(parcels={"OWN": None}, purpose="reclaim", party=acme, **head()), "goes back to them alone"),
        (lambda: retire(codes=["OWN"], residue_into="", **head()), "give them back first"),
        (lambda: keep_for(code="OWN", owner="", **head()), "only an empty container changes"),
        (lambda: give_back(code="C1", **head()), "kept for nobody"),
    ):
        before = Voucher.objects.count()
        with pytest.raises(Refused, match=why):
            act()
        assert Voucher.objects.count() == before
    own(ada, code="OWN2", gross=6_000)
    decant(source="OWN2", into="OWN", quantity=400 * G, **head())
    assert (one("OWN").content, one("OWN2").content) == (10_400 * G, 600 * G)
    whole()


def test_it_is_given_back_and_leaves(ada):
    own(ada)
    give_back(code="OWN", **head(note="Ada took it"))
    row = one("OWN")
    assert (row.retired_on, row.content) == (DAY, 0)
    assert flows() == {("CUSTOMER", "KEPT"): 10_000 * G, ("KEPT", "CUSTOMER"): 10_000 * G}
    [line] = kept()
    assert (line["brought"], line["given_back"], "closing" in line) == (10_000 * G, 10_000 * G, False)
    assert not list(kept_rows())
    whole()


def test_a_cylinder_of_the_shop_is_kept_for_a_customer_and_is_the_shops_again(ada):
    delivery(came("R1", "recovery", tare_mg=9_000 * G), came("K1", "can", 340 * G, tare_mg=100 * G), day=DAY)
    with pytest.raises(Refused, match="made for a single use"):
        keep_for(code="K1", owner=ada, **head())
    with pytest.raises(Refused, match="the shop's already"):
        keep_for(code="R1", owner="", **head())
    apart = keep_for(code="R1", owner=ada, **head())
    assert one("R1").kept_for == ada and "R1" not in fillable()
    with pytest.raises(Refused, match="already"):
        keep_for(code="R1", owner=ada, **head(follows=apart))
    give_back(code="R1", stays=True, **head(follows=apart))
    assert (one("R1").kept_for, one("R1").retired_on) == ("", None)
    whole()


def test_its_differences_are_its_own(ada):
    own(ada)
    count(readings={"OWN": 14_900 * G}, **head())
    assert flows()["KEPT", "UNEXPLAINED_LOSS"] == 100 * G
    count(readings={"OWN": 14_901 * G}, **head(follows=Voucher.objects.latest("number").number))
    [line] = kept()
    assert (line["unexplained_loss"], line["weighing_difference"], line["closing"]) == (100 * G, G, 9_901 * G)
    assert usage() == [], "it moved, and none of it was the shop's"
    whole()


def test_no_loss_of_it_waits_for_a_second_person(ada, shop):
    saved(shop, write_off_mg=1)
    own(ada)
    number, _ = count(readings={"OWN": 10_000 * G}, **head())
    assert number, "what a customer's cylinder lost is no write-off of the shop"


def test_each_of_its_entries_is_taken_back_or_corrected_in_any_order(ada, customers):
    number = own(ada)
    move(codes=["OWN"], location="Van", **head(follows=0))
    count(readings={"OWN": 14_990 * G}, **head(follows=0))
    assert one("OWN").content == 9_990 * G
    said = {"corrects": number, "why": "misread"}
    again = take_in(owner=customers[1], brought=brought(gross=14_990), **head(**said))
    row = one("OWN")
    assert (row.content, row.kept_for, row.location.name) == (9_990 * G, customers[1], "Van")
    assert flows() == {("CUSTOMER", "KEPT"): 9_990 * G, ("KEPT", "KEPT"): 9_990 * G}, "nothing is missing, and it moved"
    whole()
    for one_more in Voucher.objects.standing().filter(kind__in=["count", "move"]).order_by("-number"):
        take_back(one_more.number, by="olive", note="not so")
    take_back(again, by="olive", note="it was never here")
    assert one("OWN").void and flows() == {}
    whole()


def test_a_setting_apart_that_was_used_since_is_not_taken_back(ada):
    delivery(came("R1", "recovery", tare_mg=9_000 * G), day=DAY)
    apart = keep_for(code="R1", owner=ada, **head())
    own(ada, gross=6_000)
    decant(source="OWN", into="R1", quantity=500 * G, **head(follows=apart))
    with pytest.raises(Refused, match="Correct voucher"):
        take_back(apart, by="olive", note="not so")
    whole()


def test_the_database_itself_refuses_less_than_nothing(ada):
    own(ada)
    with pytest.raises(IntegrityError), transaction.atomic():
        Account.objects.filter(name="OWN").update(balance=-1)


def test_verify_names_an_owner_that_was_changed(ada, customers):
    own(ada)
    Container.objects.filter(code="OWN").update(kept_for=customers[1])
    assert any("OWN" in said for _, said in verify().faults)


# -- what was found ----------------------------------------------------------------------------------------------


def test_what_was_found_is_held_and_the_book_holds_nothing(shop, customers):
    number = found()
    row = one("F-1")
    assert (row.state, row.content, row.substance, row.last_gross) == ("held until known", 0, None, 12_000 * G)
    assert Voucher.objects.get(number=number).note == "behind the shed"
    assert not Movement.objects.exists() and usage() == [] and "F-1" not in fillable()
    whole()


def test_it_is_taken_for_nothing_before_it_is_known(ada):
    found()
    delivery(came("E1", tare_mg=5_000 * G), day=DAY)
    acme = made(Party, name="Renew", role="reclaimer")
    before = Voucher.objects.count()
    for act in (
        lambda: decant(source="F-1", into="E1", quantity=G, **head()),
        lambda: decant(source="E1", into="F-1", quantity=G, **head()),
        lambda: ship(parcels={"F-1": None}, purpose="destroy", party=acme, **head()),
        lambda: retire(codes=["F-1"], residue_into="", **head()),
        lambda: regrade(code="F-1", grade="mixed", **head()),
        lambda: count(readings={"F-1": 12_000 * G}, **head()),
        lambda: correct_tare(code="F-1", tare_mg=9_000 * G, **head(note="stamped")),
        lambda: keep_for(code="F-1", owner=ada, **head()),
    ):
        with pytest.raises(Refused, match="Identify it first"):
            act()
    assert Voucher.objects.count() == before
    move(codes=["F-1"], location="Cage", **head())
    assert one("F-1").location.name == "Cage", "it may be put where nobody takes it"
    whole()


def test_a_count_of_the_place_does_not_ask_for_it(customers, office_client):
    delivery(came("C1", net=500 * G, tare_mg=5_000 * G), day=DAY)
    found()
    place = one("C1").location
    begun = start_count(location=place, day=DAY, scale=None, by="olive", key=uuid.uuid4())
    page = office_client.get(reverse("count", args=[begun.pk])).content.decode()
    counted, held = page.split("Held until known")
    assert "C1" in counted and "F-1" not in counted and "F-1" in held, "to be looked for, not to be weighed"
    with pytest.raises(Refused, match="Identify it first"):
        enter(count_id=begun.pk, code="F-1", gross=12_000 * G, by="olive")


def test_identified_it_is_found_gas_and_no_purchase(customers):
    found()
    number = identify(code="F-1", said=known(), **head(follows=0))
    row = one("F-1")
    assert (row.state, row.content, row.tare_mg, row.grade) == ("in use", 3_000 * G, 9_000 * G, "recovered")
    assert flows() == {("FOUND", "CONTAINER"): 3_000 * G}
    assert Voucher.objects.get(number=number).kind == "identification"
    [line] = usage()
    assert (line["received"], line["found"], line["closing"]) == (0, 3_000 * G, 3_000 * G)
    assert b"received,found,recovered" in as_csv(make(REPORTS["usage"], Period(DAY, DAY), None, "olive"))
    assert make(REPORTS["purchases"], Period(DAY, DAY), None, "olive").table.rows == []
    with pytest.raises(Refused, match="is known"):
        identify(code="F-1", said=known(), **head(follows=number))
    whole()


@pytest.mark.parametrize(("tare", "held"), [(12_000, 0), (11_999, 1)])
def test_the_tare_is_at_most_what_it_weighs(customers, tare, held):
    found()
    identify(code="F-1", said=known(tare=tare), **head(follows=0))
    assert one("F-1").content == held * G


@pytest.mark.parametrize(
    ("said", "field", "why"),
    [
        ({"tare": 12_001}, "tare", "cannot weigh"),
        ({"tare": 0}, "tare", "more than nothing"),
        ({"substance": "R-0"}, "substance", "R-0"),
        ({"substance": "PAG 46"}, "substance", "an oil"),
        ({"by": " "}, "identified_by", "with what it was identified"),
        ({"purity": "97.9"}, "grade", "that is a mixture"),
        ({"grade": "new"}, "grade", "not a grade"),
    ],
)
def test_what_cannot_be_said_of_it_is_refused_and_it_stays_held(customers, said, field, why):
    found()
    with pytest.raises(Refused, match=why) as refused:
        identify(code="F-1", said=known(**said), **head(follows=0))
    assert refused.value.field == field and one("F-1").unknown


def test_weighed_again_that_weight_counts(customers):
    found()
    identify(code="F-1", said=known(gross_mg=11_500 * G), **head(follows=0))
    assert (one("F-1").content, one("F-1").last_gross) == (2_500 * G, 11_500 * G)
    whole()


def test_what_is_mixed_is_sent_away_and_nothing_else(customers):
    found()
    delivery(came("E1", "recovery", tare_mg=5_000 * G), day=DAY)
    number = identify(code="F-1", said=known(grade="mixed", purity="61"), **head(follows=0))
    with pytest.raises(Refused, match="mixed"):
        regrade(code="F-1", grade="reclaimed", **head(follows=number))
    burn = made(Party, name="Burn", role="destroyer")
    ship(parcels={"F-1": None}, purpose="destroy", party=burn, containers_go=True, **head(follows=number))
    assert flows() == {("FOUND", "CONTAINER"): 3_000 * G, ("CONTAINER", "DESTROYER"): 3_000 * G}
    whole()


def test_a_gross_weight_that_was_misread_changes_what_was_found(customers):
    number = found()
    identified = identify(code="F-1", said=known(), **head(follows=0))
    found(gross=12_100, corrects=number, why="misread")
    assert one("F-1").content == 3_100 * G and flows() == {("FOUND", "CONTAINER"): 3_100 * G}
    with pytest.raises(Refused, match="cannot|Correct voucher"):
        found(gross=8_999, corrects=Voucher.objects.filter(kind="found").latest("number").number, why="misread")
    whole()
    take_back(identified, by="olive", note="the identifier was off")
    assert one("F-1").unknown and flows() == {}
    whole()
    take_back(Voucher.objects.filter(kind="found").latest("number").number, by="olive", note="it was ours")
    assert one("F-1").void
    whole()


def test_what_was_used_since_is_not_made_unknown_again(customers):
    found()
    delivery(came("E1", "recovery", tare_mg=5_000 * G), day=DAY)
    identified = identify(code="F-1", said=known(), **head(follows=0))
    decant(source="F-1", into="E1", quantity=G, **head(follows=identified))
    with pytest.raises(Refused, match="not have been identified yet"):
        take_back(identified, by="olive", note="no")


@pytest.mark.parametrize("kind", ["taking-in", "setting-apart", "giving-back", "found", "identification"])
def test_each_is_corrected_in_its_own_form(ada, office, kind):
    delivery(came("R1", "recovery", tare_mg=9_000 * G), day=DAY)
    vouchers = [own(ada), keep_for(code="R1", owner=ada, **head()), found()]
    vouchers += [identify(code="F-1", said=known(), **head(follows=0)), give_back(code="OWN", **head(follows=0))]
    shown = Voucher.objects.get(number__in=vouchers, kind=kind)
    way = way_of(Said(shown))(Said(shown), office)
    data = {name: "" if value is None else value for name, value in way.form.initial.items()}
    data |= {name: way.form[name].value() for name in way.form.fields if name not in data}
    assert data["key"]


def test_forms_are_filled_in_again_and_post_what_they_say(ada, office_client):
    number = own(ada)
    page = office_client.get(reverse("voucher-correct", args=[number])).content.decode()
    assert f"Ada Example ({ada})" in page and 'name="gross" value="15000"' in page


# -- its pages ---------------------------------------------------------------------------------------------------


def test_the_stock_page_shows_it_apart(ada, office_client, technician_client):
    delivery(came("C1", net=500 * G, tare_mg=5_000 * G), day=DAY)
    own(ada)
    found()
    for client in (office_client, technician_client):
        page = client.get(reverse("stock")).content.decode()
        assert f"Ada Example ({ada})" in page and "Held until known" in page and "waits" in page
        assert "500 g" in page and "10,500 g" not in page and "10.5 kg" not in page
        assert reverse("container", args=["C1"]) in page
        assert "F-1" in client.get(reverse("kept")).content.decode()
        assert "OWN" in client.get(reverse("stock"), {"whose": ada}).content.decode()
        for asked in ({"whose": ada}, {"state": "unknown"}):
            assert reverse("container", args=["C1"]) not in client.get(reverse("stock"), asked).content.decode()
    assert "not known yet" in office_client.get(reverse("container", args=["F-1"])).content.decode()
    assert "serves their own equipment" in office_client.get(reverse("container", args=["OWN"])).content.decode()
    month = office_client.get(reverse("month-end")).content.decode()
    assert "F-1 at " in month and ", found, held until known since" in month and "OWN at Store, recovered" not in month


def test_the_page_of_what_is_kept_asks_no_more_where_there_is_more(ada, office_client):
    def questions():
        with CaptureQueriesContext(connection) as asked:
            office_client.get(reverse("kept"))
        return len(asked)

    own(ada)
    found()
    few = questions()
    for at in range(3):
        own(ada, code=f"O-{at}")
        found(f"G-{at}")
    assert questions() == few


def test_a_photo_that_is_none_leaves_no_cylinder_behind(customers, technician_client, settings, tmp_path):
    settings.DATA_DIR, settings.MEDIA_ROOT = tmp_path, tmp_path / "uploads"
    said = {"key": uuid.uuid4(), "kind": "recovery", "gross": "12 kg", "location": "Store", "found_where": "shed"}
    said |= {"day": today().isoformat()}
    bad = SimpleUploadedFile("x.jpg", b"no picture")
    answer = technician_client.post(reverse("found-new"), {**said, "photo": bad})
    assert answer.status_code == 422 and not Container.objects.exists()
    answer = technician_client.post(reverse("found-new"), said)
    assert answer.status_code == 302 and one("REC-0001").last_gross == 12_000 * G
    answer = technician_client.post(reverse("found-new"), said)
    assert answer.status_code == 302 and Container.objects.count() == 1, "the same form posts once"
    pdf = technician_client.get(reverse("labels"), {"codes": "REC-0001", "single": 1})
    assert pdf["Content-Type"] == "application/pdf"


def test_an_unknown_customer_is_said_at_the_field(customers, technician_client):
    said = {"key": uuid.uuid4(), "customer": "Nobody", "kind": "refillable", "substance": "R-134a", "gross": "15 kg"}
    said |= {"grade": "recovered", "tare": "5 kg", "location": "Store", "day": today().isoformat()}
    page = technician_client.post(reverse("take-in"), said)
    assert page.status_code == 422 and "There is no customer Nobody" in page.content.decode()
    assert technician_client.post(reverse("take-in"), {**said, "customer": "Ada Example"}).status_code == 302
    assert one("CYL-0001").kept_for == customers[0]


def test_it_is_not_offered_to_be_sent_away(ada, office_client):
    delivery(came("C1", net=500 * G, tare_mg=5_000 * G), day=DAY)
    own(ada)
    found()
    page = office_client.get(reverse("shipment-new")).content.decode()
    assert "C1" in page and "OWN" not in without_keys(page) and "F-1" not in page
    page = office_client.get(reverse("shipment-new"), {"codes": "OWN"}).content.decode()
    assert "quantity-OWN" not in page
