"""Findings about records, labels, machines, and how containers end, with the pages on which each is mended. Which rule
says what is tried in tests/reference/law; here it is asked of what a shop entered."""

import datetime as dt
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from inventory.attachments.actions import attach
from inventory.containers.actions import regrade, relabel, retire
from inventory.containers.models import Container, Scale
from inventory.containers.rows import LABEL
from inventory.ledger.actions import writing
from inventory.ledger.models import Voucher
from inventory.ledger.verify import verify
from inventory.machines.actions import recycle
from inventory.machines.models import Machine
from inventory.parties.actions import supplier_called
from inventory.parties.models import Party
from inventory.receiving.actions import Arrival, open_stock, receive
from inventory.reference.rulebook import rulebook
from inventory.shipping.actions import ship
from inventory.shipping.sales import SaleSaid
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from jobs.drafts.actions import change_job, enter_line, start_job
from jobs.people.actions import add_certificate
from jobs.signing.actions import NotSignable, sign_job
from jobs.units.actions import add_unit
from shopledger.findings.queries import findings
from shopledger.reporting.report import Period
from shopledger.reports.disposals import rows as disposals
from tests.inventory.test_attachments import picture, uploads  # noqa: F401 (fixture)
from tests.kept import made, saved

pytestmark = pytest.mark.django_db
G = 1000
LB = 453_592.37
DAY = dt.date(2026, 3, 2)
YEAR = Period(dt.date(2026, 1, 1), dt.date(2026, 12, 31))


def key():
    return str(uuid.uuid4())


def of(rule, period=YEAR):
    return [one for one in findings(period) if one.rule == rule]


def one(rule, period=YEAR):
    (found,) = of(rule, period)
    return found


def under(name):
    saved(Shop.objects.get(), rulebook=name)


def line(code, kind="refillable", substance="R-134a", grade="virgin", net=9_000 * G, **more):
    return Arrival(kind, substance, False, grade, net, 1, "Store", code, tare_mg=8_000 * G, **more)


def delivery(*lines, day=DAY):
    return receive(lines=lines, supplier=supplier_called("Acme"), document=key(), day=day, by="o", key=key())


@pytest.fixture
def bench(shop):
    return made(Scale, code="bench", readability_mg=G, usual=True, checked_until=dt.date(2030, 1, 1))


def work(person, unit, *entries, day=DAY, reasons=(), **fields):
    job = start_job(unit=unit, technician=person, by=person, key=uuid.uuid4())
    change_job(job.pk, by=person, day=day, **fields)
    for action, code, grams in entries:
        enter_line(job.pk, by=person, key=uuid.uuid4(), action=action, container=code, quantity=grams * G)
    return sign_job(job.pk, by=person, reasons=dict.fromkeys(reasons, "test"))


# -- single-use containers ------------------------------------------------------------------------------


@pytest.fixture
def car(bench, technician, owner):
    add_certificate(by=owner, person=technician, scheme="M1", number="1", issued=dt.date(2025, 11, 1))
    return add_unit(by=technician, customer="Ada", plate="T-1", refrigerant="R-134a", charge_max_mg=600 * G)


def test_in_the_union_nothing_is_charged_from_a_disposable(car, technician):
    """Regulation (EU) 2024/573, article 11(3): refused at signing; what was done before is found."""
    open_stock(lines=[line("DSP", "disposable")], day=DAY, by="o", key=key())
    charge = ("charge", "DSP", 500)
    under("eu")
    with pytest.raises(NotSignable) as refused:
        work(technician, car, charge, reasons=["not-weighed-DSP"])
    (why,) = [one for one in refused.value.objections if one.key == "single-use-DSP"]
    assert why.refuses and why.verdict.is_refused and "11(3)" in why.citation and why.step == "charge"
    assert not of("single-use container"), "a refused job is no finding"
    under("us-federal")
    add_certificate(by=None, person=technician, scheme="609", number="9", issued=dt.date(2020, 1, 1))
    for day in (dt.date(2026, 3, 3), dt.date(2026, 3, 4)):
        work(technician, car, charge, reasons=["not-weighed-DSP", "used-DSP"], day=day)
    assert not of("single-use container"), "no federal rule forbids it"
    under("eu")
    found = one("single-use container")
    assert found.severity == "high" and "and 1 more of the period" in found.what and found.verdict.is_refused


