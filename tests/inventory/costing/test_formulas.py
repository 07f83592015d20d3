"""The cost formulas against figures worked by hand, and against a second, slow way of working them out.

IAS 2 (25 and 27) says the two formulas in words and has no figures; the examples here are invented, and each step of
them is written out.
"""

import random
from fractions import Fraction as F

import pytest

from inventory.costing.formulas import Amount, Flow, walk

# 10 at 5.00, 20 at 6.20, 12 go; 10 at 7.00, 20 go. In minor units.
EXAMPLE = [
    Flow("1", None, "gas", 10, F(500)),
    Flow("2", None, "gas", 20, F(620)),
    Flow("3", "gas", None, 12, tag="first"),
    Flow("4", None, "gas", 10, F(700)),
    Flow("5", "gas", None, 20, tag="second"),
]


def test_first_in_first_out_by_hand():
    spent, held = walk(EXAMPLE, "fifo")
    assert spent["first"].cost == 10 * 500 + 2 * 620 == 6240
    assert spent["second"].cost == 18 * 620 + 2 * 700 == 12560
    assert held["gas"].cost == 8 * 700 and held["gas"].quantity == 8
    assert 6240 + 12560 + 5600 == 10 * 500 + 20 * 620 + 10 * 700, "what was paid is what went and what is left"


def test_moving_average_by_hand():
    spent, held = walk(EXAMPLE, "average")
    # 30 cost 17,400: 580 each. 12 go for 6,960; 18 stay, 10,440. With 10 at 700: 28 for 17,440.
    assert spent["first"].cost == 6960
    assert spent["second"].cost == F(17440 * 20, 28) and spent["second"].minor == 12457
    assert held["gas"].cost == F(17440 * 8, 28)


def test_a_sum_is_rounded_once_and_half_to_even():
    for formula in ("fifo", "average"):
        thirds = [Flow("1", None, "gas", 3, F(1000, 3)), *(Flow("2", "gas", None, 1, tag="all") for _ in range(3))]
        assert walk(thirds, formula)[0]["all"].minor == 1000
    assert [Amount(F(1), F(cost, 2)).minor for cost in (1, 3, 5)] == [0, 2, 2]


def test_what_has_no_price_is_a_quantity_and_no_zero():
    flows = [Flow("1", None, "gas", 6, F(100)), Flow("2", None, "gas", 4, None), Flow("3", "gas", None, 5, tag="job")]
    fifo, average = walk(flows, "fifo"), walk(flows, "average")
    assert (fifo[0]["job"].cost, fifo[0]["job"].bare) == (500, 0)
    assert (fifo[1]["gas"].cost, fifo[1]["gas"].bare) == (100, 4)
    # Of 10 that are held 6 have a price, at 100: of 5 that go, 3 have one.
    assert (average[0]["job"].cost, average[0]["job"].rounded) == (300, (3, 2))
    assert (average[1]["gas"].cost, average[1]["gas"].rounded) == (300, (3, 2))


@pytest.mark.parametrize("formula", ["fifo", "average"])
def test_a_late_price_is_as_if_it_had_come_with_the_delivery(formula):
    known = [Flow("1", None, "gas", 6, F(100)), Flow("2", None, "gas", 4, F(200)), Flow("3", "gas", None, 8, tag="job")]
    unknown = [known[0], known[1]._replace(unit=None), known[2]]
    before, after = walk(unknown, formula), walk(known, formula)
    assert before[0]["job"].bare and not after[0]["job"].bare
    assert after[0]["job"].cost == {"fifo": 1000, "average": 1120}[formula]


@pytest.mark.parametrize("formula", ["fifo", "average"])
def test_what_passes_into_another_grade_takes_its_cost_along(formula):
    flows = [
        Flow("1", None, "virgin", 10, F(300)),
        Flow("1", None, "recovered", 10, None),
        Flow("2", "virgin", "recovered", 5),
        Flow("3", "recovered", "recycled", 15),
        Flow("3", "recycled", None, 15, tag="job"),  # of a day: waits until it is there
    ]
    spent, held = walk(flows, formula)
    assert (spent["job"].cost, spent["job"].bare) == (1500, 10)
    assert held["virgin"].cost == 1500 and not held["recycled"].quantity


@pytest.mark.parametrize("formula", ["fifo", "average"])
def test_what_is_found_again_takes_back_what_was_missed(formula):
    flows = [*EXAMPLE[:2], Flow("3", "gas", None, 12, tag="missed"), Flow("4", "gas", None, -12, tag="missed")]
    spent, held = walk(flows, formula)
    assert (spent["missed"].cost, held["gas"].cost) == (0, 10 * 500 + 20 * 620)


def test_more_is_found_than_ever_was_missed():
    spent, held = walk([EXAMPLE[0], Flow("2", "gas", None, -3, tag="found")], "fifo")
    assert (spent["found"].bare, held["gas"].bare, held["gas"].cost) == (-3, 3, 5000)


@pytest.mark.parametrize("formula", ["fifo", "average"])
def test_a_delivery_was_of_less_than_was_said(formula):
    flows = [EXAMPLE[0], EXAMPLE[1], Flow("3", None, "gas", -5, F(620))]
    held = walk(flows, formula)[1]["gas"]
    assert (held.quantity, held.cost) == (25, 10 * 500 + 15 * 620)


# -- a slow second way ---------------------------------------------------------------------------------------------


def slow(flows, formula):
    """Unit by unit: each is a price in a list; fifo takes the first, the average makes all of them equal first."""
    spent, held = {}, {}
    for flow in flows:
        if flow.source is None:
            held.setdefault(flow.target, []).extend([flow.unit] * flow.quantity)
            continue
        units = held[flow.source]
        if formula == "average":
            units[:] = [sum(units, F(0)) / len(units)] * len(units)
        gone, units[:] = units[: flow.quantity], units[flow.quantity :]
        if flow.target is None:
            spent.setdefault(flow.tag, []).extend(gone)
        else:
            held.setdefault(flow.target, []).extend(gone)
    return {k: sum(v, F(0)) for k, v in spent.items()}, {k: sum(v, F(0)) for k, v in held.items()}


@pytest.mark.parametrize("formula", ["fifo", "average"])
def test_both_agree_with_the_slow_way_on_what_a_year_may_bring(formula):
    for seed in range(60):
        chance, flows, held = random.Random(seed), [], {"a": 0, "b": 0}
        for day in range(40):
            pool = chance.choice("ab")
            other = "ab".replace(pool, "")
            quantity = chance.randint(1, 30)
            if held[pool] < quantity or chance.random() < 0.3:
                flows.append(Flow(day, None, pool, quantity, F(chance.randint(1, 900), chance.randint(1, 7))))
                held[pool] += quantity
            else:
                target = other if chance.random() < 0.2 else None
                flows.append(Flow(day, pool, target, quantity, tag=chance.choice(["jobs", "lost"])))
                held[pool] -= quantity
                if target:
                    held[target] += quantity
        spent, stocks = walk(flows, formula)
        assert ({k: v.cost for k, v in spent.items()}, {k: v.cost for k, v in stocks.items()}) == slow(flows, formula)
