"""Every address of the site, found in the URL list itself, for every role: what it answers and never a 500."""

import datetime as dt
import json
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from inventory.attachments.actions import attach
from inventory.attachments.models import Attachment
from inventory.buying.actions import Billed, InvoiceSaid, enter_invoice
from inventory.containers.models import Location, Scale
from inventory.ledger.models import Substance, Voucher
from inventory.machines.models import Machine
from inventory.orders.actions import OrderHead, Wanted, place_order, was_for
from inventory.orders.matching import Sort
from inventory.parties.actions import PaperSaid, keep_paper
from inventory.parties.models import Party
from inventory.shipping.actions import ship
from inventory.shop.clock import now, today
from inventory.write_offs.models import WriteOff
from jobs.drafts.actions import enter_line, start_job
from jobs.drafts.hands import add_hand
from jobs.drafts.models import Job
from jobs.leaks.actions import add_leak_event
from jobs.people.actions import add_certificate
from jobs.people.models import Person
from jobs.units.actions import add_unit, change_unit
from jobs.units.premises import ChargeFound, add_premises, set_full_charge, set_method
from shopledger.inspection.models import BundleOrder
from shopledger.inspectors.actions import issue_access
from shopledger.logbook.models import LogUpload
from shopledger.sealing.actions import seal_period
from shopledger.sealing.models import IssuedReport
from shopledger.sheet_pages.models import SheetMapping, SheetUpload
from shopledger.sheet_pages.work import receive_sheet
from tests.inventory.test_attachments import picture, uploads  # noqa: F401 (a fixture)
from tests.inventory.test_office_pages import CANS, delivery
from tests.jobs.test_jobs import bay  # noqa: F401 (a fixture)
from tests.kept import made, posted

pytestmark = pytest.mark.django_db
OPEN = {
    "worker",
    "sign-in",
    "healthz",
    "passkey-asked",
    "passkey-sign-in",
    "people-here",
    "pin-sign-in",
    "somebody-else",
    "everybody-out",
}
OFFICE_UP = {
    "bundles",
    "bundle",
    "bundle-file",
    "seals",
    "sealed",
    "seal-receipt",
    "issued",
    "report-chart",
    "differences-over-time",
    "differences-over-time-chart",
    "logs",
    "log",
    "log-templates",
    "log-load",
    "log-drop",
    "sheets",
    "sheet",
    "sheet-put",
    "sheet-name",
    "sheet-load",
    "sheet-drop",
    "sheet-remarks",
    "month-end",
    "month-leave",
    "attach-to",
    "file-withdraw",
    "machines",
    "machine",
    "machine-new",
    "machine-edit",
    "machine-check",
    "recycled",
    "relabel",
    "costs",
    "shipment-receipt",
    "shipment-paper",
    "chosen-paper",
    "count",
    "count-start",
    "count-paper",
    "count-result",
    "count-reason",
    "count-state",
    "count-rest",
    "count-note",
    "count-remove",
    "count-abandon",
    "count-post",
    "differences",
    "difference",
    "tare",
    "leak-checked",
    "scales",
    "scale",
    "scale-check",
    "scale-sends",
    "scale-connects",
    "scale-form",
    "scale-form-back",
    "move",
    "retire",
    "places",
    "place-keeper",
    "give-back",
    "scale-new",
    "scale-edit",
    "regrade",
    "decant",
    "receiving",
    "receipt-new",
    "receipt-line",
    "receipt-last",
    "opening-new",
    "need",
    "orders",
    "order-new",
    "order",
    "order-sent",
    "order-give-up",
    "order-came",
    "order-not-came",
    "order-paper",
    "order-csv",
    "invoices",
    "invoice-new",
    "invoice",
    "invoice-correct",
    "invoice-void",
    "statements",
    "statement",
    "parties",
    "party-new",
    "party-edit",
    "party-paper-new",
    "paper",
    "paper-withdraw",
    "counting",
    "count-place",
    "leaving",
    "shipment-new",
    "voucher-reverse",
    "voucher-correct",
    "reports",
    "report",
    "report-movements",
    "write-offs",
    "write-off-agree",
    "write-off-refuse",
}
OF_A_SHIPMENT = {"shipment-receipt", "shipment-paper"}
OWNER_ONLY = {
    "log-export",
    "person-year",
    "settings",
    "people",
    "person",
    "person-new",
    "person-edit",
    "person-password",
    "certificate-new",
    "certificate-edit",
    "seal",
    "seal-keep",
    "seal-handed",
    "trail",
    "inspectors",
    "inspector",
    "inspector-end",
    "health",
    "health-verify",
    "clocks-seen",
    "person-let-in",
    "person-pin-remove",
    "person-sign-ins",
    "person-sign-in-end",
    "ways-in",
    "erase",
    "erased",
}
ODD = [
    "",
    "\0",
    "'; DROP TABLE x; --<script>\u202egnp.exe",
    "9" * 400,
    "-1",
    "NaN",
    "1e999",
    "0000-00-00",
    "é" * 5000,
]


