"""The demonstration shop: loaded once, whole, provable, and never into somebody's own ledger."""

import io

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from pypdf import PdfReader

from inventory.containers.models import Container
from inventory.ledger.models import Voucher
from inventory.ledger.verify import verify
from inventory.shop.models import Shop
from jobs.work.models import Job

pytestmark = pytest.mark.django_db


def demo():
    out = io.StringIO()
    call_command("demo", "--no-serve", stdout=out)
    return out.getvalue()


@pytest.fixture
def folder(settings, tmp_path):
    settings.DATA_DIR = tmp_path
    return tmp_path / "demo"


def test_it_loads_a_quarter_of_work_and_its_papers(folder):
    said = demo()
    assert "tara" in said and "password" in said
    assert Shop.objects.get().invented
    assert verify().faults == []
    kinds = set(Voucher.objects.values_list("kind", flat=True))
    assert kinds == {
        "opening", "receipt", "move", "decant", "job", "regrade", "count", "shipment", "retirement", "reversal",
    }  # fmt: skip
    assert Job.objects.filter(state="signed").count() > 50
    assert Job.objects.filter(state="draft").exists() and Job.objects.filter(revision=2, state="signed").exists()
    assert not Container.objects.filter(account__balance__lt=0).exists()
    papers = {path.name.split("-")[0]: PdfReader(path).pages[0].extract_text() for path in folder.glob("*.pdf")}
    assert "Invented shop, people and vehicles" in papers["job"] and "R-134a" in papers["usage"]


def test_it_does_not_load_twice_nor_into_another_ledger(folder):
    demo()
    count = Voucher.objects.count()
    assert "loaded already" in demo()
    assert Voucher.objects.count() == count


def test_it_refuses_a_database_that_holds_anything_else(folder):
    Shop.objects.create(id=1, name="Somebody's own")
    with pytest.raises(CommandError, match="holds something already") as refused:
        demo()
    assert refused.value.returncode == 1
    assert Voucher.objects.count() == 0
