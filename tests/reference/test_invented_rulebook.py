"""A rulebook is data: an invented one uses every kind of rule, and whatever figure of it is changed, a verdict changes
with it. A new section, or a new field of a rule, fails here until it has an example."""

import datetime as dt
from dataclasses import fields

import pytest

from inventory.reference.rule import Rule, Scoped
from inventory.reference.rules import SECTIONS
from tests.reference.invented import BOOK, CHANGES, DAY, GONE, MAIN, SCOPE, Change, changed

BASE = {one.name for one in fields(Rule)}
OF_SCOPE = {one.name for one in fields(Scoped)} - BASE
SCOPED = [name for name, kind in SECTIONS.items() if issubclass(kind, Scoped)]
SCOPES = [Change(section, name, to) for section in SCOPED for name, to in SCOPE.items()]
SCOPES = [
    Change("exemption", "regime", "another") if (one.section, one.name) == ("exemption", "regime") else one
    for one in SCOPES
]


def test_the_place_uses_every_kind_of_rule() -> None:
    assert [name for name in SECTIONS if not BOOK.sections[name]] == []
    assert [name for name in SECTIONS if name not in MAIN] == [], "sections without an example"


def test_every_field_of_every_rule_has_an_example() -> None:
    named = {(one.section, one.name) for one in (*CHANGES, *SCOPES)}
    there = {(section, one.name) for section, kind in SECTIONS.items() for one in fields(kind)}
    assert sorted(one for one in there - named if one[1] not in BASE) == [], "fields without an example"
    assert named <= there, "examples of what no rule has"
    assert set(SCOPE) == OF_SCOPE


@pytest.mark.parametrize("change", CHANGES, ids=str)
def test_the_verdict_follows_the_figure(change: Change) -> None:
    before, after = change.answers()
    assert before != after


@pytest.mark.parametrize("change", SCOPES, ids=str)
def test_the_verdict_follows_what_the_rule_is_about(change: Change) -> None:
    before, after = change.answers()
    assert before != after


@pytest.mark.parametrize("section", list(SECTIONS))
@pytest.mark.parametrize(
    "days",
    [{"until_day": GONE}, {"from_day": DAY + dt.timedelta(days=1)}],
    ids=["past", "to come"],
)
def test_the_verdict_follows_the_days_of_the_rule(section: str, days: dict[str, dt.date]) -> None:
    ask = MAIN[section]
    if section == "gwp":
        pytest.skip("a rulebook without a GWP basis is refused: test_rulebook.py")
    assert ask(BOOK) != ask(changed(BOOK, section, **days))


def test_nothing_else_is_changed() -> None:
    """Asked twice of the same rulebook, the answers are the same: what differs above differs by the figure alone."""
    for ask in MAIN.values():
        assert ask(BOOK) == ask(changed(BOOK, "retention"))
