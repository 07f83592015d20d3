"""The demonstration shop: loaded once, whole, provable, and never into somebody's own ledger."""

import datetime as dt
import io
import re
import socket
from decimal import Decimal

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection
from pypdf import PdfReader

from inventory.containers.models import Container, Location, Weighing
from inventory.ledger.accounts import PARTIES
from inventory.ledger.canonical import genesis
from inventory.ledger.chain import links
from inventory.ledger.models import Account, ChainHead, Record, Voucher
from inventory.ledger.queries import head
from inventory.ledger.verify import verify
from inventory.parties.models import Party
from inventory.shop.clock import today
from inventory.shop.models import Shop
from jobs.drafts.models import Job, JobLine
from jobs.people.models import Certificate, Person
from jobs.units import vin
from jobs.units.actions import add_customer
from jobs.units.models import Customer, Unit
from shopledger.demo.cast import PASSWORD, invented_vin
from shopledger.demo.shop import Story
from shopledger.reporting.periods import quarter
from shopledger.reporting.report import Period
from shopledger.reports.registry import REPORTS
from tests.kept import made, unguarded
from tests.shopledger.test_recompute import recomputed

pytestmark = pytest.mark.django_db
TAKEN = (
    "charged",
    "sold",
    "line_loss",
    "heel_loss",
    "other_loss",
    "returned",
    "reclaimed",
    "destroyed",
    "unexplained_loss",
    "reclassified_out",
)


def demo(*more):
    out = io.StringIO()
    call_command("demo", "--no-serve", *more, stdout=out)
    return out.getvalue()


@pytest.fixture
def folder(settings, tmp_path):
    settings.DATA_DIR = tmp_path
    return tmp_path / "demo"


def unexplained() -> list[tuple[int, str]]:
    found = Weighing.objects.filter(outcome__startswith="unexplained").order_by("difference")
    return list(found.values_list("difference", "container__kind"))


def usage() -> dict[str, dict[str, Decimal]]:
    sheet = REPORTS["usage"].rows(quarter(Voucher.objects.get(kind="opening").day), None)
    names = [column.name for column in sheet.columns]
    return {row[0]: dict(zip(names[2:], map(Decimal, row[2:]), strict=True)) for row in sheet.said()}


def test_it_loads_a_quarter_of_work_and_its_papers_once(folder, client):
    said = demo()
    assert Shop.objects.get().invented
    assert verify().faults == []
    assert recomputed()[0] == Voucher.objects.count()
    assert not Container.objects.filter(account__balance__lt=0).exists()
    kinds = set(Voucher.objects.values_list("kind", flat=True))
    assert kinds == {
        "opening",
        "taking-in",
        "found",
        "identification",
        "receipt",
        "move",
        "decant",
        "job",
        "regrade",
        "count",
        "shipment",
        "retirement",
        "reversal",
        "record",
    }
    papers = {path.name.split("-")[0]: path for path in folder.glob("*.pdf")}
    words = {name: PdfReader(path).pages[0].extract_text() for name, path in papers.items()}
    assert "Corrects revision 1 because" in words["job"] and "Invented shop, people and vehicles" in words["job"]
    assert "R-134a" in words["usage"] and all(str(path) in said for path in papers.values())
    for username in ("tara", "timo", "tess", "otto", "olga"):
        assert username in said and client.login(username=username, password=PASSWORD)
    _what_the_story_tells()
    _the_report_balances()
    _what_is_none_of_its_stock()
    _raw_refrigerant_never_goes_into_what_was_recycled()
    _no_text_of_its_chain_holds_a_name_of_a_customer_or_partner()
    count = Voucher.objects.count()
    assert "loaded already" in demo()
    assert Voucher.objects.count() == count


def _what_the_story_tells() -> None:
    """What a visitor is to find, and nothing that came about by accident."""
    assert Job.objects.filter(state="signed").count() == 68
    assert list(Job.objects.exclude(reasons={}).values_list("state", flat=True)) == ["signed"]
    assert Job.objects.filter(revision=2, state="signed").count() == 1
    half = Job.objects.get(state="draft")
    weighed = list(half.lines.filter(action="charge").order_by("position").values_list("after", flat=True))
    assert (half.day, half.technician.username, weighed) == (today(), "tara", [102_000, None])
    assert unexplained() == [(-265_000, "refillable"), (-14_000, "can")]
    assert Certificate.objects.get(expires__isnull=False).expires - today() == dt.timedelta(30)
    assert set(Container.objects.values_list("location__name", flat=True)) == {"Store", "Bay", "Van", "Van 2"}
    put_into = Job.objects.filter(lines__action="recover").values_list("lines__container__kind", flat=True).distinct()
    assert set(put_into) >= {"recovery", "machine"}
    assert Container.objects.filter(kind="can", retired_on__isnull=False).count() > 20
    single = Container.objects.filter(kind__in=["can", "disposable"]).exclude(grade="virgin")
    assert not single.exists()
    for unit in Unit.objects.exclude(vin=""):
        assert unit.vin.startswith("ZZZDEM") and vin.warnings(unit.vin, unit.year) == []
    assert Party.objects.get(role="reclaimer").registration


def _the_report_balances() -> None:
    found = usage()
    assert set(found) == {"R-1234yf", "R-134a", "R-404A", "PAG 100", "PAG 46", "POE 68"}
    for row in found.values():
        closing = row.pop("closing")
        assert closing == sum(row.values()) - 2 * sum(row[name] for name in TAKEN)
    assert found["R-134a"]["unexplained_loss"] == 279 and found["R-134a"]["reclaimed"] > 1000
    assert found["R-134a"]["heel_loss"] > 0 and found["R-1234yf"]["line_loss"] > 0


