"""Every form that is recorded once, found from the forms themselves: the same id with the same content is answered
again, with other content it is refused, and what was typed can be posted as a new entry."""

import datetime as dt
import html
import uuid
from collections.abc import Callable
from dataclasses import dataclass, field

import pytest
from django import forms
from django.apps import apps
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import get_resolver, reverse
from django.utils.html import strip_tags

from inventory.containers.actions import decant, move, regrade, retire
from inventory.containers.models import Location, Scale
from inventory.correcting.again import kinds
from inventory.counting.actions import correct_tare
from inventory.kept.actions import Brought, Identified, find, give_back, identify, keep_for, take_in
from inventory.ledger.models import Voucher
from inventory.machines.actions import recycle
from inventory.machines.models import Machine
from inventory.parties.models import Party
from inventory.receiving.actions import open_stock
from inventory.releases.actions import release
from inventory.shipping.actions import ship
from inventory.shop.clock import today
from inventory.shop.forms import ActForm, OnceForm
from inventory.shop.models import FormSent, Shop
from jobs.drafts.actions import start_job
from jobs.drafts.models import Job
from jobs.leaks.actions import add_leak_event
from jobs.people.actions import add_certificate
from jobs.people.models import Certificate, Person
from jobs.units.actions import add_unit
from jobs.units.models import Customer, Unit
from jobs.units.premises import add_premises
from shopledger.inspection.models import BundleOrder
from shopledger.logbook.models import LogUpload
from shopledger.sealing.actions import seal_period
from tests.forms import forms_of
from tests.inventory.test_attachments import PDF, picture
from tests.kept import made
from tests.shopledger.tampering import undone
from tests.stock import came, delivery, weigh

pytestmark = pytest.mark.django_db
G = 1000
BASES = {OnceForm, ActForm}  # no page shows them as they are
ITS_OWN = {"LineForm"}  # of a draft: its key is the entry's identity, under which it is changed
PASSING = {"sessions.Session", "shopledger.SlowPage", "shopledger.Upkeep"}
WHY = "It was misread."


@dataclass(frozen=True)
class Case:
    """A form by its page. typed: what is typed into it. other: what is typed instead, under the same id. once: that
    the act can be done once only, in the words that then refuse it; blank where it is posted as a new entry."""

    form: str
    page: Callable[[], str]
    typed: dict
    other: dict
    once: str = ""
    press: dict = field(default_factory=dict)
    files: Callable[[], dict] = dict
    instead: Callable[[], dict] | None = None  # other files under the same id
    act: str = ""  # the address where it is sent, if not to its page


def head(**more):
    return {"day": today(), "by": "olive", "key": str(uuid.uuid4()), **more}


def corrects(act):
    """The page that corrects what this posts."""
    return lambda: f"/ledger/{act()}/correct/"


def shipped():
    return ship(parcels={"BIG": 100 * G}, purpose="return", party=Party.objects.get(name="Renew"), **head())


def recycled():
    return recycle(code="USED", machine=Machine.objects.get(), standard="J2099", **head())


def opened():
    return open_stock(lines=[came("OLD-1", net=300 * G, tare_mg=100 * G)], **head())


def ada():
    return Customer.objects.get(name="Ada Example").code


def took_in(code):
    said = {"kind": "refillable", "substance": "R-134a", "grade": "recovered", "location": "Store"}
    return take_in(owner=ada(), brought=Brought(**said, tare_mg=5_000 * G, gross_mg=15_000 * G, code=code), **head())


def their_own():
    took_in("OWN-1")
    return "OWN-1"


def kept_for():
    return keep_for(code="VOID", owner=ada(), **head())


def found():
    said = {"kind": "recovery", "gross_mg": 12_000 * G, "location": "Store", "found_where": "in the shed"}
    return find(code="LOST-1", **said, **head())[0]


def unknown():
    found()
    return "LOST-1"


IDENTIFIED = {"substance": "R-134a", "identified_by": "Identifier 7", "tare": "9 kg"}


def renew():
    return Party.objects.get(name="Renew").pk


def depot():
    return Location.objects.get(name="Depot").pk


def received():
    return Voucher.objects.filter(kind="receipt").latest("number").number


def sealed():
    return seal_period(today() - dt.timedelta(1), "olive")


