"""How full a container is, as a verdict: which limit governs, what is left, what would change it."""

import datetime as dt
from decimal import Decimal

import pytest

from inventory.containers.filled import Fill
from inventory.containers.safe_fill import Cylinder
from inventory.reference.container_rules import SafeFill
from inventory.reference.rule import Text
from inventory.reference.rulebook import rulebook

KG = 1_000_000
TEXT = Text("law", "Law of Nowhere", "seen")
SHARE = SafeFill(
    text=TEXT,
    citation="art. 1",
    confidence="seen",
    method="share-of-liquid",
    at_celsius=Decimal(25),
    share=Decimal("0.8"),
    kinds=("recovery",),
)
FULL = SafeFill(text=TEXT, citation="art. 2", confidence="seen", method="liquid-full", at_celsius=Decimal("54.4"))


def fill(content_kg, *rules, water_kg=10, most_kg=None):
    stamp = None if most_kg is None else most_kg * KG
    water = None if water_kg is None else water_kg * KG
    return Fill(Cylinder(water, most_mg=stamp), "R-134a", content_kg * KG, rules)


def test_the_lowest_limit_governs_and_the_others_stand_beside_it():
    # 0.80 x 10 kg x the liquid density of R-134a at 25 °C, 1206.7 kg/m3 (properties.csv, from the EOS): 9.653 kg.
    verdict = fill(5, FULL, SHARE).verdict()
    assert (verdict.answer, verdict.rules) == ("met", (SHARE, FULL))
    figures = [one.label for one in verdict.figures]
    assert figures == ["refrigerant", "content", "water capacity", "limit that governs", "another limit"]
    assert "worked out here from densities" in verdict.figures[-1].value
    assert "it would be" in verdict.changes[0] and "54.4 °C" in verdict.changes[0]
    assert fill(5, SHARE, FULL).room_mg == fill(5, SHARE).limits[0].mg - 5 * KG


def test_at_the_limit_it_is_not_over_and_a_milligram_more_is():
    most = fill(0, SHARE).room_mg
    held = Fill(Cylinder(10 * KG), "R-134a", most, (SHARE,))
    assert (held.verdict().answer, held.verdict(more_mg=1).answer) == ("met", "refused")
    assert "There is room for 0 g" in held.verdict().said
    assert "is 1\u202f000 g over its safe fill" in held.verdict(more_mg=1000 * 1000).said


def test_the_stamp_is_a_limit_that_no_rule_names():
    verdict = fill(5, SHARE, most_kg=4).verdict()
    assert verdict.answer == "refused" and "the most that is stamped on it" in verdict.figures[3].value
    assert verdict.rules == (SHARE,)


def test_without_a_water_capacity_it_is_asked_for():
    verdict = fill(5, SHARE, water_kg=None).verdict()
    assert verdict.ask == ("what water capacity is stamped on it",)


@pytest.mark.parametrize("rules", [(), (SHARE,)], ids=["no rule", "nothing published"])
def test_what_no_limit_is_about_has_no_verdict(rules):
    assert Fill(Cylinder(10 * KG if rules else None), "R-134a" if not rules else "R-999", KG, rules).verdict() is None


def test_a_stronger_cylinder_may_hold_more_where_that_decides():
    # ADR P200, table 2, R-744: 0.68 kg/L at 190 bar, 0.76 at 250 bar.
    rules = rulebook("eu").safe_fill("recovery", dt.date(2026, 3, 2))
    verdict = Fill(Cylinder(10 * KG), "R-744", KG, rules).verdict()
    assert any("test pressure" in one for one in verdict.changes)
    stamped = Fill(Cylinder(10 * KG, 25_000), "R-744", KG, rules).verdict()
    assert not any("test pressure" in one for one in stamped.changes)
