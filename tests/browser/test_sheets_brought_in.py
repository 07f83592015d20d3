"""Somebody new brings in an old stock sheet and an old job sheet, as they were kept; every decision is counted."""

import datetime as dt

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.support.select import Select

from inventory.containers.models import Container, Scale
from inventory.measures.quantity import parse_mass
from jobs.drafts.models import Job
from jobs.people.actions import add_person
from tests.browser import driving
from tests.kept import made
from tests.sheets.files import Formula, Page, xlsx
from tests.stock import came, delivery

pytestmark = pytest.mark.django_db(transaction=True)
MOST = 12  # decisions by somebody new, for each sheet


@pytest.fixture
def shop_with_people(shop, office, owner, settings, tmp_path):
    settings.DATA_DIR = tmp_path / "data"
    made(Scale, code="shop scale", readability_mg=1000, usual=True)
    for username, name in (("tara", "Tara Quill"), ("timo", "Timo Brandt")):
        add_person(by=None, username=username, name=name, role="technician")
    cylinder = came("CYL-9001", net=parse_mass("60 kg"), location="Store")
    recovery = came("REC-9001", "recovery", location="Store")
    delivery(cylinder, recovery, day=dt.date(2025, 12, 1))


def stock_sheet(path):
    page = Page("Lager")
    page.put(0, 0, "Kältemittelbestand der Werkstatt")
    page.merged.append((0, 0, 0, 5))
    for column, head in enumerate(
        ("Flaschennr.", "Kältemittel", "Gebinde", "Anzahl", "Gewicht", "Lagerort", "Bemerkung")
    ):
        page.put(2, column, head)
    rows = [
        (None, "R134a", "Dose", 12, 0.34, "Hauptlager", "Palette links"),
        ("FL-7", "R 134", "Flasche", 1, 4.5, "hauptlager", None),
        ("FL-8", "R1234yf", "Flasche", 1, 2.75, "Hauptlagr", "neu"),
        (None, "R1234yf", "Dose", 6, 0.25, "Bus 1", None),
    ]
    for row, cells in enumerate(rows, 3):
        for column, value in enumerate(cells):
            page.put(row, column, value)
    page.put(7, 0, "Summe")
    page.put(7, 4, Formula("=SUM(E4:E7)", 7.84))
    page.put(9, 0, "geprüft: Tess")
    path.write_bytes(xlsx([page]))
    return path


def job_sheet(path):
    path.write_text(
        "Jobs 2026;;;;;;\n;;;;;;\nRO number;Date;Mechanic;Customer;License plate;Refrigerant;Recovered;Amount charged\n"
        "A-1;02/03/2026;Tara;Harbour Bakery;EX 1;R134a;120;480\nA-2;03/03/2026;TB;harbour bakery;EX 2;R134a;;510\n"
        "A-3;05/03/2026;Timo;Fjordview Hotel;EX 3;R134a;90;1,050\nTotal;;;;;;210;2,040\n",
        encoding="utf-8",
    )
    return path


class Person:
    """Drives the pages and counts what had to be decided: a choice, an answer, a button."""

    def __init__(self, driver, live_server):
        self.driver, self.live_server, self.decisions = driver, live_server, []

    def send(self, kind, path):
        self.driver.get(f"{self.live_server.url}/sheets/")
        self.press(f"input[name=kind][value={kind}]", f"kind {kind}")
        self.driver.find_element(By.NAME, "file").send_keys(str(path))
        self.decisions.append("the file")
        self.driver.find_element(By.CSS_SELECTOR, "main form button.primary").click()
        driving.wait_for(self.driver, "#sheet")

    def press(self, selector, called):
        self.driver.execute_script("arguments[0].click()", self.driver.find_element(By.CSS_SELECTOR, selector))
        self.decisions.append(called)

    def answer(self, known):
        """Answer every open question; known: by the beginning of its id."""
        asked = self.driver.find_elements(By.CSS_SELECTOR, "section[aria-labelledby=asked] .field")
        for field in asked:
            id = field.find_element(By.CSS_SELECTOR, "input[type=hidden]").get_attribute("value")
            value = next((answer for start, answer in known.items() if id.startswith(start)), None)
            assert value is not None, f"nobody knows: {id}: {field.text[:200]}"
            self.decisions.append(f"{id}: {value}")
            chooses = field.find_elements(By.TAG_NAME, "select")
            if chooses:
                Select(chooses[0]).select_by_value(value)
            else:
                box = field.find_element(By.CSS_SELECTOR, "input:not([type=hidden])")
                self.driver.execute_script("arguments[0].value = arguments[1]", box, value)
        count = len(asked)
        self.driver.execute_script("document.getElementById('sheet').dataset.before = 'yes'")
        self.driver.find_element(By.CSS_SELECTOR, "section[aria-labelledby=asked] button.primary").click()
        driving.wait_for(self.driver, "#sheet:not([data-before])")
        assert count

    def until_ready(self, known):
        for _ in range(4):
            driving.wait_for(self.driver, "[aria-labelledby=asked], [aria-labelledby=will], [aria-labelledby=wrong]")
            if not self.driver.find_elements(By.CSS_SELECTOR, "[aria-labelledby=asked]"):
                break
            self.answer(known)
        assert self.driver.find_elements(By.CSS_SELECTOR, "[aria-labelledby=will]"), self.driver.find_element(
            By.ID, "sheet"
        ).text[:900]

    def post(self):
        self.press("[aria-labelledby=will] button.primary", "post it")
        driving.wait_for_text(self.driver, "The sheet was posted")


