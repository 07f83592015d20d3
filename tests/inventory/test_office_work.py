"""The office: deliveries with their papers, recycling, what those who took it found, supply, cost, deposits."""

import datetime as dt
import uuid
from fractions import Fraction

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from inventory.attachments.models import Attachment
from inventory.containers.actions import count, decant, move, regrade, retire, take_back
from inventory.containers.costs import cost
from inventory.containers.models import Container, Location, Scale, Weighing
from inventory.containers.oil_age import is_too_old, usable_until
from inventory.containers.queries import on_hand
from inventory.ledger.models import Substance, Voucher
from inventory.ledger.verify import verify
from inventory.machines.actions import CheckMade, check_machine, recycle
from inventory.machines.models import Machine
from inventory.measures.money import show_money
from inventory.parties.actions import supplier_called
from inventory.parties.models import Party
from inventory.receiving.actions import Arrival, receive
from inventory.reference.rulebook import rulebook
from inventory.shipping.actions import ship
from inventory.shipping.again import ParcelForm
from inventory.shop.clock import today
from inventory.supply.costs import losses_by_month, stock_value
from inventory.supply.models import ReorderPoint
from inventory.supply.queries import at_a_glance, supplies
from inventory.text.refusal import Refused
from inventory.verdicts.retested import retested
from tests.inventory.test_attachments import PDF, uploads  # noqa: F401 (fixture)
from tests.kept import made, posted, saved
from tests.reference.invented import changed

pytestmark = pytest.mark.django_db
G = 1000
DAY = dt.date(2026, 3, 2)


def key():
    return str(uuid.uuid4())


def cylinder(code, net, grade="virgin", kind="refillable", **more):
    return Arrival(kind, "R-134a", False, grade, net * G, 1, "Store", code, tare_mg=8_000 * G, **more)


@pytest.fixture
def stock(shop):
    made(Scale, code="bench", readability_mg=G, usual=True)
    lines = [
        cylinder("NEW", 5_000, price_minor=20_000, deposit_minor=7_500),
        cylinder("REC", 3_000, "recovered", "recovery"),
        cylinder("MIX", 1_000, "mixed", "recovery"),
        cylinder("OLD", 0, "recovered", "recovery", retest_due=dt.date(2026, 1, 10)),
        Arrival("can", "R-134a", False, "virgin", 340 * G, 4, "Store", "CAN-1", tare_mg=100 * G, price_minor=1_000),
    ]
    return receive(lines=lines, supplier=supplier_called("Acme"), document="D-1", day=DAY, by="oscar", key=key())


def content(code):
    return Container.objects.select_related("account").get(code=code).content


# -- deliveries --------------------------------------------------------------------------------------------


def test_a_delivery_s_paper_and_what_weighs_less_are_on_its_page(stock, office_client, technician_client, uploads):  # noqa: F811
    count(readings={"NEW": 12_500 * G, "CAN-1": 440 * G}, day=DAY, by="oscar", key=key())
    upload = SimpleUploadedFile("invoice.pdf", PDF, "application/pdf")
    form = {"key": key(), "title": "Invoice 7", "file": upload}
    assert office_client.post(f"/files/to/voucher/{stock}/", form).status_code == 302
    bad = {"key": key(), "file": SimpleUploadedFile("invoice.pdf", b"MZ\x90")}
    answer = office_client.post(f"/files/to/voucher/{stock}/", bad)
    assert answer.status_code == 422 and "whatever its name says" in answer.content.decode()
    page = office_client.get(f"/ledger/{stock}/").content.decode()
    assert "Invoice 7" in page and "less than invoiced" in page and "as invoiced" in page and "Weigh it" in page
    assert "Invoice 7" not in technician_client.get(f"/ledger/{stock}/").content.decode()


def test_a_delivery_goes_back_with_its_deposits(stock, office_client):
    assert Container.objects.get(code="NEW").deposit_minor == 7_500
    assert Container.objects.get(code="REC").deposit_minor is None
    acme = Party.objects.get(name="Acme")
    form = {
        "key": key(),
        "purpose": "return",
        "party": acme.pk,
        "day": "2026-03-04",
        "codes": ["NEW", "CAN-1"],
        "containers_go": "on",
    }
    answer = office_client.post("/leaving/new/", form)
    assert answer.status_code == 302, answer.content.decode()[:2000]
    new = Container.objects.get(code="NEW")
    assert (content("NEW"), content("CAN-1"), new.retired_on, new.deposit_back_on) == (
        0,
        0,
        dt.date(2026, 3, 4),
        dt.date(2026, 3, 4),
    )
    assert verify().faults == []