def names():
    found = []

    def walk(patterns):
        for pattern in patterns:
            if isinstance(pattern, URLResolver):
                walk(pattern.url_patterns)
            elif isinstance(pattern, URLPattern) and pattern.name:
                found.append((pattern.name, dict(pattern.pattern.converters)))

    walk(get_resolver().url_patterns)
    return [(name, converters) for name, converters in found if not name.startswith("bench")]


ALL = names()
VALUES = {"code": "CAN-1", "step": "start", "clock": "hold_started", "name": "usage", "kind": "customer"}


def bought(received):
    """An order, for which a delivery came, and its invoice."""
    supplier, can = Voucher.objects.get(number=received), Sort("can", "R-134a", "virgin", 340_000)
    supplier = Party.objects.get(code=json.loads(supplier.detail)["supplier"])
    said = {"by": "oscar", "key": uuid.uuid4()}
    order = place_order(
        supplier=supplier, head=OrderHead(today()), lines=[Wanted(*can[:2], False, *can[2:], 9)], **said
    )
    was_for(order=order, number=received)
    paper = InvoiceSaid(supplier, "invoice", "I-1", today(), [Billed("goods", 3, 980, can)], 3 * 980)
    return order, enter_invoice(said=paper, **said)


def declared(supplier):
    said = PaperSaid("declaration", "D-7", today())
    return keep_paper(party=supplier, said=said, by="oscar", key=uuid.uuid4())