def _what_is_none_of_its_stock() -> None:
    """A van of one person, a customer's own gas used at their own vehicle, one cylinder that was found and identified,
    one that is held: each is on its page and in its report."""
    van = Location.objects.exclude(keeper="").get()
    held = list(van.containers.filter(retired_on=None).values_list("code", flat=True))
    assert (van.name, van.keeper, held) == ("Van 2", "timo", ["CYL-0011", "CYL-0012"])
    own = Container.objects.select_related("account").get(code="OWN-0001")
    lines = JobLine.objects.filter(container=own, action="charge")
    assert {line.job.unit.customer.code for line in lines} == {own.kept_for}
    period = Period(Voucher.objects.get(kind="opening").day, today())
    shown = {name: [row[0] for row in REPORTS[name].rows(period, None).rows] for name in ("apart", "containers")}
    assert shown["apart"] == ["FND-0002", "OWN-0001"] and "FND-0001" in shown["containers"]
    [kept] = REPORTS["kept"].rows(period, None).rows
    assert 0 < kept[-1] == own.content and len(REPORTS["apart-variances"].rows(period, None).rows) == 3
    assert usage()["R-134a"]["found"] == 2_220
    assert list(Container.objects.filter(unknown=True).values_list("code", flat=True)) == ["FND-0002"]


def _raw_refrigerant_never_goes_into_what_was_recycled() -> None:
    """The cylinder that was recycled is charged from afterwards, and another takes what is recovered."""
    day = Voucher.objects.get(kind="regrade").day
    lines = JobLine.objects.filter(job__substance="R-1234yf")
    into = lines.filter(action="recover", job__day__gt=day)
    assert set(into.values_list("container__code", flat=True)) == {"REC-0003"}
    out = lines.filter(action="charge", container__code="REC-0002")
    assert out.exists() and not out.filter(job__day__lt=day).exists()


def _no_text_of_its_chain_holds_a_name_of_a_customer_or_partner() -> None:
    number, _ = head()
    texts = [link.text for link in links(1, number)]
    customers = list(Customer.objects.values_list("name", flat=True))
    names = {*Party.objects.values_list("name", flat=True), *customers}
    names |= {part for name in customers for part in name.split() if len(part) > 4}  # family names alone, too
    assert len(texts) == number > 80 and len(names) > 24
    whole = "\n".join(texts).casefold()
    assert not [name for name in names if re.search(rf"\b{re.escape(name.casefold())}(?!\w)", whole)]
    served = Customer.objects.filter(units__in=Job.objects.exclude(voucher=None).values("unit")).distinct()
    for record in (*Party.objects.all(), *served):
        assert f'"{record.code.casefold()}"' in whole, record
    at_parties = Account.objects.filter(cls__in=PARTIES).values_list("name", flat=True)
    assert set(at_parties) == set(Party.objects.values_list("code", flat=True))


@pytest.mark.parametrize("day", [dt.date(2026, 4, 1), dt.date(2024, 2, 29)])
def test_the_story_is_the_same_on_any_day(shop, day):
    """The first of a quarter leaves it the fewest days; a Sunday or a leap day changes nothing in it."""
    with unguarded():
        Shop.objects.all()._raw_delete("default")
        Record.objects.all()._raw_delete("default")
        Voucher.objects.all()._raw_delete("default")
        ChainHead.objects.update(number=0, digest=genesis(ChainHead.objects.get().ledger_id), rulebook="")
    Story(day).tell()
    assert verify().faults == []
    assert unexplained() == [(-265_000, "refillable"), (-14_000, "can")]
    assert usage()["R-134a"]["unexplained_loss"] == 279  # all of it within the first quarter
    assert Container.objects.get(code="CYL-0002").content == 2_065_000
    assert not Job.objects.filter(day__week_day=1).exclude(state="draft").exists()


@pytest.mark.parametrize(
    "make",
    [
        lambda: made(Shop, id=1, name="Somebody's own"),
        lambda: Person.objects.create_superuser("anna", name="Anna"),
        lambda: add_customer(by=None, name="Ada Example"),
        lambda: made(Party, name="Acme", role="supplier"),
    ],
)
def test_it_refuses_a_database_that_holds_anything_else(folder, make):
    make()
    with pytest.raises(CommandError, match="holds something already") as refused:
        demo()
    assert refused.value.returncode == 1
    assert (
        set(Voucher.objects.values_list("kind", flat=True)) <= {"record"}
        and not Shop.objects.filter(invented=True).exists()
    )


def test_it_makes_no_table_in_a_database_of_something_else(folder, monkeypatch):
    monkeypatch.setattr(connection.introspection, "table_names", lambda *_a, **_k: ["somebody_s_table"])
    with pytest.raises(CommandError, match="holds something already"):
        demo()


def test_a_port_in_use_is_said_before_anything_is_loaded(folder):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(CommandError, match="cannot be used") as refused:
            call_command("demo", port=taken.getsockname()[1])
    assert refused.value.returncode == 1 and not Shop.objects.exists()


def test_an_invented_vin_passes_its_check_digit():
    """49 CFR 565.15: 17 characters, the ninth worked out of the others, the tenth the model year."""
    made = [invented_vin(number, 2010 + number % 20) for number in range(200)]
    assert len(set(made)) == 200
    assert all(vin.check_digit(one) == one[8] for one in made)
    assert vin.model_year(invented_vin(1, 2018)) == 2018