def test_a_container_that_goes_leaves_nothing_behind(stock):
    with pytest.raises(Refused, match="leave its quantity blank"):
        ship(
            parcels={"NEW": 1_000 * G},
            purpose="return",
            party=Party.objects.get(name="Acme"),
            document="",
            day=DAY,
            by="o",
            key=key(),
            containers_go=True,
        )
    assert content("NEW") == 5_000 * G


# -- recovered refrigerant -----------------------------------------------------------------------------------


@pytest.fixture
def machine(db):
    return made(Machine, make="Quillon", model="R1", serial="7", standards="SAE J2788")


def test_what_was_recovered_is_recycled_by_a_machine(stock, machine, office_client):
    form = {"key": key(), "machine": machine.pk, "standard": "SAE J2788", "day": "2026-03-03"}
    assert office_client.post("/stock/recycled/REC/", form).status_code == 302
    assert Container.objects.get(code="REC").grade == "recycled"
    voucher = Voucher.objects.latest("number")
    assert '"machine":"Quillon R1, 7"' in voucher.detail and '"standard":"SAE J2788"' in voucher.detail
    with pytest.raises(Refused, match="only what was recovered is recycled"):
        recycle(code="REC", machine=machine, standard="x", day=today(), by="o", key=key())
    assert verify().faults == []


def test_mixed_refrigerant_stays_apart(stock, machine):
    with pytest.raises(Refused, match="is not recycled; send it to a reclaimer"):
        recycle(code="MIX", machine=machine, standard="x", day=DAY, by="o", key=key())
    with pytest.raises(Refused, match="becomes no other grade here"):
        regrade(code="MIX", grade="recovered", day=DAY, by="o", key=key())
    with pytest.raises(Refused, match="would spoil what is there"):
        decant(source="MIX", into="REC", quantity=100 * G, day=DAY, by="o", key=key())
    saved(Container.objects.get(code="OLD"), retest_due=None)
    decant(source="MIX", into="OLD", quantity=100 * G, day=DAY, by="o", key=key())
    assert Container.objects.get(code="OLD").grade == "mixed"
    assert verify().faults == []


def test_an_overdue_cylinder_is_not_filled(stock):
    with pytest.raises(Refused, match="The retest of OLD was due on 10 Jan 2026"):
        decant(source="REC", into="OLD", quantity=100 * G, day=DAY, by="o", key=key())


# 49 CFR 180.205(c): a cylinder is filled to the end of the month of its due day, and not after.
@pytest.mark.parametrize(
    ("day", "may"), [(dt.date(2026, 5, 1), True), (dt.date(2026, 5, 31), True), (dt.date(2026, 6, 1), False)]
)
def test_a_retest_day_counts_through_its_month(day, may):
    rules = rulebook("us-federal")
    assert retested(rules, "recovery", dt.date(2026, 5, 1), day).is_breach is not may
    assert not retested(rules, "recovery", None, day).is_breach
    to_the_day = changed(rules, "retest", through_month_end=False)
    assert retested(to_the_day, "recovery", dt.date(2026, 5, 30), dt.date(2026, 5, 31)).is_refused


def test_their_receipt_is_entered_later_and_the_difference_shown(stock, office_client):
    made(Party, name="Renew", role="reclaimer", address="3 Road", registration="R-7")
    number = ship(
        parcels={"REC": None},
        purpose="reclaim",
        party=Party.objects.get(name="Renew"),
        document="S-1",
        day=DAY,
        by="o",
        key=key(),
    )
    before = posted().count()
    assert "no receipt yet" in office_client.get(f"/ledger/{number}/").content.decode()
    assert office_client.post(f"/leaving/{number}/receipt/", {}).status_code == 422
    form = {"document": "RN-9", "net-REC": "2950"}
    assert office_client.post(f"/leaving/{number}/receipt/", form).status_code == 302
    page = office_client.get(f"/ledger/{number}/").content.decode()
    assert "they found" in page and "2\u202f950 g" in page and "-50 g" in page and "RN-9" in page
    assert posted().count() == before, "it moves nothing"