def unit_page():
    return f"/units/{Unit.objects.get().pk}"


def premises():
    return add_premises(Customer.objects.get(), by=None, name="Yard")


def voided():
    unit = Unit.objects.get()
    return f"/leak-events/{add_leak_event(unit, by=None, kind='owner-told', day=today()).pk}/void/"


def arrival(**more):
    line = {"kind": "can", "substance": "R-134a", "net": "340 g", "count": "3", "tare": "100 g", "location": "Store"}
    return {f"line-0-{name}": value for name, value in {**line, **more}.items()}


def log(more=""):
    text = "name,timezone,scale,readability\nMade up,UTC,bench,1 g\n" + more
    return {"files": SimpleUploadedFile("shop.csv", text.encode())}


def spreadsheet(more=""):
    text = "Code;Gas;Type;Net (g);Date\nMU-1;R134a;can;340;2026-01-05\n" + more
    return {"file": SimpleUploadedFile("store.csv", text.encode())}


CASES = {
    "delivery": Case(
        "DeliveryForm",
        lambda: reverse("receipt-new"),
        {"supplier": "Acme", "document": "INV-7", **arrival()},
        {"document": "INV-8", "line-0-net": "341 g", "line-0-count": "4"},
    ),
    "order": Case(
        "OrderForm",
        lambda: reverse("order-new"),
        {
            "supplier": "Acme",
            "number": "B-1",
            "line-0-kind": "can",
            "line-0-substance": "R-134a",
            "line-0-net": "340 g",
        },
        {"number": "B-2", "line-0-count": "4"},
    ),
    "paper": Case(
        "inventory.parties.forms.PaperForm",
        lambda: reverse("party-paper-new", args=[Party.objects.get(name="Acme").pk]),
        {"number": "D-1", "valid_from": "2026-01-02"},
        {"number": "D-2"},
    ),
    "proposal": Case("ProposalForm", lambda: reverse("need"), {"count-R-134a": "2"}, {"count-R-134a": "3"}),
    "invoice": Case(
        "InvoiceForm",
        lambda: f"{reverse('invoice-new')}?supplier={Party.objects.get(name='Acme').pk}",
        {"number": "I-1", "total": "9.80", "line-0-count": "1", "line-0-price": "9.80"},
        {"number": "I-2", "total": "9.90", "line-0-price": "9.90"},
    ),
    "opening": Case("OpeningForm", lambda: reverse("opening-new"), arrival(), {"line-0-net": "341 g"}),
    "shipment": Case(
        "ShipmentForm",
        lambda: "/leaving/new/?codes=BIG",
        {"purpose": "return", "party": renew, "codes": "BIG", "quantity-BIG": "100 g"},
        {"quantity-BIG": "101 g", "document": "Slip 9"},
    ),
    "shipment whole": Case(
        "ShipmentForm",
        lambda: "/leaving/new/?codes=BIG",
        {"purpose": "return", "party": renew, "codes": "BIG", "containers_go": "on"},
        {"codes": "CYL", "document": "Slip 9"},
    ),
    "move": Case("MoveForm", lambda: "/stock/move/?codes=CAN-1", {"to_location": "Van"}, {"to_location": "Truck"}),
    "retire": Case(
        "RetireForm",
        lambda: "/stock/retire/?codes=CAN-1",
        {"residue_into": ""},
        {"codes": "CAN-2"},
    ),
    "released": Case(
        "ReleaseForm",
        lambda: "/stock/release/?container=BIG",
        {"cause": "hose", "how": "estimated", "quantity": "50 g", "note": "by the hose"},
        {"quantity": "51 g"},
    ),
    "regrade": Case(
        "RegradeForm", lambda: reverse("regrade", args=["BIG"]), {"grade": "recovered"}, {"grade": "reclaimed"}
    ),
    "weigh": Case(
        "WeighForm", lambda: reverse("weigh", args=["BIG"]), {"gross": "5999 g"}, {"gross": "5998 g", "note": "again"}
    ),
    "decant": Case(
        "DecantForm", lambda: reverse("decant", args=["BIG"]), {"into": "CYL", "quantity": "50 g"}, {"quantity": "51 g"}
    ),
    "count": Case(
        "CountForm",
        lambda: reverse("count-place", args=[depot()]),
        {"gross-SOLE": "5999 g"},
        {"gross-SOLE": "5998 g", "note": "again"},
        press={"post": "1"},
    ),
    "count started": Case(
        "StartForm",
        lambda: reverse("count-start", args=[depot()]),
        {},
        {"scale": "bench"},
        once="go on with that count",
    ),
    "tare": Case(
        "TareForm",
        lambda: reverse("tare", args=["BIG"]),
        {"tare_mg": "5001 g", "note": "weighed empty"},
        {"tare_mg": "5002 g"},
    ),
    "left open": Case(
        "LeaveForm",
        lambda: "/month/leave/scale/",
        {"things": "bench", "why": "out of use"},
        {"why": "it is away for its check"},
        once="is said already",
    ),
    "recycled": Case(
        "RecycleForm",
        lambda: reverse("recycled", args=["USED"]),
        {"machine": lambda: Machine.objects.get().pk, "standard": "J2099"},
        {"standard": "J2788"},
        once="only what was recovered is recycled",
    ),
    "label": Case("RelabelForm", lambda: reverse("relabel", args=["USED"]), {"batch": "B-1"}, {"batch": "B-2"}),
    "keeper": Case(
        "KeeperForm", lambda: reverse("place-keeper", args=[depot()]), {"keeper": "tess"}, {"keeper": "timur"}
    ),
    "customer's cylinder": Case(
        "TakeInForm",
        lambda: reverse("take-in"),
        {"customer": "Ada Example", "substance": "R-134a", "gross": "15 kg", "tare": "5 kg", "location": "Store"},
        {"gross": "16 kg"},
    ),
    "kept for a customer": Case(
        "KeepForForm",
        lambda: reverse("keep-for", args=["VOID"]),
        {"customer": "Ada Example"},
        {"customer": "", "note": "for nobody"},
    ),
    "given back": Case(
        "GiveBackForm",
        lambda: reverse("give-back", args=[their_own()]),
        {"note": "took it"},
        {"stays": "on"},
        once="is retired",
    ),
    "found": Case(
        "FoundForm",
        lambda: reverse("found-new"),
        {"gross": "12 kg", "location": "Store", "found_where": "in the shed"},
        {"gross": "13 kg"},
    ),
    "identified": Case(
        "IdentifyForm", lambda: reverse("identify", args=[unknown()]), IDENTIFIED, {"tare": "8 kg"}, once="is known"
    ),
    "containers checked": Case(
        "LeakCheckForm", lambda: "/stock/leak-check/?codes=BIG", {"note": "soap"}, {"note": "sniffer", "leaks": "yes"}
    ),
    "scale checked": Case(
        "inventory.scales.forms.CheckForm",
        lambda: f"/scales/{Scale.objects.get().pk}/check/",
        {"reference_mg": "1000 g", "as_found_mg": "1000 g"},
        {"as_found_mg": "1001 g"},
    ),
    "machine checked": Case(
        "inventory.machines.views.CheckForm",
        lambda: f"/machines/{Machine.objects.get().pk}/check/",
        {"note": "tight"},
        {"note": "drops"},
    ),
    "file": Case(
        "FileForm",
        lambda: reverse("attach-to", args=["voucher", received()]),
        {"title": "Invoice"},
        {"title": "Receipt"},
        files=lambda: {"file": SimpleUploadedFile("i.pdf", PDF)},
    ),
    "taken back": Case(
        "TakeBackForm",
        lambda: f"/ledger/{move(codes=['CAN-1'], location='Van', **head())}/reverse/",
        {"note": "not so"},
        {"note": "it stayed"},
        once="was reversed before",
    ),
    "customer": Case("CustomerForm", lambda: "/customers/new/", {"name": "Bea Example"}, {"name": "Cy Example"}),
    "customer changed": Case(
        "CustomerForm",
        lambda: f"/customers/{Customer.objects.get().pk}/edit/",
        {"name": "Bea Example"},
        {"name": "Cy Example"},
    ),
    "premises": Case(
        "PremisesForm", lambda: f"/customers/{Customer.objects.get().pk}/premises/new/", {"name": "A"}, {"name": "B"}
    ),
    "method": Case(
        "MethodForm",
        lambda: f"/premises/{premises().pk}/method/",
        {"method": "rolling"},
        {"method": "annualizing", "reason": "as agreed"},
    ),
    "unit": Case("UnitForm", lambda: "/units/new/", {"plate": "NEW-1"}, {"plate": "NEW-2", "name": "the other"}),
    "unit changed": Case("UnitForm", lambda: f"{unit_page()}/edit/", {"name": "grey"}, {"name": "black"}),
    "full charge": Case(
        "FullChargeForm",
        lambda: f"{unit_page()}/full-charge/",
        {"how": "maker", "mg": "520 g"},
        {"mg": "530 g", "reason": "looked up"},
    ),
    "leak event": Case(
        "LeakEventForm",
        lambda: f"{unit_page()}/leak-events/new/?kind=owner-told",
        {"note": "by phone"},
        {"note": "by letter"},
    ),
    "leak event voided": Case("VoidForm", voided, {"reason": "never"}, {"reason": "another unit"}, once="is void"),
    "certificate": Case(
        "CertificateForm",
        lambda: f"/people/{Certificate.objects.get().person_id}/certificates/new/",
        {"scheme": "Section 609", "number": "B-1", "issued": "2026-01-02"},
        {"number": "B-2"},
    ),
    "certificate changed": Case(
        "CertificateForm",
        lambda: f"/certificates/{Certificate.objects.get().pk}/edit/",
        {"number": "B-1"},
        {"number": "B-2"},
    ),
    "job started": Case(
        "StartJobForm",
        lambda: "/jobs/new/?text=TST-1",
        {"technician": lambda: Person.objects.get(username="tess").pk},
        {"technician": lambda: Person.objects.get(username="timur").pk},
        act="job-start",
    ),
    "photo": Case(
        "PhotoForm",
        lambda: reverse("job", args=[Job.objects.get().pk]),
        {"title": "gauges"},
        {"title": "leak"},
        files=lambda: {"file": SimpleUploadedFile("p.png", picture("PNG"))},
        act="job-photo",
    ),
    "hand": Case(
        "HandForm",
        lambda: reverse("job", args=[Job.objects.get().pk]),
        {"person": lambda: Person.objects.get(username="timur").pk},
        {"person": lambda: Person.objects.get(username="olive").pk},
        act="job-hand",
    ),
    "handed over": Case(
        "HandOverForm",
        lambda: reverse("job", args=[Job.objects.get().pk]),
        {"to": lambda: Person.objects.get(username="timur").pk, "note": "mind the low side"},
        {"to": lambda: Person.objects.get(username="olive").pk},
        act="job-hand-over",
    ),
    "ports": Case(
        "PortsForm",
        lambda: reverse("job", args=[Job.objects.get().pk]),
        {"ports": "at the firewall"},
        {"ports": "behind the headlamp"},
        act="job-ports",
    ),
    "signature": Case(
        "SignatureForm",
        lambda: reverse("job", args=[Job.objects.get().pk]),
        {"name": "Ada Example"},
        {"name": "Bo Example"},
        act="job-finger",
    ),
    "receipt handed out": Case(
        "HandedForm",
        lambda: reverse("seal-handed", args=[sealed().pk]),
        {"to": "the bookkeeper"},
        {"to": "the bank"},
    ),
    "erased": Case(
        "EraseForm",
        lambda: reverse("erase", args=["party", Party.objects.get(name="Burn").code]),
        {"why": "asked", "sure": "on"},
        {"note": "by letter"},
        once="has no words to erase",
    ),
    "bundle": Case("BundleForm", lambda: reverse("bundles"), {"first": "2026-01-01"}, {"first": "2026-02-01"}),
    "spreadsheet": Case(
        "SheetForm",
        lambda: "/sheets/",
        {"kind": "stock"},
        {},
        files=spreadsheet,
        instead=lambda: spreadsheet("MU-2;R134a;can;340;2026-01-05\n"),
    ),
    "log": Case("UploadForm", lambda: "/logs/", {}, {}, files=log, instead=lambda: log("more\n")),
    "delivery corrected": Case(
        "DeliveryForm",
        lambda: reverse("voucher-correct", args=[received()]),
        {"document": "INV-3", "why": WHY},
        {"document": "INV-4"},
    ),
    "opening corrected": Case("OpeningForm", corrects(opened), {"line-0-net": "301 g", "why": WHY}, {"why": "No."}),
    "shipment corrected": Case(
        "ShipmentForm", corrects(shipped), {"line-0-quantity": "99 g", "why": WHY}, {"why": "No"}
    ),
    "move corrected": Case(
        "MovedForm",
        corrects(lambda: move(codes=["CAN-1"], location="Van", **head())),
        {"to_location": "Bay", "why": WHY},
        {"to_location": "Truck"},
    ),
    "release corrected": Case(
        "ReleasedForm",
        corrects(lambda: release(code="BIG", cause="hose", quantity=50 * G, **head(note="by the hose"))),
        {"quantity": "51 g", "why": WHY},
        {"quantity": "52 g"},
    ),
    "retirement corrected": Case(
        "RetiredForm",
        corrects(lambda: retire(codes=["CAN-1"], residue_into="", **head())),
        {"containers": "CAN-2", "why": WHY},
        {"containers": "CAN-1\nCAN-2"},
    ),
    "regrade corrected": Case(
        "RegradedForm",
        corrects(lambda: regrade(code="BIG", grade="recovered", **head())),
        {"grade": "reclaimed", "why": WHY},
        {"grade": "mixed"},
    ),
    "recycling corrected": Case("RecycledForm", corrects(recycled), {"standard": "J2788", "why": WHY}, {"why": "No."}),
    "decant corrected": Case(
        "DecantedForm",
        corrects(lambda: decant(source="BIG", into="CYL", quantity=50 * G, **head())),
        {"quantity": "51 g", "why": WHY},
        {"quantity": "52 g"},
    ),
    "count corrected": Case(
        "CountedForm",
        corrects(lambda: weigh("BIG", 5_999 * G, day=today())),
        {"line-0-gross": "5998 g", "why": WHY},
        {"line-0-gross": "5997 g"},
    ),
    "customer's cylinder corrected": Case(
        "TakeInForm", corrects(lambda: took_in("OWN-3")), {"gross": "14 kg", "why": WHY}, {"gross": "13 kg"}
    ),
    "kept for a customer corrected": Case(
        "KeptForForm", corrects(kept_for), {"note": "since spring", "why": WHY}, {"note": "since May"}
    ),
    "given back corrected": Case(
        "GivenBackForm",
        corrects(lambda: give_back(code=their_own(), **head())),
        {"note": "to Ada", "why": WHY},
        {"note": "to her brother"},
    ),
    "found corrected": Case("FoundAgainForm", corrects(found), {"gross": "11 kg", "why": WHY}, {"gross": "10 kg"}),
    "identification corrected": Case(
        "IdentifiedForm",
        corrects(lambda: identify(code=unknown(), said=Identified("R-134a", 9_000 * G, "Identifier 7"), **head())),
        {"tare": "8 kg", "why": WHY},
        {"tare": "7 kg"},
    ),
    "tare corrected": Case(
        "TaredForm",
        corrects(lambda: correct_tare(code="BIG", tare_mg=5_001 * G, note="weighed", **head())),
        {"tare_mg": "5002 g", "why": WHY},
        {"tare_mg": "5003 g"},
    ),
}