def test_somebody_new_brings_in_a_stock_sheet_and_a_job_sheet(desk, live_server, shop_with_people, office, tmp_path):
    driving.sign_in(desk, live_server, office)
    new = Person(desk, live_server)
    new.send("stock", stock_sheet(tmp_path / "Lager.xlsx"))
    driving.shot(desk, "sheet-asked")
    answers = {
        "column:": "net",
        "gas:": "R-134a",
        "kind:flasche": "refillable",
        "unit:": "kg",
        "each:": "each",
        "date": "2026-01-05",
        "same:": "yes",
    }
    new.until_ready(answers)
    driving.shot(desk, "sheet-will")
    new.post()
    found = {
        (one.kind, one.substance.code, one.content, one.location.name)
        for one in Container.objects.exclude(code__endswith="9001")
    }
    assert found == {
        ("can", "R-134a", 340_000, "Hauptlager"),
        ("refillable", "R-134a", 4_500_000, "Hauptlager"),
        ("refillable", "R-1234yf", 2_750_000, "Hauptlager"),
        ("can", "R-1234yf", 250_000, "Bus 1"),
    }
    assert Container.objects.exclude(code__endswith="9001").count() == 20
    stock = list(new.decisions)
    print(f"stock sheet: {len(stock)} decisions: {stock}")

    new.decisions = []
    new.send("jobs", job_sheet(tmp_path / "jobs.csv"))
    driving.shot(desk, "sheet-jobs-asked")
    answers = {
        "column:": "job",
        "order:": "day",
        "unit:": "g",
        "who:": "timo",
        "container:": "CYL-9001",
        "into:": "REC-9001",
        "mark:": "thousands",
    }
    new.until_ready(answers)
    driving.shot(desk, "sheet-jobs-will")
    new.post()
    assert {
        job.number: (job.day, job.technician.username, job.charged_mg, job.recovered_mg) for job in Job.objects.all()
    } == {
        "A-1": (dt.date(2026, 3, 2), "tara", 480_000, 120_000),
        "A-2": (dt.date(2026, 3, 3), "timo", 510_000, 0),
        "A-3": (dt.date(2026, 3, 5), "timo", 1_050_000, 90_000),
    }
    jobs = list(new.decisions)
    print(f"job sheet: {len(jobs)} decisions: {jobs}")
    assert len(stock) <= MOST and len(jobs) <= MOST


def test_the_page_fits_a_phone_and_a_column_is_put_right_at_once(
    phone, live_server, shop_with_people, office, tmp_path
):
    """By pointing at the column's head alone: the page answers without a button."""
    driving.sign_in(phone, live_server, office)
    path = tmp_path / "Store.csv"
    path.write_text(
        "Code;Gas;Type;Net (g);Remarks;Date\nC-1;R134a;can;340;Van 1;2026-01-05\nC-2;R134a;can;-5;Van 1;2026-01-05\n"
    )
    new = Person(phone, live_server)
    new.send("stock", path)
    driving.wait_for(phone, "[aria-labelledby=wrong]")
    driving.shot(phone, "sheet-wrong-phone")
    assert driving.overflow(phone) == 0 and driving.console_errors(phone) == []
    phone.execute_script("document.getElementById('sheet').dataset.before = 'yes'")
    driving.act_on(phone, "select[name=column-4]", lambda one: Select(one).select_by_value("location"))
    driving.wait_for(phone, "#sheet:not([data-before]) [aria-labelledby=wrong]")
    assert "Van 1" in phone.find_element(By.ID, "sheet").text
    phone.execute_script("document.getElementById('sheet').dataset.before = 'yes'")
    row = "arguments[0].value = '2'; arguments[0].dispatchEvent(new Event('change', {bubbles: true}))"
    driving.act_on(phone, "#last-row", lambda one: phone.execute_script(row, one))
    driving.wait_for(phone, "#sheet:not([data-before]) [aria-labelledby=will]")
    driving.wait_for_text(phone, "1 container with 340")
    driving.shot(phone, "sheet-will-phone")
