"""Every digest that the program made is the one that its own text says: found by code that uses nothing of it. Of the
demonstration shop where that is loaded (`test_demo.py`)."""

import ast
import sys
from pathlib import Path

import pytest
from django.db import connection

from inventory.ledger.models import Record, Voucher
from inventory.ledger.queries import head
from shopledger.logbook.actions import load
from tests.bench.log_generator import write_log
from tests.jobs.test_mistakes_at_random import acting, clock, run  # noqa: F401 (fixtures)
from tests.kept import unguarded
from tests.shopledger import recompute_ledger
from tests.shopledger.tampering import chain_remade, row_changed
from tests.shopledger.world import build

pytestmark = pytest.mark.django_db


def recomputed():
    def asked(sql):
        with connection.cursor() as cursor:
            cursor.execute(sql)
            return cursor.fetchall()

    found = recompute_ledger.recomputed(asked)
    assert head() == (found[0], found[3])
    return found[:3]


def test_it_uses_nothing_of_the_program():
    tree = ast.parse(Path(recompute_ledger.__file__).read_text(encoding="utf-8"))
    names = {alias.name for one in ast.walk(tree) if isinstance(one, ast.Import) for alias in one.names}
    assert names <= set(sys.stdlib_module_names)
    assert not any(isinstance(one, ast.ImportFrom) for one in ast.walk(tree))


def test_a_small_shop_that_has_all_kinds_of_evidence(settings, tmp_path):
    settings.DATA_DIR, settings.MEDIA_ROOT = tmp_path, tmp_path / "uploads"
    build(tmp_path / "logs")
    vouchers, records, movements = recomputed()
    assert vouchers > 80 and records > 150 and movements > 50


@pytest.mark.parametrize("events", [200, pytest.param(20_000, marks=pytest.mark.long)])
def test_a_year_at_random(settings, tmp_path, events):
    settings.DATA_DIR = tmp_path
    write_log(tmp_path / "log", events, seed=events)
    load(tmp_path / "log")
    vouchers, records, movements = recomputed()
    assert vouchers >= events and records > events / 2 and movements > events / 2


@pytest.mark.parametrize("runs", [1, pytest.param(40, marks=pytest.mark.long)])
def test_mistakes_at_random_and_their_corrections(acting, runs):  # noqa: F811
    """With what follows from each for others. What they come to is another test's."""
    found = []

    class Recomputed(acting):
        def agree(self):
            pass

        def teardown(self):
            found.append(recomputed())
            super().teardown()

    run(Recomputed, runs, 40, derandomize=True)
    assert sum(vouchers for vouchers, *_ in found) > 30 * runs


def test_it_finds_what_was_changed(settings, tmp_path):
    settings.DATA_DIR, settings.MEDIA_ROOT = tmp_path, tmp_path / "uploads"
    build(tmp_path / "logs")
    record, voucher = Record.objects.filter(kind="job").last(), Voucher.objects.get(number=30)
    with unguarded():
        row_changed(voucher, document="another")
        with pytest.raises(AssertionError, match="voucher 30"):
            recomputed()
        chain_remade()
        recomputed()
        row_changed(record, body=record.body.replace('"id"', '"key"', 1))
        with pytest.raises(AssertionError, match=f"record {record.key}"):
            recomputed()