def of_its_own_room(form):
    return f"{form.__module__}.{form.__name__}"


def every_form():
    """Each form that carries an id, by its name, and by its whole name."""
    get_resolver().url_patterns  # noqa: B018 (reading it brings in every page, and with it every form)
    found, left = {}, [forms.Form]
    while left:
        form = left.pop()
        left += form.__subclasses__()
        if isinstance(form.base_fields.get("key"), forms.UUIDField) and not form.__module__.startswith("tests."):
            found[of_its_own_room(form)] = form
    return found


def test_every_form_with_an_id_is_tried_here():
    found = {name: form for name, form in every_form().items() if form not in BASES and form.__name__ not in ITS_OWN}
    assert [name for name, form in found.items() if not issubclass(form, OnceForm)] == []
    tried = {case.form for case in CASES.values()}
    assert [name for name in found if name not in tried and name.rpartition(".")[2] not in tried] == []
    of_corrections = {way.form_class.__name__ for ways in kinds.values() for way in ways}
    assert of_corrections <= {case.form for name, case in CASES.items() if name.endswith("corrected")}


@pytest.fixture(scope="module")
def stocked(django_db_setup, django_db_blocker, tmp_path_factory):
    """What the forms are about. Built once, in a transaction that is rolled back."""
    folder, patch = tmp_path_factory.mktemp("forms"), pytest.MonkeyPatch()
    patch.setattr(settings, "DATA_DIR", folder)
    patch.setattr(settings, "MEDIA_ROOT", folder / "uploads")
    with django_db_blocker.unblock(), undone():
        made(Shop, id=1, name="Test Shop", timezone="America/Denver")
        people = {"olive": "owner", "tess": "technician", "timur": "technician"}
        for username, role in people.items():
            Person.objects.create_user(username, password="wet pump 7 am", name=f"{username.title()} Test", role=role)
        made(Scale, code="bench", readability_mg=1000, usual=True)
        made(Machine, make="Quillon", model="R", serial="7", does="recycle")
        made(Party, name="Renew", role="reclaimer")
        made(Party, name="Burn", role="destroyer")
        cans = [came(code, "can", 340 * G, tare_mg=100 * G) for code in ("CAN-1", "CAN-2")]
        cylinders = [came(code, net=1_000 * G, tare_mg=5_000 * G) for code in ("BIG", "CYL")]
        used = came("USED", "recovery", 300 * G, tare_mg=5_000 * G)
        sole = came("SOLE", net=1_000 * G, tare_mg=5_000 * G, location="Depot")
        empty = came("VOID", "recovery", tare_mg=5_000 * G)
        delivery(*cans, *cylinders, used, sole, empty, day=today() - dt.timedelta(5))
        tess = Person.objects.get(username="tess")
        issued = today() - dt.timedelta(100)
        add_certificate(by=None, person=tess, scheme="Section 609", number="A-1", issued=issued, expires=None)
        unit = add_unit(by=tess, customer="Ada Example", plate="TST-1", refrigerant="R-134a")
        start_job(unit=unit, technician=tess, by=tess, key=uuid.uuid4())
        yield
    patch.undo()


