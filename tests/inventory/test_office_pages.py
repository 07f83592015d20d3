"""The office's pages: what comes in, is moved, counted and sent away, through the web."""

import html
import uuid

import pytest
from django.urls import reverse
from django.utils.html import strip_tags

from inventory.containers.models import Container, Location, Scale
from inventory.ledger.models import Record
from inventory.ledger.verify import verify
from inventory.parties.models import Party
from inventory.shop.clock import today
from tests.forms import sent
from tests.kept import made, posted

pytestmark = pytest.mark.django_db


@pytest.fixture
def ready(shop, office_client):
    made(Scale, code="bench", readability_mg=1000, usual=True)
    made(Location, name="Store")
    return office_client


def delivery(*lines, **more):
    data = {
        "key": str(uuid.uuid4()),
        "supplier": "Acme",
        "document": "INV-1",
        "day": "2026-03-02",
        "line-TOTAL_FORMS": str(len(lines)),
        "line-INITIAL_FORMS": "0",
    }
    for number, line in enumerate(lines):
        data |= {f"line-{number}-{name}": value for name, value in line.items()}
    return data | more


CANS = {
    "kind": "can",
    "substance": "R-134a",
    "net": "340 g",
    "count": "24",
    "tare": "100 g",
    "location": "Store",
    "price": "9.50",
}
CYLINDER = {
    "kind": "recovery",
    "substance": "R-134a",
    "count": "1",
    "tare": "5 kg",
    "water_capacity": "12 L",
    "location": "Store",
}
OIL = {"kind": "oil", "substance": "PAG 46", "net": "250 mL", "count": "1", "location": "Store"}


def test_24_equal_cans_are_one_line(ready):
    answer = ready.post("/receiving/new/", delivery(CANS, CYLINDER, OIL))
    assert answer.status_code == 302, answer.content
    codes = list(Container.objects.filter(kind="can").values_list("code", flat=True))
    assert codes == [f"CAN-{number:04d}" for number in range(1, 25)]
    assert Container.objects.get(code="CAN-0024").price_minor == 950
    assert (posted().count(), Party.objects.get().name) == (1, "Acme")
    assert verify().faults == []


def test_the_same_form_twice_is_one_delivery(ready):
    form = delivery(CANS)
    assert ready.post("/receiving/new/", form).url == ready.post("/receiving/new/", form).url
    assert (posted().count(), Container.objects.count()) == (1, 24)


def test_a_document_entered_twice_is_asked_about(ready):
    ready.post("/receiving/new/", delivery(CANS))
    answer = ready.post("/receiving/new/", delivery(CANS))
    assert answer.status_code == 422
    assert f"was entered before, as voucher {posted().get().number} of" in answer.content.decode()
    assert ready.post("/receiving/new/", delivery(CANS, again="on")).status_code == 302
    assert Container.objects.count() == 48


@pytest.mark.parametrize(
    ("typed", "twin", "right"),
    [
        ({"line-0-count": "12"}, True, {"again": "on"}),  # another delivery, the same paper
        ({"line-0-count": "12"}, True, {"document": "INV-2"}),  # another, with a paper of its own
        ({"line-0-count": "12", "document": " INV-1 "}, True, {"again": "on"}),
        ({"line-0-count": "12", "document": "INV-2"}, False, {}),
        ({"line-0-count": "12", "again": "on"}, False, {}),
        ({"line-0-count": "12", "document": ""}, False, {}),
        ({"line-0-count": "12", "supplier": "Boreal"}, False, {}),
    ],
)
def test_another_delivery_in_a_form_that_was_recorded_is_posted_in_one_step(ready, typed, twin, right):
    """What the document number asks is asked on the page that says that the form was recorded, not on one after it."""
    form = delivery(CANS)
    assert ready.post("/receiving/new/", form).status_code == 302
    answer = ready.post("/receiving/new/", form | typed)
    page = answer.content.decode()
    assert answer.status_code == 422 and "This form was already recorded as" in page
    said = f"Document INV-1 of Acme was entered before, as voucher {posted().get().number} of 2 Mar 2026."
    assert (said in page) == ("was entered before" in page) == twin
    assert posted().count() == 1 and Party.objects.filter(name="Boreal").count() == 0
    assert ready.post("/receiving/new/", sent(page) | right).status_code == 302
    assert posted().count() == 2 and Container.objects.count() == 36 and verify().faults == []