@pytest.fixture
def addresses(shop, bay, technician, office_client, uploads):  # noqa: F811
    """name -> an address that exists."""
    job = start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4())
    office_client.post("/receiving/new/", delivery(CANS))
    photo = attach(subject=f"job:{job.pk}", upload=SimpleUploadedFile("p.png", picture("PNG")), by=technician.username)
    received = Voucher.objects.filter(kind="receipt").latest("number").number
    paper = attach(subject=f"voucher:{received}", upload=SimpleUploadedFile("p.png", picture("PNG")), by="oscar")
    machine = made(Machine, make="Quillon", model="R1", serial="7")
    reclaimer = made(Party, name="Renew", role="reclaimer")
    ship(
        parcels={"CAN-2": None},
        purpose="return",
        party=reclaimer,
        document="",
        day=today(),
        by="oscar",
        key=str(uuid.uuid4()),
    )
    shipment = Voucher.objects.get(kind="shipment").number
    yesterday = today() - dt.timedelta(days=1)
    sealed = seal_period(yesterday, "olive")
    issued = made(
        IssuedReport,
        seal=sealed,
        report="usage",
        format="csv",
        first=yesterday,
        last=yesterday,
        number=1,
        digest="0" * 64,
        sha256="0" * 64,
        size=1,
        made_at=now(),
        made_by="olive",
    )
    place = add_premises(bay.customer, by=technician, name="Main street")
    change_unit(bay, by=technician, premises=place)
    set_method(place, by=technician, method="annualizing", from_day=today())
    set_full_charge(bay, by=technician, found=ChargeFound("maker", 520_000), from_day=today())
    said = {"codes": ["CAN-3"], "residue_into": "", "day": today().isoformat(), "by": technician.username, "key": "w"}
    asked = {"asked_by": technician.username, "asked_at": now()}
    written_off = made(WriteOff, act="retire", said=said, lost=[["R-134a", False, 340_000]], **asked)
    event = add_leak_event(bay, by=technician, kind="owner-told", day=today())
    order, billed = bought(received)
    keys = {
        "inspector": issue_access(name="Ira", first=today(), last=today(), until=today(), by=technician)[0].pk,
        "inspect": received,
        "seal": sealed.pk,
        "sealed": sealed.pk,
        "issued": issued.pk,
        "attachment": photo.pk,
        "file": paper.pk,
        "machine": machine.pk,
        "attach": received,
        "bundle": BundleOrder.objects.create(first=today(), last=today(), by="oscar", state="failed").pk,
        "log": LogUpload.objects.create(key=uuid.uuid4(), by="oscar", state="faulty").pk,
        "sheet": receive_sheet(
            upload=SimpleUploadedFile("store.csv", b"Code;Gas;Type;Net\nC-1;R134a;can;340 g\n"),
            kind="stock",
            mapping=None,
            by="oscar",
            key=uuid.uuid4(),
        ).pk,
        "job": job.pk,
        "unit": bay.pk,
        "customer": bay.customer_id,
        "premises": place.pk,
        "leak": event.pk,
        "person": technician.pk,
        "passkey": 1,
        "pin": technician.pk,
        "rulebook": "canada-federal",
        "count": Location.objects.first().pk,
        "place": Location.objects.first().pk,
        "scale": Scale.objects.first().pk,
        "difference": 1,
        "substance": Substance.objects.first().pk,
        "write": written_off.pk,
        "party": Party.objects.first().pk,
        "paper": declared(order.supplier).pk,
        "order": order.pk,
        "invoice": billed.pk,
        "statement": order.supplier_id,
        "certificate": technician.certificates.first().pk,
    }
    found = {}
    for name, converters in ALL:
        values = {}
        for argument in converters:
            if argument in VALUES and not (argument == "code" and name == "scale-edit" or name in OF_A_SHIPMENT):
                values[argument] = VALUES[argument]
            elif argument == "number" and name in OF_A_SHIPMENT:
                values[argument] = shipment
            elif name == "month-leave":
                values = {"of": "weigh"}
            elif name == "attach-to":
                values = {"kind": "voucher", "key": received}
            elif name == "erase":
                values = {"kind": "customer", "key": bay.customer.code}
            elif argument == "number":
                values[argument] = received
            elif argument == "line":
                values[argument] = order.lines.get().pk
            elif argument == "code":
                values[argument] = "bench"
            elif argument == "key":
                values[argument] = uuid.uuid4()
            elif argument == "unit":
                values[argument] = bay.pk
            elif argument == "photo":
                values[argument] = photo.pk
            else:
                owner = name.split("-")[0] if name != "certificate-new" else "person"
                values[argument] = keys[owner]
        found[name] = reverse(name, kwargs=values)
    return found


def kept_by_caches(answer):
    """Whether a cache may keep the answer. One that is streamed is read to its end, as a server does."""
    if answer.streaming:
        b"".join(answer.streaming_content)
    return answer.headers.get("Cache-Control") != "no-store"


def test_visitors_who_are_not_signed_in_see_the_sign_in_page(addresses):
    kept = []
    for name, address in addresses.items():
        answer = Client().get(address)
        kept += [name] * kept_by_caches(answer)
        if name not in OPEN | {"sign-out"}:  # signing out is a POST
            assert answer.status_code == 302 and "/sign-in" in answer.url, name
    assert kept == ["worker"]


