"""The charge plan: worked by hand, and against every choice there is on small cases."""

from itertools import combinations

from hypothesis import given
from hypothesis import strategies as st

from jobs.planning.charge_plan import Available, Draw, Missing, missing, plan

G = 1000


def can(code, content, opened=False, tare=100 * G):
    return Available(code, content * G, None if tare is None else tare + content * G, opened)


def test_what_is_missing_counts_from_what_went_in():
    assert missing(300 * G, 500 * G, 540 * G) == Missing(200 * G, 220 * G, 240 * G)
    assert missing(300 * G, 500 * G, 540 * G, nominal=510 * G) == Missing(200 * G, 210 * G, 240 * G)
    assert missing(560 * G, 500 * G, 540 * G) == Missing(-60 * G, -40 * G, -20 * G)
    assert missing(0, None, 450 * G) == Missing(450 * G, 450 * G, 450 * G)
    assert missing(0, None, None) is None


def test_the_open_can_is_finished_and_one_new_can_stops_at_its_reading():
    """520 g wanted: 120 g are in the open can; of 340 g in a new one 340 are not enough, so two are opened."""
    wanted = missing(0, 500 * G, 540 * G)
    found = plan(wanted, [can("new-1", 340), can("open", 120, opened=True), can("new-2", 340)])
    assert found.draws == (
        Draw("open", 120 * G, 100 * G, True),
        Draw("new-1", 340 * G, 100 * G, True),
        Draw("new-2", 60 * G, 380 * G, False),
    )
    assert (found.total, found.short) == (520 * G, 0)


def test_no_new_can_is_opened_for_the_last_grams_once_the_least_is_reached():
    found = plan(missing(0, 500 * G, 540 * G), [can("open", 505, opened=True), can("new", 340)])
    assert [draw.code for draw in found.draws] == ["open"]
    assert found.total == 505 * G


def test_one_cylinder_is_better_than_two_cans():
    found = plan(missing(0, 500 * G, 540 * G), [can("can-1", 340), can("can-2", 340), can("cylinder", 9000)])
    assert found.draws == (Draw("cylinder", 520 * G, 8_580 * G, False),)


def test_too_little_is_said():
    found = plan(missing(0, 500 * G, 540 * G), [can("can", 340)])
    assert (found.total, found.short) == (340 * G, 160 * G)


def test_nothing_is_planned_where_nothing_is_missing():
    assert plan(missing(600 * G, 500 * G, 540 * G), [can("can", 340)]).draws == ()


def test_without_a_tare_the_first_reading_comes_first():
    assert plan(missing(0, 200 * G, 300 * G), [can("can", 340, tare=None)]).draws[0].stop_at is None


containers = st.lists(st.tuples(st.integers(0, 60), st.booleans()), max_size=6).map(
    lambda found: [Available(f"C{i}", content, 100 + content, opened) for i, (content, opened) in enumerate(found)]
)
ranges = st.tuples(st.integers(0, 150), st.integers(0, 40), st.integers(0, 100)).map(
    lambda r: missing(r[2], r[0], r[0] + r[1])
)


@given(ranges, containers)
def test_a_plan_keeps_its_promises(need, stock):
    found = plan(need, stock)
    by_code = {container.code: container for container in stock}
    assert len({draw.code for draw in found.draws}) == len(found.draws)
    for draw in found.draws:
        assert 0 < draw.amount <= by_code[draw.code].content
        assert draw.stop_at == by_code[draw.code].gross - draw.amount
        assert draw.empties == (draw.amount == by_code[draw.code].content)
    assert found.total == sum(draw.amount for draw in found.draws) <= max(0, need.most)
    least = max(0, need.least)
    if sum(container.content for container in stock) >= least:
        assert found.total >= least
        assert found.short == 0
    else:
        assert found.short == least - found.total
    was_open = [by_code[draw.code].opened for draw in found.draws]
    assert was_open == sorted(was_open, reverse=True)


@given(ranges, containers)
def test_no_choice_opens_fewer_new_containers(need, stock):
    least = max(0, need.least)
    opened = sum(container.content for container in stock if container.opened)
    sealed = [container for container in stock if not container.opened and container.content]
    fewest = next(
        (
            size
            for size in range(len(sealed) + 1)
            for chosen in combinations(sealed, size)
            if opened + sum(container.content for container in chosen) >= least
        ),
        len(sealed),
    )
    found = plan(need, stock)
    by_code = {container.code: container for container in stock}
    assert sum(not by_code[draw.code].opened for draw in found.draws) == (fewest if need.aim > 0 else 0)