def test_a_document_of_any_standing_delivery_is_asked_about_on_the_page_that_says_it_was_recorded(ready):
    ready.post("/receiving/new/", delivery(CANS, document="INV-9"))
    form = delivery(CANS)
    ready.post("/receiving/new/", form)
    for wrong in ({}, {"line-0-net": "heavy"}):  # with a fault of a line too
        page = ready.post("/receiving/new/", form | {"document": "INV-9"} | wrong).content.decode()
        assert "Document INV-9 of Acme was entered before" in page and "This form was already recorded as" in page


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"net": "340"}, "has no unit"),
        ({"net": "340 mL"}, "mass"),
        ({"substance": "R-134b"}, "R-134a"),
        ({"count": "0"}, "Write a whole number from 1 to 500."),
        ({"kind": ""}, "required"),
        ({"code": "X", "count": "2"}, "does not end in a number"),
    ],
)
def test_a_wrong_line_is_refused_and_what_was_typed_kept(ready, change, said):
    answer = ready.post("/receiving/new/", delivery({**CANS, **change}))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert said in page or "This is missing" in page
    assert 'value="INV-1"' in page and 'value="100 g"' in page
    assert not posted().exists() and not Party.objects.exists()


def test_stock_is_moved_regraded_decanted_and_retired(ready):
    ready.post("/receiving/new/", delivery(CANS, CYLINDER))
    post = {"key": str(uuid.uuid4()), "day": "2026-03-03"}
    assert (
        ready.post("/stock/move/", {**post, "codes": ["CAN-0001", "CAN-0002"], "to_location": "Van"}).status_code == 302
    )
    assert Container.objects.filter(location__name="Van").count() == 2
    post["key"] = str(uuid.uuid4())
    form = {**post, "into": "REC-0001", "before": "440", "after": "100", "before-unit": "g", "after-unit": "g"}
    assert ready.post("/stock/containers/CAN-0003/decant/", form).status_code == 302
    decanted = posted().get(kind="decant").number
    post["key"] = str(uuid.uuid4())
    asked = ready.post("/stock/containers/REC-0001/regrade/", {**post, "grade": "recycled"})
    assert asked.status_code == 422
    offered = f'<option value="{decanted}" selected>after voucher {decanted}: decant, with REC-0001</option>'
    assert offered in asked.content.decode()
    form = {**post, "grade": "recycled", "follows": str(decanted)}
    assert ready.post("/stock/containers/REC-0001/regrade/", form).status_code == 302
    post["key"] = str(uuid.uuid4())
    asked = ready.get("/stock/retire/", {"codes": ["CAN-0002", "CAN-0003"]}).content.decode()
    assert "What is left in them" in asked and "Empty by the book." in asked and "water capacity is not known" in asked
    assert ready.post("/stock/retire/", {**post, "codes": ["CAN-0003"], "follows": str(decanted)}).status_code == 302
    recovery = Container.objects.select_related("account").get(code="REC-0001")
    assert (recovery.content, recovery.grade, recovery.account.grade) == (340_000, "recycled", "recycled")
    assert Container.objects.get(code="CAN-0003").state == "retired"
    assert verify().faults == []


def test_a_decant_beyond_the_safe_fill_is_refused(ready):
    big = {"kind": "refillable", "substance": "R-134a", "net": "20 kg", "count": "1", "location": "Store"}
    ready.post("/receiving/new/", delivery(big, CYLINDER))
    form = {
        "key": str(uuid.uuid4()),
        "day": "2026-03-03",
        "into": "REC-0001",
        "quantity": "12000",
        "quantity-unit": "g",
    }
    answer = ready.post("/stock/containers/CYL-0001/decant/", form)
    assert answer.status_code == 422
    assert "its safe fill is 11.584" in answer.content.decode()
    assert posted().count() == 1


def test_a_count_is_looked_at_first_and_then_posted(ready):
    ready.post("/receiving/new/", delivery({**CANS, "count": "2"}, OIL))
    place = Location.objects.get(name="Store").pk
    form = {"key": str(uuid.uuid4()), "day": "2026-03-04", "gross-CAN-0001": "428", "gross-OIL-0001": "245"}
    seen = ready.post(f"/counting/{place}/", form).content.decode()
    assert "unexplained loss" in seen and "weighing difference" in seen
    assert posted().count() == 1
    answer = ready.post(f"/counting/{place}/", {**form, "post": "1"})
    assert answer.status_code == 302 and posted().count() == 1, "what weighing cannot explain wants a reason"
    page = ready.get(answer.url).content.decode()
    assert "unexplained loss" in page and "CAN-0002" in page
    assert ready.post(f"{answer.url}post/").status_code == 422
    ready.post(f"{answer.url}reason/", {"code": "CAN-0001", "reason": "leaked", "note": "hissed"})
    assert ready.post(f"{answer.url}post/").status_code == 302
    assert Container.objects.select_related("account").get(code="CAN-0001").content == 328_000
    assert verify().faults == []