def rows():
    """How many rows each table has."""
    return {
        model._meta.label: model._base_manager.count()
        for model in apps.get_models()
        if model._meta.label not in PASSING
    }


def called(values):
    return {name: value() if callable(value) else value for name, value in values.items()}


def form_with_id(page, address):
    """Of a page's forms the one that carries an id and is sent to this address: where it goes, and its fields."""
    there = address.partition("?")[0]
    carrying = [(action or address, fields) for action, fields in forms_of(page) if "key" in fields]
    right = [one for one in carrying if one[0].partition("?")[0] == there]
    return (right or carrying)[0]


def post(client, address, data):
    """Send a form; where what it comes to is shown first, post that. Lists of files are sent as such."""
    answer = client.post(address, data)
    page = answer.content.decode() if answer.status_code == 200 else ""
    if 'name="shown"' in page and 'name="post"' in page:
        answer = client.post(address, {**form_with_id(page, address)[1], "post": "1"})
    return answer


@pytest.mark.parametrize("name", CASES)
def test_a_used_id_with_other_content_is_refused_and_kept(stocked, name, client, monkeypatch):
    case = CASES[name]
    client.force_login(Person.objects.get(username="olive"))
    page = case.page()
    of = Unit if case.act == "job-start" else Job
    address = reverse(case.act, args=[of.objects.get().pk]) if case.act else page
    shown = []
    monkeypatch.setattr(OnceForm, "full_clean", noted(shown, OnceForm.full_clean))
    address, filled = form_with_id(client.get(page).content.decode(), address)
    typed = {**filled, **called(case.typed), **case.press}
    before = rows()
    first = post(client, address, {**typed, **case.files()})
    assert first.status_code == 302, words(first)
    assert shown and {case.form} & {shown[-1], shown[-1].rpartition(".")[2]}, shown
    after = rows()
    assert after != before, "nothing was recorded"
    in_another_order = dict(reversed({**typed, **case.files(), "csrfmiddlewaretoken": "another"}.items()))
    again = post(client, address, in_another_order)
    assert (again.status_code, again.url) == (302, first.url), "the same form is answered as it was the first time"
    assert rows() == after
    other = {**typed, **called(case.other)}
    refused = post(client, address, {**other, **(case.instead or case.files)()})
    text = words(refused)
    assert refused.status_code in {409, 422}, text[-3000:]
    assert "already recorded" in text and "What you typed now is kept below" in text, text[-3000:]
    assert rows() == after, "nothing was written"
    BundleOrder.objects.update(state="made")  # one is made at a time, and one log read
    LogUpload.objects.update(state="ready")
    address, kept = form_with_id(refused.content.decode(), address)
    assert kept["key"] != typed["key"], "it carries a fresh id"
    for field_name, value in called(case.other).items():
        assert str(value) in map(str, values(kept[field_name])), (field_name, kept)
    anew = post(client, address, {**kept, **case.press, **(case.instead or case.files)()})
    if case.once:
        assert case.once in words(anew) or case.once in words(client.get(anew.url)), words(anew)[-3000:]
    else:
        assert anew.status_code == 302, words(anew)[-3000:]
        assert rows() != after, "it is posted as a new entry"