def test_receiving_and_selling_a_disposable(bench):
    under("eu")
    delivery(line("DSP", "disposable"), line("HC", "can", "R-290", net=300 * G), line("CYL"))
    found = one("single-use container")
    assert found.severity == "medium" and found.what.startswith("DSP") and "must not be bought" in found.what
    made(Party, name="Ben", role="buyer", registration="C-1")
    sale = {"purpose": "sell", "party": Party.objects.get(name="Ben"), "sale": SaleSaid(end="use")}
    with pytest.raises(Refused, match="must not be handed on"):
        ship(parcels={"DSP": None}, document="S", day=DAY, by="o", key=key(), **sale)
    saved(Shop.objects.get(), rulebook="us-federal")
    assert not of("single-use container")


# -- labels ---------------------------------------------------------------------------------------------


def test_an_own_recycled_cylinder_says_recycled(bench, office_client):
    """Regulation (EU) 2024/573, article 12(7)."""
    delivery(line("OWN", grade="recovered"), line("MAC", "machine", grade="recovered"))
    regrade(code="OWN", grade="recycled", day=DAY, by="o", key=key(), note="in the machine")
    assert not of("container label"), "common practice asks for none"
    under("eu")
    found = one("container label")
    assert (found.severity, found.citation) == ("medium", "Regulation (EU) 2024/573, article 12(7)")
    assert found.what.startswith("OWN: ") and found.where == "/stock/containers/OWN/"
    page = office_client.get(found.where).content.decode()
    assert "does not say that it is recycled or reclaimed" in page
    assert "one that is filled again is labelled again" in page, "a duty in words"
    relabel(code="OWN", label={**LABEL, "label_says": "recycled"})
    assert not of("container label")


def test_reclaimed_gas_without_the_statement_is_a_finding_of_low_weight(bench):
    """40 CFR 84.112(c)."""
    under("us-federal")
    said = {"label_says": "reclaimed", "batch": "7", "facility": "Renew, 3 Road"}
    delivery(line("A", grade="reclaimed", **said), day=dt.date(2026, 3, 10))
    delivery(line("B", grade="reclaimed", label_statement=True, **said), day=dt.date(2026, 3, 10))
    delivery(line("C", grade="reclaimed", **said), day=dt.date(2025, 12, 31))
    found = one("container label")
    assert found.severity == "low" and found.what.startswith("A: ") and "84.112" in found.citation


# -- how containers end ---------------------------------------------------------------------------------


def test_what_was_left_in_a_scrapped_cylinder_is_found(bench):
    """Regulation (EU) 2024/573, article 8(7)."""
    under("eu")
    delivery(*(line(code, net=400 * G) for code in ("A", "B")), line("INTO"))
    retire(codes=["A"], residue_into="", day=DAY, by="o", key=key())
    retire(codes=["B"], residue_into="INTO", day=DAY, by="o", key=key())
    found = one("container disposal")
    assert found.what.startswith("A, voucher") and "400 g" in found.what and "8(7)" in found.citation


@pytest.fixture
def later(monkeypatch):
    """A day on which 40 CFR 84.116 applies."""
    rooms = ("containers.actions", "containers.views", "containers.placing", "shop.days", "shop.forms")
    for module in rooms:
        monkeypatch.setattr(f"inventory.{module}.today", lambda: dt.date(2028, 1, 3), raising=False)


def test_from_2028_on_the_form_asks_where_a_disposable_went(bench, later, office_client):
    under("us-federal")
    delivery(*(line(f"D{n}", "disposable", net=0) for n in range(4)), line("CAN", "can", net=0))
    assert "taken_by" not in office_client.get("/stock/retire/?codes=CAN").content.decode()
    page = office_client.get("/stock/retire/?codes=D0").content.decode()
    assert "Taken over by" in page and "15 inHg" in page and "to be confirmed with the authority" in page
    reclaimer = made(Party, name="Renew", role="reclaimer")
    sent = {"day": "2028-01-03"}
    for code, more in (("D0", {}), ("D1", {"taken_by": reclaimer.pk}), ("D2", {"statement": "on"}), ("CAN", {})):
        form = {**sent, **more, "key": key(), "codes": [code]}
        assert office_client.post("/stock/retire/", form).status_code == 302
    retire(codes=["D3"], residue_into="", day=dt.date(2027, 12, 31), by="o", key=key())
    found = of("container disposal", Period(dt.date(2027, 1, 1), dt.date(2028, 12, 31)))
    assert [one.what.partition(",")[0] for one in found] == ["D0"]
    voucher = Voucher.objects.filter(kind="retirement").get(detail__contains=reclaimer.code)
    shown = office_client.get(f"/ledger/{voucher.number}/").content.decode()
    assert "Taken over by" in shown and "Renew" in shown
    again = office_client.get(f"/ledger/{voucher.number}/correct/").content.decode()
    assert f'<option value="{reclaimer.pk}" selected>' in again
    assert verify().faults == []