def test_each_role_reaches_what_it_may_and_no_more(addresses, technician_client, office_client, owner_client):
    kept = []
    for name, address in addresses.items():
        inspector = name == "inspect" or name.startswith("inspect-")
        allowed = {
            "technician": name not in OFFICE_UP | OWNER_ONLY and not inspector,
            "office": name not in OWNER_ONLY and not inspector,
            "owner": not inspector,
        }
        for role, client in (
            ("technician", technician_client),
            ("office", office_client),
            ("owner", owner_client),
        ):
            if name == "sign-out":
                continue
            answer = client.get(address)
            status = answer.status_code
            assert status != 500, (name, role)
            assert (status == 403) != allowed[role], (name, role, status)
            kept += [(name, role)] * kept_by_caches(answer)
    # What they saw is theirs alone: no cache keeps it. The worker's script is the same for everybody.
    assert [one for one in kept if one[0] != "worker"] == [], f"{len(kept)} answers are kept"


def test_another_technician_reaches_nothing_of_a_draft(addresses, technician, technician_client):
    """Every address of a job, as it is in the URL list, and its photos: as if the job were not there."""
    job = Job.objects.get(technician=technician, state="draft")
    other = Person.objects.create_user("timur", password="wet pump 7 am", name="Timur Test", role="technician")
    client = Client()
    client.force_login(other)
    of_a_job = [name for name, converters in ALL if name.split("-")[0] == "job" and "pk" in converters]
    assert len(of_a_job) >= 14 and {"job", "job-sheet", "job-sign", "job-photo-change"} <= set(of_a_job)
    data = {
        "key": uuid.uuid4(),
        "action": "charge",
        "container": "CAN-1",
        "before": "440 g",
        "after": "300 g",
        "note": "mine",
        "shown": "{}",
        "reason": "mine",
        "reason-over": "mine",
        "title": "mine",
        "why": "mine",
    }
    before = Job.objects.filter(pk=job.pk).values().get()
    for name in (*of_a_job, "attachment"):
        mine = technician_client.get(addresses[name]).status_code
        assert mine in {200, 302, 404, 405, 422}, (name, mine)
        assert client.get(addresses[name]).status_code in ({404} if mine == 200 else {404, 405}), name
        assert client.post(addresses[name], data).status_code in {404, 405}, name
    assert Job.objects.filter(pk=job.pk).values().get() == before and not job.lines.exists()
    assert Attachment.objects.filter(withdrawn_at=None, subject=f"job:{job.pk}").count() == 1
    for address in ("/", "/jobs/", "/jobs/?text=J-", f"/jobs/?technician={technician.pk}", "/scan/CAN-1/"):
        assert job.number not in client.get(address, follow=True).content.decode(), address


def more_of_everything(bay, technician, office_client):  # noqa: F811
    """Twelve more of what pages list."""
    bay.refresh_from_db()
    for n in range(12):
        cans = {**CANS, "document": f"INV-{n}"}
        office_client.post("/receiving/new/", delivery(cans) | {"document": f"INV-{n}"})
        unit = add_unit(by=technician, customer=f"Customer {n}", plate=f"MORE-{n}", refrigerant="R-134a")
        for of in (unit, bay):
            add_leak_event(of, by=technician, kind="owner-told", day=today(), person=technician)
            set_full_charge(
                of, by=technician, found=ChargeFound("maker", 500_000 + n), from_day=today(), reason=f"look {n}"
            )
            job = start_job(unit=of, technician=technician, by=technician, key=uuid.uuid4())
        enter_line(
            job.pk, by=technician, key=uuid.uuid4(), action="charge", container=f"CAN-{n + 10:04d}", before=440_000
        )
        place = add_premises(bay.customer, by=technician, name=f"More premises {n}")
        method = ("rolling", "annualizing")[n % 2]
        set_method(bay.premises, by=technician, method=method, from_day=today(), reason=f"for {n}")
        add_unit(by=technician, customer=bay.customer, premises=bay.premises, plate=f"THERE-{n}")
        add_unit(by=technician, customer=bay.customer, premises=place, plate=f"ELSE-{n}")
        person = Person.objects.create_user(f"more{n}", password="wet pump 7 am", name=f"More {n}", role="technician")
        add_certificate(by=None, person=person, scheme="Section 609", number=f"M-{n}", issued=today())
        add_hand(Job.objects.filter(unit=bay).earliest("id").pk, person=person, by=technician)
        made(Location, name=f"Place {n}")
        made(Scale, code=f"scale-{n}", readability_mg=1000)
        made(Machine, make="Quillon", model="R1", serial=f"more {n}")
        made(Party, name=f"More {n}", role="reclaimer")
        attach(
            subject=f"voucher:{Voucher.objects.filter(kind='receipt').earliest('number').number}",
            upload=SimpleUploadedFile("p.png", picture("PNG", size=(9, 9 + n))),
            by="oscar",
        )
        issue_access(name=f"Ira {n}", first=today(), last=today(), until=today(), by=technician)
        BundleOrder.objects.create(first=today(), last=today(), by="oscar", state="failed")
        LogUpload.objects.create(key=uuid.uuid4(), by="oscar", state="faulty")
        SheetUpload.objects.create(key=uuid.uuid4(), kind="stock", name="more", by="oscar", state="dropped")
        SheetMapping.objects.create(name=f"more {n}", kind="stock")