def test_machines_are_checked(machine, office_client):
    made = CheckMade(DAY, passed=True, next_due=dt.date(2027, 3, 2), note="scale and hoses")
    one = uuid.uuid4()
    for _ in range(2):
        check_machine(machine=machine, check=made, by="o", key=one)
    assert machine.checks.count() == 1 and Machine.objects.get().check_due == dt.date(2027, 3, 2)
    assert "scale and hoses" in office_client.get(f"/machines/{machine.pk}/").content.decode()
    form = {"make": "Quillon", "model": "R2", "serial": "8", "does": "recover", "standard": "SAE J2810"}
    assert office_client.post("/machines/new/", form).status_code == 302
    assert office_client.post("/machines/new/", form).status_code == 422, "a serial number is one machine's"


# -- oil -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("opened", "months", "last"),
    [
        (dt.date(2026, 1, 31), 1, dt.date(2026, 2, 28)),
        (dt.date(2026, 8, 31), 6, dt.date(2027, 2, 28)),
        (dt.date(2026, 3, 2), 6, dt.date(2026, 9, 2)),
        (dt.date(2026, 12, 15), 12, dt.date(2027, 12, 15)),
    ],
)
def test_an_opened_bottle_is_used_for_some_months(opened, months, last):
    assert usable_until(opened, months) == last
    assert not is_too_old(opened, months, last) and is_too_old(opened, months, last + dt.timedelta(days=1))
    assert not is_too_old(None, months, last)


# -- supply ----------------------------------------------------------------------------------------------------


def test_supplies_count_what_can_be_charged(stock, office_client):
    move(codes=["CAN-2"], location="Van", day=DAY, by="o", key=key())
    whole, *places = [one for one in supplies(DAY) if one.code == "R-134a"]
    assert (whole.place, whole.total) == ("", 5_000 * G + 4 * 340 * G), "what was only recovered or mixed is left out"
    assert {one.place: one.total for one in places} == {"Store": 6_020 * G, "Van": 340 * G}
    assert whole.weeks_left is None and not whole.short
    made(ReorderPoint, substance=Substance.objects.get(code="R-134a"), least=7_000 * G)
    assert supplies(DAY)[0].short
    form = {
        "substance": Substance.objects.get(code="R-134a").pk,
        "least": "500 g",
        "location": Location.objects.get(name="Van").pk,
    }
    assert office_client.post("/enough/", form).status_code == 302
    assert "short" in office_client.get("/enough/").content.decode()
    assert "Running short" in office_client.get("/").content.decode()
    office_client.post("/enough/", {**form, "least": ""})
    assert ReorderPoint.objects.count() == 1
    assert office_client.post("/enough/", {**form, "least": "5 stones"}).status_code == 422


def test_a_glance_at_the_stock_says_what_its_lists_say(stock, django_assert_num_queries):
    move(codes=["CAN-2"], location="Van", day=DAY, by="o", key=key())
    gas, van = Substance.objects.get(code="R-134a"), Location.objects.get(name="Van")
    never = made(Substance, code="R-32", is_oil=False)

    def glance():
        with django_assert_num_queries(1):
            return at_a_glance()

    assert glance() == (on_hand(), []) and on_hand()
    made(ReorderPoint, substance=gas, location=van, least=340 * G)
    assert glance() == (on_hand(), []), "what is as much as the least is enough"
    made(ReorderPoint, substance=gas, least=7_000 * G)
    made(ReorderPoint, substance=never, least=1)
    ReorderPoint.objects.filter(location=van).update(least=340 * G + 1)
    short = [(one.code, one.is_oil, one.place, one.total) for one in supplies(DAY) if one.short]
    assert len(short) == 3 and glance() == (on_hand(), sorted(short))


def test_what_is_used_a_week_is_an_average_over_weeks(stock, technician, owner):
    from jobs.drafts.actions import change_job, enter_line, start_job
    from jobs.people.actions import add_certificate
    from jobs.signing.actions import sign_job
    from jobs.units.actions import add_unit

    add_certificate(by=owner, person=technician, scheme="Section 609", number="T-1", issued=dt.date(2020, 1, 1))
    unit = add_unit(by=technician, customer="Ada", plate="T", refrigerant="R-134a", charge_max_mg=900 * G)
    job = start_job(unit=unit, technician=technician, by=technician, key=uuid.uuid4())
    change_job(job.pk, by=technician, day=today() - dt.timedelta(days=3))
    enter_line(
        job.pk, by=technician, key=uuid.uuid4(), action="charge", container="NEW", before=13_000 * G, after=12_200 * G
    )
    sign_job(job.pk, by=technician)
    whole = supplies(today())[0]
    assert (whole.weekly, whole.season, whole.open) == (Fraction(800 * G, 8), 0, 4_200 * G)
    assert whole.weeks_left == Fraction(whole.total * 8, 800 * G)