def noted(shown, usual):
    def full_clean(form):
        if form.is_bound:
            shown.append(of_its_own_room(type(form)))
        usual(form)

    return full_clean


def values(value):
    return value if isinstance(value, list) else [value]


def words(answer):
    return " ".join(html.unescape(strip_tags(answer.content.decode())).split())


def sends(client, username, key, gross):
    client.force_login(Person.objects.get(username=username))
    return client.post(reverse("weigh", args=["BIG"]), {"key": key, "gross": gross, "day": str(today())})


def test_links_lead_only_where_a_person_may_go(stocked, client):
    """Everybody may read a voucher, and put their own reading right; the office's is not a technician's to correct."""
    key = str(uuid.uuid4())
    assert sends(client, "olive", key, "5999 g").status_code == 302
    number = Voucher.objects.latest("number").number
    page = sends(client, "tess", key, "5998 g").content.decode()
    assert f'<a href="/ledger/{number}/">voucher {number}</a> (count: 1 refillable cylinder of R-134a)' in page
    assert "post it as a new one.</li>" in page and "correct/" not in page
    page = sends(client, "olive", key, "5998 g").content.decode()
    assert f'or <a href="/ledger/{number}/correct/">correct voucher {number}</a>.</li>' in page


def test_under_another_secret_a_form_that_is_sent_again_is_refused_and_kept(stocked, client, settings):
    key = str(uuid.uuid4())
    assert sends(client, "tess", key, "5999 g").status_code == 302
    settings.SECRET_KEY = "that of another machine"
    vouchers = Voucher.objects.count()
    answer = sends(client, "tess", key, "5999 g")
    assert answer.status_code == 422 and 'value="5999 g"' in answer.content.decode()
    assert Voucher.objects.count() == vouchers