def test_no_page_asks_more_where_there_is_more(
    addresses,
    bay,  # noqa: F811
    technician,
    office_client,
    owner_client,
    monkeypatch,
):
    """Every page of the URL list, asked with twelve more of everything: as many questions as before."""
    # What is noted after a while, or of a slow page, comes when the machine is busy.
    monkeypatch.setattr("shopledger.signin.middleware.NOTED", 24 * 3600)
    monkeypatch.setattr("shopledger.health.middleware.SLOW_MS", 10**9)

    def asked():
        found = {}
        for name, address in addresses.items():
            if name in {"sign-out", "health-verify"}:
                continue
            for _ in range(2):  # the second time nothing is asked once for all
                with CaptureQueriesContext(connection) as questions:
                    owner_client.get(address)
            found[name] = len(questions)
        return found

    few = asked()
    more_of_everything(bay, technician, office_client)
    many = asked()
    for name in ("month-end", "month-leave"):
        few[name] += 7  # a step that shows its first twelve counts the rest: once a step at most
    assert {name: (few[name], many[name]) for name in few if many[name] > few[name]} == {}


SHARES = 6  # the pages are dealt out, so that several workers have some, and each share sets up one shop


@pytest.mark.parametrize("share", range(SHARES))
def test_odd_input_never_breaks_a_page(addresses, share, owner, owner_client):
    before = posted().exclude(kind="seal").count()
    owner_client.raise_request_exception = False
    fields = (
        "text",
        "key",
        "day",
        "version",
        "container",
        "before",
        "after",
        "quantity",
        "action",
        "scale",
        "code",
        "codes",
        "note",
        "to_location",
        "grade",
        "gross",
        "first",
        "last",
        "by",
        "format",
        "column",
        "substance",
        "state",
        "kind",
        "digest",
        "since",
        "page",
        "sort",
        "supplier",
        "document",
        "line-TOTAL_FORMS",
        "line-INITIAL_FORMS",
        "line-0-kind",
        "line-0-net",
        "line-0-count",
        "reason-over",
        "vin",
        "year",
        "customer",
        "name",
        "username",
        "role",
        "expires",
        "charge_min_mg",
        "vacuum_said",
        "ambient_c",
        "purity_percent",
        "technician",
        "party",
    )
    for name in [name for name, _ in ALL if name != "sign-out"][share::SHARES]:
        with transaction.atomic():
            for odd in ODD:
                asked = dict.fromkeys(fields, odd[:800])  # all of them are then as long as the server takes an address
                sent = dict.fromkeys(fields, odd)
                for answer in (owner_client.get(addresses[name], asked), owner_client.post(addresses[name], sent)):
                    assert answer.status_code < 500, (name, odd[:20])
            assert posted().exclude(kind="seal").count() == before, name
            transaction.set_rollback(True)
        owner_client.force_login(owner)


def test_addresses_of_what_is_not_there_are_not_found(addresses, owner_client):
    for address in (
        "/jobs/999999/",
        "/ledger/99999999999999999999/",
        "/stock/containers/%00/",
        "/units/999999/",
        "/x/",
    ):
        assert owner_client.get(address).status_code in {400, 404}, address