# -- cost --------------------------------------------------------------------------------------------------------


def test_a_part_of_a_container_costs_its_share():
    assert cost([(340, 1000, 340)]) == (1000, True)
    assert cost([(1, 1000, 3), (1, 1000, 3), (1, 1000, 3)]) == (1000, True), "rounded once, not three times"
    assert cost([(1, 1, 2)]) == (0, True) and cost([(3, 1, 2)]) == (2, True), "half to even"
    assert cost([(5, None, 10), (5, 100, 10)]) == (50, False)
    assert show_money(-123_456, "EUR") == "-1\u202f234.56 EUR"


def test_stock_value_and_losses(stock, office_client):
    retire(codes=["CAN-1"], residue_into="", day=DAY, by="o", key=key())
    value = {code: (priced, worth, bare) for code, _, priced, worth, bare in stock_value(DAY)}
    # First in, first out: 340 g of the 5,000 g that came first, for 20,000; not the 1,000 of the can itself.
    assert value == {"R-134a": (5_000 * G + 3 * 340 * G, 20_000 + 4_000 - 1_360, 4_000 * G)}
    assert losses_by_month(DAY, DAY) == {"2026-03": {8: (1_360, 0)}}
    page = office_client.get("/costs/").content.decode()
    assert "226.40 USD" in page and "13.60 USD" in page


# -- what cannot be so -------------------------------------------------------------------------------------


def test_what_is_left_spoils_nothing_better(stock):
    receive(
        lines=[cylinder("SPOILT", 500, "mixed", "recovery")],
        supplier=supplier_called("Acme"),
        document="",
        day=DAY,
        by="o",
        key=key(),
    )
    lines = [cylinder("USED", 500, "recovered", "recovery"), cylinder("FRESH", 900)]
    receive(lines=lines, supplier=supplier_called("Acme"), document="x", day=DAY, by="o", key=key())
    for source in ("SPOILT", "USED"):
        with pytest.raises(Refused, match="it would spoil what is there"):
            retire(codes=[source], residue_into="FRESH", day=DAY, by="o", key=key())
        with pytest.raises(Refused, match="it would spoil what is there"):
            decant(source=source, into="FRESH", quantity=100 * G, day=DAY, by="o", key=key())
    decant(source="FRESH", into="USED", quantity=100 * G, day=DAY, by="o", key=key())
    assert Container.objects.get(code="USED").grade == "recovered" and verify().faults == []


def test_nothing_is_recorded_of_a_container_before_it_came(stock):
    receive(lines=[cylinder("N", 1_000)], supplier=supplier_called("Acme"), document="", day=DAY, by="o", key=key())
    before = DAY - dt.timedelta(1)
    for act in (
        lambda: count(readings={"N": 9_000 * G}, day=before, by="o", key=key()),
        lambda: retire(codes=["N"], residue_into="", day=before, by="o", key=key()),
        lambda: move(codes=["N"], location="Van", day=before, by="o", key=key()),
    ):
        with pytest.raises(Refused, match="came in on 2 Mar 2026"):
            act()
    move(codes=["N"], location="Van", day=DAY, by="o", key=key())


def test_a_weighing_of_an_earlier_day_is_compared_with_what_was_there_then(stock):
    """1 kg came, 300 g left on 7 March; the weighing of 4 March found 50 g less: 650 g are left, and 50 g missing."""
    receive(
        lines=[cylinder("N", 1_000), cylinder("E", 0)],
        supplier=supplier_called("Acme"),
        document="",
        day=DAY,
        by="o",
        key=key(),
    )
    decant(source="N", into="E", quantity=300 * G, day=DAY + dt.timedelta(5), by="o", key=key())
    number, said = count(readings={"N": 8_950 * G}, day=DAY + dt.timedelta(2), by="o", key=key())
    assert said[0].difference == -50 * G
    assert Voucher.objects.get(number=number).day == DAY + dt.timedelta(2), "its day is open"
    assert Container.objects.select_related("account").get(code="N").content == 650 * G
    assert verify().faults == []


