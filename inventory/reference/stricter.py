"""A shop's own values beside its rulebook: they may be stricter, never laxer. Pure: no Django here."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from functools import lru_cache
from types import MappingProxyType

from inventory.reference.leak_rate_rules import LeakRate
from inventory.reference.leak_rules import LeakCheck
from inventory.reference.rule import Rule, Text
from inventory.reference.rulebook import Rulebook
from inventory.reference.rules import Practice, Retention

OWN = Text(key="shop", title="The shop's own rule", confidence="seen")
LARGE = ("stationary/*", "transport/*")  # what such rules are about; a car is in none of the rulebooks'
NOTE = "stricter by the shop's own rule"


@dataclass(frozen=True)
class Value:
    """One figure that a shop may set. more: whether more is stricter; most: what makes no sense beyond it."""

    label: str
    section: str
    attribute: str
    more: bool
    most: int
    key: str = ""  # of a practice

    @property
    def bounds(self) -> str:
        return f"Write a figure over 0 and up to {self.most}, or leave it blank."


VALUES: Mapping[str, Value] = {
    "retention_years": Value("Keep records for at least, years", "retention", "years", True, 100),
    "leak_rate_percent": Value("A leak rate is too high over, % a year", "leak_rate", "over_percent", False, 100),
    "leak_check_months": Value("Check for leaks at least every, months", "leak_check", "months", False, 60),
    "purity_least_percent": Value(
        "Use again only what is identified as at least, %", "practice", "value", True, 100, "purity_least_percent"
    ),
}


def _rules(book: Rulebook, value: Value) -> list[Rule]:
    return [rule for rule in book.sections[value.section] if not value.key or rule.key == value.key]


def limit(book: Rulebook, name: str, day: date) -> tuple[Decimal, Rule] | None:
    """The figure of the rulebook that is hardest to keep on a day, and its rule; None where it names none."""
    value = VALUES[name]
    found = [rule for rule in _rules(book, value) if rule.in_force(day)]
    if not found:
        return None
    hardest = (max if value.more else min)(found, key=lambda rule: getattr(rule, value.attribute))
    return Decimal(getattr(hardest, value.attribute)), hardest


def objection(book: Rulebook, name: str, own: Decimal, day: date) -> str | None:
    """Why a shop may not set this figure, in a sentence that says what it may; None where it may."""
    value = VALUES[name]
    if not 0 < own <= value.most:
        return value.bounds
    if value.attribute in {"years", "months"} and own != own.to_integral_value():
        return "Write a whole number, or leave it blank."
    found = limit(book, name, day)
    if found is None:
        return None
    figure, rule = found
    if own > figure if value.more else own < figure:
        return None
    word = "more" if value.more else "less"
    return (
        f"{book.title} says {figure.normalize():f} by {rule.cited()}; a shop's own figure is stricter than that or not "
        f"there: write {word} than {figure.normalize():f}, or leave it blank."
    )


def stricter(book: Rulebook, own: Mapping[str, str]) -> Rulebook:
    """The rulebook as the shop keeps it. own: names of VALUES to decimal figures; what is laxer than a rule changes
    nothing in it."""
    kept = tuple(sorted((name, figure) for name, figure in own.items() if name in VALUES and figure))
    return _stricter(book, kept) if kept else book


@lru_cache(maxsize=64)
def _stricter(book: Rulebook, own: tuple[tuple[str, str], ...]) -> Rulebook:
    rules = dict(book.sections)
    for name, written in own:
        value, figure = VALUES[name], Decimal(written)
        touched = _rules(book, value)
        if not touched:
            rules[value.section] = (*rules[value.section], _own_rule(value, figure))
            continue
        rules[value.section] = tuple(
            _tightened(rule, value, figure) if rule in touched else rule for rule in rules[value.section]
        )
    return replace(book, sections=MappingProxyType(rules))


def _tightened(rule: Rule, value: Value, figure: Decimal) -> Rule:
    now = Decimal(getattr(rule, value.attribute))
    if not (figure > now if value.more else figure < now):
        return rule
    kept = int(figure) if value.attribute in {"years", "months"} else figure
    changed = {value.attribute: kept, "citation": f"{rule.citation}, {NOTE}"}
    if isinstance(rule, LeakCheck) and rule.months_with_detection is not None:
        changed["months_with_detection"] = min(rule.months_with_detection, kept)
    return replace(rule, **changed)


def _own_rule(value: Value, figure: Decimal) -> Rule:
    """Where the rulebook is silent the shop's own rule stands alone."""
    said = {"text": OWN, "citation": OWN.title, "confidence": "seen"}
    if value.section == "retention":
        return Retention(records=("*",), years=int(figure), **said)
    if value.section == "leak_rate":
        return LeakRate(over_percent=figure, equipment=LARGE, **said)
    if value.section == "leak_check":
        return LeakCheck(months=int(figure), equipment=LARGE, **said)
    return Practice(key=value.key, value=figure, unit="%", label=value.label, **said)
