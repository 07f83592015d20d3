"""What a job works out beside the ledger: identity, oil to add, losses between visits. Pure functions."""

import datetime as dt
from fractions import Fraction

import pytest

from jobs.leaks.losses import Visit, loss_between
from jobs.planning.identity import identity
from jobs.planning.oil_plan import oil_doubt, oil_plan, parts

ML = 1000
G = 1000
DAY = dt.date(2026, 3, 2)


@pytest.mark.parametrize(
    ("label", "found", "purity", "apart"),
    [
        ("R-134a", "R-134a", None, False),
        ("R-134a", "r134a", 98.0, False),
        ("R-134a", "R-134a", 97.9, True),
        ("R-134a", "R-1234yf", None, True),
        ("R-134a", "mixed", None, True),
        ("R-134a", "unknown", 99.9, True),
        ("R-134a", "", 98.0, False),
        ("R-134a", "", 50.0, True),
        ("", "R-134a", None, False),
        ("", "something blue", None, True),
    ],
)
def test_what_was_identified_decides_where_it_may_go(label, found, purity, apart):
    assert identity(label, found, purity, 98.0).apart is apart


def test_nothing_identified_says_nothing():
    assert identity("R-134a", " ", None, 98.0) is None


# Rows of the add-back table (service manuals of the 1990s), in mL.
@pytest.mark.parametrize(
    ("replaced", "drained", "recovered", "low", "typical", "high"),
    [
        ([], {}, 0, 0, 20, 20),
        (["condenser"], {}, 0, 20, 30, 60),
        (["condenser", "receiver-drier"], {}, 0, 35, 60, 90),
        (["compressor"], {"compressor": 89 * ML}, 0, 90, 90, 90),
        (["compressor"], {"compressor": 90 * ML}, 0, 120, 120, 120),
        (["compressor"], {"compressor": 150 * ML}, 0, 180, 180, 180),
        (["compressor"], {"compressor": 151 * ML}, 0, 151, 151, 151),
        (["accumulator"], {"accumulator": 40 * ML}, 0, 70, 85, 100),
        (["condenser"], {}, 15 * ML, 20, 30, 60),
        (["condenser"], {}, 16 * ML, 36, 46, 76),
    ],
)
def test_oil_to_add_is_the_sum_over_parts_and_recovery(replaced, drained, recovered, low, typical, high):
    plan = oil_plan(replaced, drained, recovered)
    assert (plan.low_ul, plan.typical_ul, plan.high_ul) == (low * ML, typical * ML, high * ML)
    assert all(share.source and share.rule for share in plan.shares)


def test_a_part_whose_oil_was_not_measured_asks_for_it():
    assert [share.to_be_measured for share in oil_plan(["compressor", "hose"], {}, 0).shares] == [True, False, False]
    assert set(parts()) >= {"compressor", "condenser", "evaporator", "accumulator", "receiver-drier", "hose"}


def test_a_high_voltage_compressor_takes_only_the_oil_of_its_label():
    assert oil_doubt("POE 68", "POE 68", True) is None
    said, refuses = oil_doubt("POE 68", "PAG 46", True)
    assert refuses and "must not go in" in said
    assert oil_doubt("", "POE 68", True)[1] is True
    assert oil_doubt("PAG 46", "pag 46", False) is None
    assert oil_doubt("PAG 46", "POE 68", False) == ("The unit takes PAG 46, and the bottle holds POE 68.", False)
    assert oil_doubt("", "PAG 46", False) is None


def visit(days, charged=0, recovered=0, emptied=True):
    return Visit(DAY + dt.timedelta(days=days), charged * G, recovered * G, emptied)


def test_a_loss_is_what_went_in_less_what_came_out():
    loss = loss_between(visit(0, charged=500), visit(730, recovered=400, charged=500), 500 * G)
    assert (loss.lost, loss.days, loss.percent_a_year) == (100 * G, 730, Fraction(10))
    assert loss_between(visit(0, 500), visit(0, recovered=500), 500 * G).percent_a_year is None
    assert loss_between(visit(0, 500), visit(9, recovered=400), None).lost == 100 * G


@pytest.mark.parametrize(
    ("first", "then", "why"),
    [
        (visit(0, 100, emptied=False), visit(10, recovered=90), "topped up"),
        (visit(0), visit(10, recovered=90), "left empty"),
        (visit(0, 500), visit(10, charged=100, emptied=False), "not known"),
        (visit(0, 500), visit(10, recovered=501), "someone else"),
    ],
)
def test_where_the_figures_do_not_allow_it_the_reason_is_said(first, then, why):
    loss = loss_between(first, then, 500 * G)
    assert loss.lost is None and why in loss.sentence