def test_recovered_refrigerant_is_sent_away(ready):
    ready.post("/receiving/new/", delivery({**CYLINDER, "net": "3 kg"}))
    reclaimer = made(Party, name="Renew", role="reclaimer", address="3 Road", registration="R-7")
    form = {
        "key": str(uuid.uuid4()),
        "day": "2026-03-05",
        "purpose": "reclaim",
        "party": reclaimer.pk,
        "codes": ["REC-0001"],
    }
    answer = ready.post("/leaving/new/", {**form, "quantity-REC-0001": "4000", "quantity-REC-0001-unit": "g"})
    assert answer.status_code == 422 and "holds 3\u202f000 g" in answer.content.decode()
    assert ready.post("/leaving/new/", form).status_code == 302
    assert Container.objects.select_related("account").get(code="REC-0001").content == 0


def test_a_voucher_is_taken_back_with_its_reason(ready):
    ready.post("/receiving/new/", delivery(CANS))
    key = {"key": str(uuid.uuid4()), "day": "2026-03-02"}
    number = posted().get().number
    address = f"/ledger/{number}/reverse/"
    assert f'href="{address}"' in ready.get(f"/ledger/{number}/").content.decode()
    assert ready.post(address, {**key, "note": ""}).status_code == 422
    assert ready.post(address, {**key, "note": "typed twice"}).status_code == 302
    assert ready.post(address, {**key, "key": str(uuid.uuid4()), "note": "again"}).status_code == 422
    assert "taken back" in ready.get("/ledger/").content.decode()
    assert not Container.objects.filter(void=False).exists() and verify().faults == []


def test_what_was_stated_is_not_taken_back(ready):
    """An entry that moves nothing and says what happened, e.g. that the shop has a scale."""
    number = Record.objects.get(kind="scale").voucher_id
    page = ready.get(f"/ledger/{number}/").content.decode()
    assert "/reverse/" not in page and "/correct/" not in page and "It moved nothing and stays" in page
    answer = ready.post(f"/ledger/{number}/reverse/", {"key": str(uuid.uuid4()), "note": "not so"})
    assert answer.status_code == 422 and "moved nothing and stays" in answer.content.decode()
    assert not posted().exists()


def test_a_move_says_what_stood_there_already(ready):
    ready.post("/receiving/new/", delivery(CANS), follow=True)  # whose page says what was posted

    def moved(*codes):
        form = {"key": str(uuid.uuid4()), "day": str(today()), "codes": codes, "to_location": "Van"}
        answer = ready.post("/stock/move/", form, follow=True)
        return [str(message) for message in answer.context["messages"]]

    assert moved("CAN-0001") == ["1 moved to Van."]
    assert moved("CAN-0001") == ["Nothing moved. CAN-0001 stood at Van already."]
    assert moved("CAN-0001", "CAN-0002") == ["1 moved to Van. CAN-0001 stood at Van already."]
    assert [one.movements.count() for one in posted().filter(kind="move").order_by("number")] == [1, 0, 1]


def test_more_than_ever_was_in_it_does_not_come_out_of_a_can(ready):
    ready.post("/receiving/new/", delivery(CANS, CYLINDER))
    form = {"key": str(uuid.uuid4()), "day": str(today()), "into": "REC-0001", "quantity": "426", "quantity-unit": "g"}
    answer = ready.post("/stock/containers/CAN-0001/decant/", form)
    assert answer.status_code == 422
    assert "never recorded to hold more than 340 g, so 426 g cannot have come out of it" in answer.content.decode()
    assert 'value="426"' in answer.content.decode()
    assert ready.post("/stock/containers/CAN-0001/decant/", form | {"quantity": "425"}).status_code == 302


PAGES = (
    "/stock/",
    "/stock/containers/CAN-0001/",
    "/stock/containers/CAN-0001/weigh/",
    "/ledger/",
    "/ledger/DELIVERY/",
)
OFFICE_PAGES = (
    "/stock/move/",
    "/stock/retire/",
    "/stock/places/",
    "/stock/scales/new/",
    "/stock/scales/bench/",
    "/stock/containers/CAN-0001/regrade/",
    "/stock/containers/CAN-0001/decant/",
    "/receiving/",
    "/receiving/new/",
    "/receiving/opening/",
    "/receiving/parties/",
    "/receiving/parties/new/",
    "/counting/",
    "/leaving/",
    "/leaving/new/",
    "/ledger/DELIVERY/reverse/",
)


def test_each_role_opens_what_it_may(ready, technician_client, owner_client):
    ready.post("/receiving/new/", delivery(CANS))
    number = str(posted().get().number)
    for page in (page.replace("DELIVERY", number) for page in PAGES):
        assert technician_client.get(page).status_code == 200, page
    for page in (page.replace("DELIVERY", number) for page in OFFICE_PAGES):
        assert technician_client.get(page).status_code == 403, page
        assert ready.get(page).status_code == 200, page
        assert owner_client.get(page).status_code == 200, page
    assert ready.get("/settings/").status_code == 403
    assert owner_client.get("/settings/").status_code == 200
    for page in ("/stock/containers/NONE/", "/ledger/999/", "/counting/999/", "/stock/scales/none/"):
        assert owner_client.get(page).status_code == 404, page