def test_while_the_signing_key_is_renewed_it_is_answered_as_the_first_time(stocked, client, settings):
    key = str(uuid.uuid4())
    assert sends(client, "tess", key, "5999 g").status_code == 302
    settings.SECRET_KEY_FALLBACKS = [settings.SECRET_KEY]
    settings.SECRET_KEY = "the new one"
    vouchers = Voucher.objects.count()
    assert sends(client, "tess", key, "5999 g").status_code == 302 and Voucher.objects.count() == vouchers
    assert sends(client, "tess", key, "5998 g").status_code == 422, "with other content it is refused as ever"


def test_what_is_wrong_and_was_recorded_is_said_at_once(stocked, client):
    """A fault in other content does not hide that something was recorded, nor takes the faults away."""
    key = str(uuid.uuid4())
    sends(client, "tess", key, "5999 g")
    text = words(sends(client, "tess", key, "heavy"))
    assert "already recorded" in text and "heavy" in text


def test_it_costs_one_question_and_one_row(stocked, client):
    with CaptureQueriesContext(connection) as asked:
        sends(client, "tess", str(uuid.uuid4()), "5999 g")
    about = [one["sql"].split()[0] for one in asked if "inventory_formsent" in one["sql"]]
    # A reading is shown to a rehearsal first, which keeps nothing.
    assert about == ["SELECT", "INSERT"] * 2 and FormSent.objects.count() == 1