# R-134a: 1.207 kg/L at 25 °C (CoolProp 8.0.0): 12 L hold 14.48 kg full of liquid. A factory fill may be over what may
# be refilled (0.80 of that), but not over what there is room for.
@pytest.mark.parametrize(("kg", "fits"), [(14, True), (15, False), (50, False)])
def test_no_more_comes_in_a_container_than_goes_into_it(stock, kg, fits):
    line = cylinder("N", kg * 1000, water_capacity_mg=12_000 * G)
    if fits:
        receive(lines=[line], supplier=supplier_called("Acme"), document="", day=DAY, by="o", key=key())
    else:
        with pytest.raises(Refused, match="full of liquid. Check both figures"):
            receive(lines=[line], supplier=supplier_called("Acme"), document="", day=DAY, by="o", key=key())


def test_two_who_enter_one_delivery_at_once_are_told_apart(stock, monkeypatch):
    from inventory.receiving import actions

    line, said = Arrival("can", "R-134a", False, "", 340 * G, 2, "Store"), {"document": "D-1", "day": DAY}
    real, first = actions._arrive, []

    def meanwhile(*args, **more):
        if not first:
            first.append(1)
            receive(lines=[line], supplier=supplier_called('Joe "Cool" Parts'), by="b", key=key(), **said)
        return real(*args, **more)

    monkeypatch.setattr(actions, "_arrive", meanwhile)
    with pytest.raises(Refused, match="was entered before, as voucher"):
        receive(lines=[line], supplier=supplier_called('Joe "Cool" Parts'), by="a", key=key(), **said)


def test_a_delivery_that_is_refused_leaves_no_supplier(stock, office_client):
    receive(lines=[cylinder("TWICE", 1_000)], supplier=supplier_called("Acme"), document="", day=DAY, by="o", key=key())
    form = {
        "key": key(),
        "supplier": "New Parts",
        "document": "D",
        "day": "2026-03-02",
        "line-TOTAL_FORMS": "1",
        "line-INITIAL_FORMS": "0",
        "line-0-kind": "refillable",
        "line-0-substance": "R-134a",
        "line-0-net": "1 kg",
        "line-0-count": "1",
        "line-0-code": "TWICE",
        "line-0-location": "Store",
    }
    assert office_client.post("/receiving/new/", form).status_code == 422
    assert not Party.objects.filter(name="New Parts").exists()


def test_a_shipment_drops_nothing_silently_and_is_posted_once(stock, office_client):
    party = made(Party, name="Renew", role="reclaimer")
    receive(
        lines=[cylinder("N", 1_000), cylinder("M", 1_000)],
        supplier=supplier_called("Acme"),
        document="",
        day=DAY,
        by="o",
        key=key(),
    )
    ship(
        parcels={"N": None},
        purpose="reclaim",
        party=Party.objects.get(name="Renew"),
        document="",
        day=DAY,
        by="o",
        key=key(),
    )
    form = {
        "codes": ["N", "M"],
        "key": key(),
        "purpose": "reclaim",
        "party": party.pk,
        "document": "x",
        "day": "2026-03-02",
        "note": "",
    }
    answer = office_client.post("/leaving/new/", form)
    assert answer.status_code == 422 and "N: nothing is in it any more" in answer.content.decode()
    for _ in range(2):
        answer = office_client.post("/leaving/new/", form | {"codes": ["M"]})
        assert answer.status_code == 302 and answer.url == f"/ledger/{Voucher.objects.order_by('-number')[0].number}/"
    assert Voucher.objects.filter(kind="shipment").count() == 2