# -- machines -------------------------------------------------------------------------------------------


@pytest.fixture
def machine(bench):
    under("us-federal")
    return made(Machine, make="Quillon", model="R1", serial="7", standards="SAE J2788", used_on="vehicles")


def test_a_machine_is_used_on_the_refrigerant_of_its_standard(machine):
    """40 CFR 82.36(a)."""
    delivery(line("A", grade="recovered"), line("Y", substance="R-1234yf", grade="recovered"))
    for code in ("A", "Y"):
        recycle(code=code, machine=machine, standard="SAE J2788", day=DAY, by="o", key=key())
    found = one("machine")
    assert found.severity == "medium" and "R-1234yf" in found.what and "82.36(a)" in found.citation
    saved(machine, standards="sae j2788, SAE J3030")
    assert not of("machine")
    saved(machine, standards="SAE J2788", used_on="other")
    assert not of("machine")
    saved(machine, used_on="")
    found = one("machine")
    assert found.severity == "low" and "say whether it is used on vehicles" in found.what


def test_what_went_into_a_machines_own_tank_counts_too(machine, technician, owner):
    tank = line("MAC", "machine", net=0, substance="R-1234yf", grade="recycled")
    open_stock(lines=[tank], day=DAY, by="o", key=key())
    saved(machine, container=Container.objects.get(code="MAC"))
    add_certificate(by=owner, person=technician, scheme="609", number="1", issued=dt.date(2020, 1, 1))
    unit = add_unit(by=technician, customer="Ada", plate="T-1", refrigerant="R-1234yf", charge_max_mg=600 * G)
    signed = work(technician, unit, ("recover", "MAC", 300))
    found = one("machine")
    assert f"voucher {signed.voucher_id}" in found.what and "recycle R-1234yf" in found.what
    under("eu")
    assert not of("machine")


def test_the_owners_statement_about_a_machine(machine, uploads, office_client):  # noqa: F811
    """40 CFR 82.42(a)(1)."""
    found = one("machine statement")
    assert found.severity == "medium" and "the day it was made" in found.what and "82.42(a)(1)" in found.citation
    page = office_client.get(f"/machines/{machine.pk}/").content.decode()
    assert "Statement to the authority" in page and "is without" in page
    saved(
        machine,
        made_on=dt.date(2025, 1, 1),
        statement_by="Olive",
        statement_sent_on=DAY,
        statement_to="Region 8",
        statement_copy=True,
    )
    assert "is without a copy of the statement" in one("machine statement").what, "no file is there"
    attach(subject=f"machine:{machine.pk}", upload=SimpleUploadedFile("s.png", picture("PNG")), by="o")
    assert not of("machine statement")
    made(Machine, make="Stationary", model="S", serial="8", used_on="other")
    made(Machine, make="Gone", model="S", serial="9", used_on="vehicles", retired_on=DAY)
    assert not of("machine statement"), "of 608 equipment nothing is filed"
    made(Machine, make="Unsaid", model="S", serial="10")
    assert one("machine statement").severity == "low"


def test_the_form_of_a_machine_keeps_what_the_statement_says(shop, office_client):
    form = {"make": "Quillon", "model": "R1", "serial": "7", "does": "recycle", "used_on": "vehicles"}
    form |= {"standards": "SAE J2788, SAE J3030", "statement_sent_on": "2026-03-02", "statement_to": "Region 8"}
    assert office_client.post("/machines/new/", form).status_code == 302
    kept = Machine.objects.get()
    assert kept.met == {"SAE J2788", "SAE J3030"} and kept.equipment == ["vehicle"]
    assert "sent on" in office_client.get(f"/machines/{kept.pk}/").content.decode() and verify().faults == []


# -- records --------------------------------------------------------------------------------------------


