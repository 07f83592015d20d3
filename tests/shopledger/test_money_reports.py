"""Reports of money: what they add up to, the same on page and paper and beside other pages."""

import csv
import datetime as dt
import io
import re
import uuid
from decimal import Decimal

import pytest
from django.urls import reverse
from openpyxl import load_workbook
from pypdf import PdfReader

from inventory.buying.actions import Billed, InvoiceSaid, enter_invoice
from inventory.parties.models import Party
from tests.stock import came, charge, delivery

pytestmark = pytest.mark.django_db
G = 1000


def on(day):
    return dt.date(2026, 3, day)


@pytest.fixture
def cents(shop):
    """Of two grades 200 g each are left of a kilogram at 0.07: 0.014 each."""
    for code, grade in (("A", "virgin"), ("B", "recycled")):
        delivery(came(code, net=1_000 * G, grade=grade, tare_mg=500 * G, price_minor=7), day=on(2))
        charge(code, quantity=800 * G, day=on(3))


def asked(client, name, **more):
    return client.get(reverse("report", args=[name]), {"first": on(1), "last": on(31), **more})


def test_what_the_stock_is_worth_is_the_sum_of_its_rows_everywhere(cents, office_client):
    rows = list(csv.DictReader(io.StringIO(asked(office_client, "value", format="csv").content.decode())))
    assert [(row["grade"], row["held"], row["value"]) for row in rows] == [
        ("recycled", "200.000", "0.01"),
        ("virgin", "200.000", "0.01"),
    ]
    whole = sum(Decimal(row["value"]) for row in rows)
    page = asked(office_client, "value").content.decode()
    (foot,) = re.findall(r"<tfoot>(.*?)</tfoot>", page, re.DOTALL)
    assert re.findall(r">\s*([^<>\s][^<>]*?)\s*<", foot) == ["In all", str(whole)]
    paper = PdfReader(io.BytesIO(asked(office_client, "value", format="pdf").content)).pages[0].extract_text()
    assert re.search(r"In all\s+0\.02\b", paper)
    assert "In stock: 0.02" in office_client.get(reverse("costs")).content.decode(), "the two agree to the last cent"
    book = load_workbook(io.BytesIO(asked(office_client, "value", format="xlsx").content))
    assert book.worksheets[0].max_row == 3, "a sum in a file would be counted twice"


def test_where_nothing_is_held_nothing_is_summed_up(shop, office_client):
    assert "<tfoot>" not in asked(office_client, "value").content.decode()


def test_what_suppliers_billed_adds_up_and_each_statement_agrees(shop, office_client):
    """Page, paper and file of each supplier, and the report of all."""
    for name, price in (("Boreal", 1_005), ("Austral", 20_000)):
        line = came(f"{name[0]}-1", net=1_000 * G, tare_mg=500 * G, price_minor=price, deposit_minor=5_000)
        delivery(line, supplier=name, day=on(2))
        charge(f"{name[0]}-1", quantity=100 * G, day=on(3))
    billed = Billed("other", 3, 333, called="pallet")
    said = InvoiceSaid(Party.objects.get(name="Boreal"), "invoice", "I-1", on(4), [billed], 999)
    enter_invoice(said=said, by="oscar", key=uuid.uuid4())
    rows = list(csv.DictReader(io.StringIO(asked(office_client, "suppliers", format="csv").content.decode())))
    sums = {name: sum(Decimal(row[name]) for row in rows) for name in ("billed", "not_billed", "deposits_after")}
    assert sums == {"billed": Decimal("9.99"), "not_billed": Decimal("210.05"), "deposits_after": Decimal("100.00")}
    page = asked(office_client, "suppliers").content.decode()
    (foot,) = re.findall(r"<tfoot>(.*?)</tfoot>", page, re.DOTALL)
    cells = re.findall(r'data-label="([^"]+)"[^>]*>\s*([^<]+?)\s*<', foot)
    assert dict(cells) | {"Supplier": "In all"} == dict(cells)
    assert (dict(cells)["Came, not billed"], dict(cells)["Deposits after"]) == ("210.05", "100.00")
    for row in rows:
        pk = Party.objects.get(code=row["supplier"]).pk
        paper = office_client.get(reverse("statement", args=[pk]), {"month": "2026-03", "export": "pdf"}).content
        text = re.sub(r"\s+", " ", PdfReader(io.BytesIO(paper)).pages[0].extract_text())
        assert f"In all {row['not_billed']} USD" in text
        assert f"Billed less credited {row['billed']} USD" in text
