"""A rulebook in words: each rule as a list of what it says, for a page. Pure: no Django here."""

from collections.abc import Iterator
from dataclasses import dataclass, fields
from datetime import date
from decimal import Decimal

from inventory.reference.container_rules import SAFE_FILL_METHODS
from inventory.reference.period_rules import COUNTED
from inventory.reference.rule import EQUIPMENT, RECORDS, TRAITS, USES, WORK, Rule
from inventory.reference.rulebook import Rulebook
from inventory.reference.rules import SECTIONS

TITLES = {
    "retention": "How long records are kept",
    "gwp": "How CO2 equivalents are counted",
    "exemption": "What is exempt",
    "scheme": "Certificates",
    "grant": "What each certificate allows",
    "certificate_demand": "Work that asks for a certificate",
    "reuse": "What may be charged again",
    "service_ban": "What may not be charged any more",
    "prohibited_charging": "Refrigerants that equipment was not designed for",
    "leak_check": "Checks for leaks",
    "leak_rate": "Leak rates",
    "leak_repair": "Leaks that were found",
    "leak_test": "Leak tests before a charge",
    "release_report": "Reports of what was released",
    "single_use": "Single-use containers",
    "retest": "Tests of containers",
    "small_can": "Small cans",
    "container_check": "Checks of containers for leaks",
    "safe_fill": "How full a container may be",
    "record": "Records to be kept",
    "period_figures": "Figures of each period",
    "duty": "Duties",
    "caution": "Cautions",
    "practice": "Figures of good practice",
}
LABELS = {
    "over_percent": "over, % a year",
    "gwp_over": "GWP over",
    "gwp_at_least": "GWP of at least",
    "fields": "holding",
    "kinds": "containers",
    "at_celsius": "at, °C",
    "co2e_at_least_t": "from, t CO2e",
    "co2e_below_t": "below, t CO2e",
    "sealed_co2e_at_least_t": "sealed and labelled: from, t CO2e",
    "months_with_detection": "months, with detection",
    "leak_most_g_year": "leaks at most, g a year",
    "report_due": "report due, month and day",
    "years": "years",
    "inspect_months": "once it was over: inspected every, months",
    "inspect_large_from_mg": "large: full charge from",
    "inspect_large_months": "large: inspected every, months",
    "inspect_until_months": "until it was not over for, months",
    "tare_loss_percent": "tested again where the tare is down by, %",
    "enforcement": "where it is not kept",
    "expiry": "expires",
    "trainee_months": "trainees, months",
    "uses": "appliances",
    "only": "only where",
    "unless": "not where",
    "stops_charge": "nothing is charged before the repair",
    "repair_days": "repaired, isolated or emptied within, days",
    "each_calendar_year": "and in each calendar year",
    "charge_over_mg": "charge of more than",
    "recheck_after_hours": "checked again after, hours running",
    "recheck_within_months": "checked again within, months",
    "period": "in each",
    "columns": "adds up",
    "copies_days": "copies where they are asked for in writing, within days",
    "designed_for": "equipment designed for",
    "scheduled": "gases that the law lists",
    "excepted": "allowed where",
    "at_least_mg": "from",
    "over_mg": "more than",
    "below_mg": "less than",
    "first_hours": "told within, hours",
    "report_days": "reported within, days",
    "months_after": "reported by the end of, months after",
    "full_charge_at_least_mg": "full charge from",
    "sealed_charge_at_least_mg": "sealed and labelled: from",
    "sealed_home_charge_at_least_mg": "sealed and labelled, in a dwelling: from",
}
WORDS = {
    "equipment": EQUIPMENT,
    "uses": USES,
    "only": TRAITS,
    "unless": TRAITS,
    "records": RECORDS,
    "record": RECORDS,
    "work": WORK,
    "method": SAFE_FILL_METHODS,
    "period": {"month": "month", "quarter": "quarter of a year", "half-year": "half of a year", "year": "year"},
    "columns": {name: name.replace("_", " ") for name in COUNTED},
    "enforcement": {"refuse": "refused", "warn": "listed as a finding"},
    "expiry": {"never": "never", "may": "where a day is set", "must": "on its day"},
}
BASE = {one.name for one in fields(Rule)}
SENTENCES = {"sentence", "label", "title"}  # read by themselves


@dataclass(frozen=True)
class Said:
    """One rule in words. sentence: its own, if it has one; pairs: label and value of all else; confirm: its text was
    not read; since, until: the days on which it applies."""

    sentence: str
    pairs: list[tuple[str, str]]
    citation: str
    text: str
    read_on: date | None
    confirm: bool
    since: date | None
    until: date | None
    note: str


def sections(book: Rulebook, day: date) -> Iterator[tuple[str, list[Said]]]:
    """(title, rules) of each section that has rules in force on a day."""
    for name in SECTIONS:
        found = [said(rule) for rule in book.section(name, day)]
        if found:
            yield TITLES[name], found


def said(rule: Rule) -> Said:
    sentence, pairs = "", []
    for one in fields(rule):
        value = getattr(rule, one.name)
        if one.name in BASE or value in (None, "", (), False) or value == ("*",):
            continue
        if one.name in SENTENCES:
            sentence = sentence or str(value)
            continue
        label = LABELS.get(one.name) or one.name.removesuffix("_mg").replace("_", " ")
        pairs.append((label, _value(one.metadata.get("selectors", one.name), value)))
    return Said(
        sentence,
        pairs,
        rule.place,
        rule.text.title,
        rule.text.read_on,
        rule.to_be_confirmed,
        rule.from_day,
        rule.until_day,
        rule.note,
    )


def _value(name: str, value: object) -> str:
    if value is True:
        return "yes"
    if isinstance(value, tuple):
        return ", ".join(_value(name, one) for one in value)
    if name.endswith("_mg"):
        return f"{Decimal(value) / 1_000_000:.3f}".rstrip("0").rstrip(".") + " kg"
    if name == "equipment" and str(value).endswith("/*"):
        broad = str(value).removesuffix("/*")
        return f"{EQUIPMENT.get(broad, broad)} and alike"
    if name == "substances" and str(value).startswith(("not:", "contains:", "without:")):
        kind, _, what = str(value).partition(":")
        said_of = {"not": "not {}", "contains": "whatever contains {}", "without": "nothing that contains {}"}
        return said_of[kind].format(what)
    words = WORDS.get(name, {})
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    return str(words.get(value, "all" if value == "*" else value))
