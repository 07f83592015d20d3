"""A shop that is exported and loaded into an empty database has the same reports, to the milligram.

Which: all of EQUAL, over the whole ledger, and of a shop where nothing was corrected also over each of its months, by
codes and in words. Two things are another: numbers of vouchers, which are given anew, and the order of rows of one day.
"""

import datetime as dt
import io
from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.core.management.color import no_style
from django.db import connection

from inventory.containers.models import Container
from inventory.ledger.models import Voucher
from inventory.ledger.verify import verify
from inventory.shop.clock import today
from inventory.shop.models import Shop
from shopledger.exporting.actions import export, write_folder
from shopledger.logbook.actions import load
from shopledger.reporting.report import Period
from shopledger.reports.registry import REPORTS
from tests.bench.log_generator import write_log
from tests.shopledger.tampering import undone
from tests.shopledger.test_load_log_oracle import Writer

pytestmark = pytest.mark.django_db
EQUAL = {
    "usage": (None, "grade", "location", "technician", "month"),
    "jobs": (None,),
    "containers": (None,),
    "purchases": (None,),
    "shipments": (None,),
    "people": (None,),
    "variances": (None,),
    "emissions": (None,),
    "units": (None,),
    "kept": (None,),
    "apart": (None,),
}
NEW = {"voucher"}  # given anew
# What tells when something was put right, by whom, and what it had been: equal where nothing was.
OF_CORRECTIONS = {("usage", "technician"), ("usage", "month")}
COLUMNS_OF_CORRECTIONS = {"containers": {"in", "out"}, "variances": {"date"}}


def told(name, key, period, corrected=None):
    """A report's rows, in words and by codes, without what is given anew. corrected: of a shop where something was put
    right, by report the columns that tell so."""
    table = REPORTS[name].rows(period, key)
    left_out = (corrected or {}).get(name, set())
    kept = [at for at, column in enumerate(table.columns) if column.name not in NEW | left_out]
    found = [_moved(table, table.said(in_codes=codes), corrected and name) for codes in (False, True)]
    return [sorted(tuple(str(row[at]) for at in kept) for row in rows) for rows in found]


def _moved(table, rows, name):
    """Without containers that came into the shop's own stock by mistake alone, and so hold nothing and held nothing;
    nor places where they came and went back so."""
    if name == "usage":
        return [row for row in rows if any(str(cell).strip("-0.") for cell in row[_words(table) :])]
    if name != "containers":
        return rows
    begins, ends = ([column.name for column in table.columns].index(one) for one in ("opening", "closing"))
    return [row for row in rows if not str(row[begins]) == str(row[ends]) == "0.000"]


def _words(table):
    """How many columns of a usage report are no figures."""
    return [column.name for column in table.columns].index("opening")


def reports(period, corrected=None):
    return {
        (name, key): told(name, key, period, corrected)
        for name, keys in EQUAL.items()
        for key in keys
        if not corrected or (name, key) not in OF_CORRECTIONS
    }


def whole():
    return Period(dt.date(2000, 1, 1), today() + dt.timedelta(1))


def months():
    """Of the ledger at hand, its first six."""
    firsts = sorted({day.replace(day=1) for day in Voucher.objects.values_list("day", flat=True)})[:6]
    return [Period(first, (first + dt.timedelta(32)).replace(day=1) - dt.timedelta(1)) for first in firsts]


def texts():
    return dict(export().texts())


def out(folder: Path):
    found = export()
    write_folder(found, folder)
    return found


def there_and_back(make, folder, corrected=None):
    """What the shop that `make` makes says, what it says once it was exported and loaded, and both exports."""
    with undone():
        count_from_one()
        make()
        periods = [whole()] if corrected else [whole(), *months()]
        before = [reports(period, corrected) for period in periods]
        first = dict(out(folder).texts())
    assert not Shop.objects.exists() and not Container.objects.exists()
    count_from_one()
    load(folder)  # what hardly can be was asked when it was entered: it asks nothing
    after = [reports(period, corrected) for period in periods]
    assert verify().faults == []
    return before, after, first, texts()


def count_from_one():
    """As in a new database: a sequence of PostgreSQL goes on where a transaction that was undone left it."""
    sequences = connection.introspection.sequence_list()
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_by_name_sql(no_style(), sequences):
            cursor.execute(statement)


def differing(before, after):
    """Which reports differ, of which period, with the first rows that only one of the two has."""
    return [
        (key, number, _only(one[key], two[key]), _only(two[key], one[key]))
        for number, (one, two) in enumerate(zip(before, after, strict=True))
        for key in one
        if one[key] != two[key]
    ]


def _only(these, those):
    return [row for mine, theirs in zip(these, those, strict=True) for row in mine if row not in theirs][:4]


@pytest.mark.parametrize("seed", range(4))
def test_a_random_log(tmp_path, seed) -> None:
    def make():
        writer = Writer(seed)
        writer.stock()
        for _ in range(60):
            writer.event()
        (tmp_path / "log").mkdir()
        writer.write(tmp_path / "log")
        load(tmp_path / "log")

    before, after, first, again = there_and_back(make, tmp_path / "out")
    assert differing(before, after) == []
    assert first == again  # and so exported once more it is the same, byte for byte


def test_a_long_log(tmp_path) -> None:
    def make():
        write_log(tmp_path / "log", 800, 3)
        load(tmp_path / "log")

    before, after, first, again = there_and_back(make, tmp_path / "out")
    assert differing(before, after) == []
    assert first == again


def test_the_demo_shop(tmp_path, settings) -> None:
    """With everything that its pages entered. A job was corrected there, which what is exported tells no more; what is
    exported of that is equal in everything."""
    settings.DATA_DIR = tmp_path

    def make():
        call_command("demo", "--no-serve", stdout=io.StringIO())

    with undone():
        before, after, _, _ = there_and_back(make, tmp_path / "out", corrected=COLUMNS_OF_CORRECTIONS)
        assert differing(before, after) == []
    before, after, first, again = there_and_back(lambda: load(tmp_path / "out"), tmp_path / "again")
    assert differing(before, after) == []
    assert first == again


def test_the_command_says_what_it_does_not_carry(tmp_path, shop) -> None:
    said = io.StringIO()
    call_command("export_log", str(tmp_path / "new"), stdout=said)
    assert "Not carried: passwords" in said.getvalue() and (tmp_path / "new" / "shop.csv").exists()
    with pytest.raises(CommandError, match="not empty"):
        call_command("export_log", str(tmp_path / "new"), stdout=said)