def test_sending_away_says_what_it_comes_to_and_asks_once(stock, office_client):
    """What goes, how much, to whom, and what stays, before anything is posted; changed since, it is asked anew."""
    form = {
        "key": key(),
        "purpose": "return",
        "party": Party.objects.get(name="Acme").pk,
        "day": "2026-03-04",
        "codes": ["NEW", "CAN-1"],
        "quantity-NEW": "2 kg",
    }
    asked = office_client.post("/leaving/new/", form | {"ask": "1"})
    sending = asked.context["sending"]
    assert asked.status_code == 200 and not Voucher.objects.filter(kind="shipment").exists()
    figures = {one.container.code: (one.goes, one.stays) for one in sending.going}
    assert figures == {"NEW": (2_000 * G, content("NEW") - 2_000 * G), "CAN-1": (content("CAN-1"), 0)}
    assert sum(row["goes"] for row in asked.context["all_going"]) == 2_000 * G + content("CAN-1")
    assert "Yes, send it away" in asked.content.decode() and "The containers stay" in asked.content.decode()
    changed = form | {"quantity-NEW": "3 kg", "shown": sending.mark}
    anew = office_client.post("/leaving/new/", changed)
    assert anew.status_code == 200 and not Voucher.objects.filter(kind="shipment").exists()
    said = office_client.post("/leaving/new/", changed | {"shown": anew.context["sending"].mark})
    assert said.status_code == 302 and Voucher.objects.filter(kind="shipment").count() == 1
    too_much = form | {"key": key(), "quantity-NEW": "900 kg", "ask": "1"}
    assert office_client.post("/leaving/new/", too_much).status_code == 422


@pytest.mark.parametrize(
    ("typed", "said"),
    [({"quantity-NEW": "0 kg"}, "0 is nothing"), ({"quantity-MIX": "100 g"}, "MIX is not ticked")],
)
def test_a_quantity_that_would_send_nothing_is_said_at_its_field(stock, office_client, typed, said):
    party = Party.objects.get(name="Acme").pk
    form = {"key": key(), "purpose": "return", "party": party, "day": "2026-03-04", "codes": ["NEW"]}
    for more in ({}, {"ask": "1"}):
        answer = office_client.post("/leaving/new/", form | typed | more)
        (field,) = answer.context["form"].errors
        assert answer.status_code == 422 and field in typed and said in answer.content.decode()
    assert not Voucher.objects.filter(kind="shipment").exists()
    for again, word in (("0 kg", "0 is nothing"), ("some", "quantity")):
        row = ParcelForm({"container": "NEW", "quantity": again})
        assert list(row.errors) == ["quantity"] and word in str(row.errors)


# -- what was taken back -----------------------------------------------------------------------------------


def test_a_loss_that_was_taken_back_costs_nothing(stock):
    number = retire(codes=["NEW"], residue_into="", day=DAY, by="oscar", key=key())
    first = dt.date(2026, 1, 1)
    assert losses_by_month(first, today())["2026-03"]
    take_back(number, by="oscar", note="not so")
    left = losses_by_month(first, today())
    assert [sum(cell[at] for row in left.values() for cell in row.values()) for at in (0, 1)] == [0, 0]


def test_an_older_check_of_a_machine_entered_later_moves_no_due_day(shop):
    machine, on = made(Machine, make="A", model="B", serial="1"), today()
    year = dt.timedelta(365)
    for check in (CheckMade(on, True, on + year), CheckMade(on - year, True, on)):
        check_machine(machine=machine, check=check, by="o", key=uuid.uuid4())
    machine.refresh_from_db()
    assert machine.check_due == on + year


@pytest.mark.parametrize("kind", ["voucher", "machine"])
def test_a_paper_is_attached_to_what_is_there_only(office_client, uploads, kind):  # noqa: F811
    file = SimpleUploadedFile("a.pdf", PDF, "application/pdf")
    answer = office_client.post(f"/files/to/{kind}/77/", {"key": str(uuid.uuid4()), "file": file})
    assert (answer.status_code, Attachment.objects.count()) == (404, 0)


def test_a_decant_of_an_earlier_day_is_weighed_against_what_was_there_then(stock):
    """NEW came with 5 kg: 12.9 kg gross on 10 March are 100 g too little; what went on later stays as it was."""
    receive(lines=[cylinder("E", 0)], supplier=supplier_called("Acme"), document="", day=DAY, by="o", key=key())
    decant(source="NEW", into="E", quantity=1_000 * G, day=DAY + dt.timedelta(18), by="o", key=key())
    early = {"source": "NEW", "into": "E", "day": DAY + dt.timedelta(8), "by": "o"}
    number = decant(**early, before=12_900 * G, after=12_500 * G, key=key())
    assert Weighing.objects.filter(voucher=number).order_by("line").first().difference == -100 * G
    assert (content("NEW"), content("E")) == (3_500 * G, 1_400 * G)
    assert verify().faults == []
