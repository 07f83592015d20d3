"""What pages say once: a unit beside its figure, a sentence that ends, what a figure leaves out."""

import pytest
from django import forms
from django.template.loader import render_to_string
from django.urls import reverse

from inventory.shop.clock import today
from tests.stock import came, delivery

pytestmark = pytest.mark.django_db
G = 1000


def test_the_usage_page_has_no_column_of_units_that_its_figures_contradict(shop, office_client):
    """27.000 kg stood beside the unit g. Files keep the column: their figures are bare."""
    delivery(came("CYL-1", net=27_000 * G, grade="virgin", tare_mg=9_000 * G), day=today(), document="A-1")
    page = office_client.get(reverse("report", args=["usage"]))
    titles = [column.title for column in page.context["shown"].columns]
    assert "Received" in titles and "Unit" not in titles
    file = office_client.get(reverse("report", args=["usage"]), {"format": "csv"})
    assert b"unit" in b"".join(file).splitlines()[0].split(b",")


def test_a_fault_at_a_label_that_is_a_sentence_is_not_joined_to_it_by_a_colon():
    class Sure(forms.Form):
        sure = forms.BooleanField(label="A seal cannot be undone.", error_messages={"required": "Tick this."})
        name = forms.CharField(error_messages={"required": "Write it."})

    page = render_to_string("_errors.html", {"form": Sure({})})
    assert ">Tick this.<" in page and ">Name: Write it.<" in page


def test_the_need_says_what_its_stock_leaves_out(shop, office_client):
    assert "what was only recovered does not count" in " ".join(
        office_client.get(reverse("need")).content.decode().split()
    )
