"""Reports of money: what they add up to, the same on page and paper and beside other pages."""

import csv
import datetime as dt
import io
import re
from decimal import Decimal

import pytest
from django.urls import reverse
from openpyxl import load_workbook
from pypdf import PdfReader

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