@pytest.fixture
def chiller(bench, technician, owner):
    under("eu")
    add_certificate(by=owner, person=technician, scheme="A1", number="1", issued=dt.date(2025, 11, 1))
    unit = add_unit(by=technician, customer="Ada", name="Chiller", refrigerant="R-410A", charge_max_mg=10_000 * G)
    return saved(unit, kind="stationary", use="chiller")


def test_reclaimed_gas_names_its_facility_in_the_record(chiller, technician):
    """Regulation (EU) 2024/573, article 7(1)(d)."""
    said = {"label_says": "reclaimed", "batch": "7"}
    delivery(line("A", substance="R-410A", grade="reclaimed", facility="Renew, 3 Road", **said))
    delivery(line("B", substance="R-410A", grade="reclaimed", **said))
    work(technician, chiller, ("charge", "A", 500), reasons=["not-weighed-A", "under"])
    assert not of("record")
    work(technician, chiller, ("charge", "B", 500), reasons=["not-weighed-B", "under"])
    found = one("record")
    assert found.severity == "medium" and "name and address of the facility" in found.what
    assert "7(1)(d)" in found.citation and found.verdict.is_breach


def test_a_job_without_certificate_is_an_incomplete_record(chiller, technician):
    """Regulation (EU) 2024/573, article 7(1)(e)."""
    delivery(line("A", substance="R-410A"))
    signed = work(technician, chiller, ("charge", "A", 500), reasons=["not-weighed-A", "under"])
    assert not of("record")
    with writing():
        technician.certificates.all().delete()
    type(signed).objects.filter(pk=signed.pk).update(certificate="")
    assert "the number of the certificate" in one("record").what and "7(1)(e)" in one("record").citation


def test_the_log_of_disposals_has_each_unit_and_the_months_total(bench, technician, owner, owner_client):
    """40 CFR 82.156(a)(3): more than 5 lb and less than 50 lb, no car; two of 8 lb and 12 lb are 20 lb in June."""
    under("us-federal")
    for scheme in ("609", "608 Universal"):
        add_certificate(by=owner, person=technician, scheme=scheme, number="1", issued=dt.date(2020, 1, 1))
    recovery = Arrival("recovery", "R-22", False, "recovered", 0, 1, "Store", "REC", tare_mg=8_000 * G)
    open_stock(lines=[recovery], day=dt.date(2026, 5, 1), by="o", key=key())
    for pounds, day in ((8, dt.date(2026, 6, 2)), (12, dt.date(2026, 6, 28)), (5, dt.date(2026, 6, 29))):
        unit = add_unit(by=technician, customer="Ada", name=f"Unit {pounds}", refrigerant="R-22")
        unit = saved(unit, kind="stationary", exactly="refrigeration", charge_nominal_mg=round(pounds * LB))
        work(technician, unit, ("recover", "REC", round(pounds * LB / G)), day=day, recover_why="disposal")
    table = disposals(YEAR, None)
    said = [(row[1] if "total" in row[1] else str(row[3]), row[6], row[7]) for row in table.rows]
    eight, twelve, five = (round(pounds * LB / G) * G for pounds in (8, 12, 5))
    assert [row[1:] for row in said] == [
        (eight, "yes"),
        (twelve, "yes"),
        (five, "no"),
        (eight + twelve, "yes"),
    ]
    assert said[-1][0] == "total of 2026-06" and abs(said[-1][1] - 20 * LB) < 1000
    found = of("record")
    assert len([one for one in found if "Appliances disposed of" in one.what]) == 2, "nobody knows where they stood"
    assert all("where it stands" in one.what for one in found)
    page = owner_client.get("/reports/disposals/?first=2026-01-01&last=2026-12-31").content.decode()
    assert "total of 2026-06" in page and "In the log" in page


def test_duties_stand_on_the_pages_they_are_about(shop, owner_client, office_client):
    under("us-federal")
    assert "An EPA representative with credentials is let in" in owner_client.get("/inspectors/").content.decode()
    under("eu")
    assert "Checks come unannounced" in owner_client.get("/inspectors/").content.decode()
    assert "for destruction only" in office_client.get("/leaving/").content.decode()
    pages = {duty.page for name in ("eu", "australia", "us-federal") for duty in rulebook(name).sections["duty"]}
    assert {"inspectors", "shipping", "receiving", "unit", "container", "people", "machines"} >= pages