@pytest.mark.parametrize("page", ["/stock/", "/ledger/", "/receiving/", "/leaving/new/", "/counting/1/"])
def test_the_number_of_queries_does_not_grow_with_the_rows(ready, page, django_assert_max_num_queries, client):
    def queries(page):
        from django.db import connection
        from django.test.utils import CaptureQueriesContext

        with CaptureQueriesContext(connection) as captured:
            assert ready.get(page).status_code == 200
        return len(captured)

    page = page.replace("/1/", f"/{Location.objects.get().pk}/")
    disposable = {**CANS, "kind": "disposable", "net": "10 kg", "count": "2"}
    ready.post("/receiving/new/", delivery(disposable))
    few = queries(page)
    for number in range(5):
        ready.post("/receiving/new/", delivery({**disposable, "count": "8"}, document=f"INV-{number}9"))
    assert queries(page) == few


def test_parties_are_searched_sorted_and_exported(ready):
    for name, role in (("Acme", "supplier"), ("Renew", "reclaimer"), ("Zenith", "supplier")):
        made(Party, name=name, role=role, address=f"{name} Street")
    page = ready.get("/receiving/parties/?text=ZEN").content.decode()
    assert "Zenith" in page and "Renew" not in page
    page = ready.get("/receiving/parties/?role=reclaimer&sort=-name").content.decode()
    assert "Renew" in page and "Zenith" not in page
    text = b"".join(ready.get("/receiving/parties/?export=csv&role=supplier").streaming_content).decode()
    assert (
        text.splitlines()[0] == "Name,Code,Role,Address,Registration" and "Zenith,P-00" in text and "Renew" not in text
    )


def test_a_delivery_is_found_by_its_document(ready):
    for number in (71, 72):
        ready.post("/receiving/new/", delivery(CANS) | {"document": f"INV-{number}"})
    page = ready.get("/ledger/?kind=receipt&document=inv-72").content.decode()
    assert "INV-72" in page and "INV-71" not in page
    assert "kind=receipt" in ready.get("/receiving/").content.decode()


def test_what_was_ticked_is_offered_to_be_sent_however_much_there_is(ready):
    many = {"kind": "refillable", "substance": "R-134a", "net": "5 kg", "count": "105", "location": "Store"}
    ready.post("/receiving/new/", delivery(many))
    last = Container.objects.order_by("-code").first().code
    assert f'value="{last}"' not in ready.get("/leaving/new/").content.decode()
    assert f'value="{last}" checked' in ready.get(f"/leaving/new/?codes={last}").content.decode()


def test_retiring_says_what_will_happen_and_asks_once(ready):
    ready.post("/receiving/new/", delivery({**CANS, "count": "3"}, CYLINDER))
    page = ready.get("/stock/retire/", {"codes": ["CAN-0001", "CAN-0002"]}).content.decode()
    assert 'name="ask"' in page
    form = sent(page) | {"codes": ["CAN-0001", "CAN-0002"], "ask": "1"}
    asked = ready.post("/stock/retire/", form)
    said = asked.content.decode()
    assert asked.status_code == 200 and "Is this right?" in said and 'name="ask"' not in said
    assert "2 containers are out of use for good." in said
    assert "680 g of R-134a is lost, and counted as heel loss." in said
    assert posted().filter(kind="retirement").count() == 0 and verify().faults == []
    assert "goes into REC-0001" in ready.post("/stock/retire/", form | {"residue_into": "REC-0001"}).content.decode()
    assert ready.post("/stock/retire/", form | {"residue_into": "NONE-1"}).status_code == 422
    assert ready.post("/stock/retire/", sent(said) | {"codes": ["CAN-0001", "CAN-0002"]}).status_code == 302
    assert posted().filter(kind="retirement").count() == 1 and verify().faults == []


@pytest.mark.parametrize(("page", "most"), [("receipt-new", 40), ("order-new", 40), ("invoice-new", 60)])
def test_more_lines_than_fit_in_a_form_are_refused_in_words(ready, page, most):
    lines = {"line-TOTAL_FORMS": str(most + 1), "line-INITIAL_FORMS": "0", "key": str(uuid.uuid4())}
    supplier = made(Party, name="Acme", role="supplier")
    answer = ready.post(f"{reverse(page)}?supplier={supplier.pk}", lines)
    said = html.unescape(answer.content.decode())
    assert answer.status_code == 422 and "Please submit" not in strip_tags(said)
    assert f"At most {most} lines fit in one form: post these, and enter the rest in another." in said
