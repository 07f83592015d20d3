"""A rulebook in words: each rule as a list of what it says, for a page. Pure: no Django here."""

from collections.abc import Iterator
from dataclasses import dataclass, fields
from datetime import date
from decimal import Decimal

from inventory.reference.certificate_rules import BUYERS
from inventory.reference.container_rules import ACTS, BINDING, LABEL_SAYS, LABELLERS, SAFE_FILL_METHODS
from inventory.reference.gas_rules import CONDITIONS
from inventory.reference.leak_rate_rules import STEPS
from inventory.reference.machine_rules import STATED
from inventory.reference.period_rules import COUNTED
from inventory.reference.record_rules import FIELDS, KEEPERS
from inventory.reference.refrigerants import GWP_BASES
from inventory.reference.rule import EQUIPMENT, RECORDS, TRAITS, USES, WORK, Rule
from inventory.reference.rulebook import Rulebook
from inventory.reference.rules import DUTY_PAGES, SECTIONS
from inventory.reference.trade_rules import ENDS, PROOFS

TITLES = {
    "retention": "How long records are kept",
    "gwp": "How CO2 equivalents are counted",
    "exemption": "What is exempt",
    "scheme": "Certificates",
    "grant": "What each certificate allows",
    "certificate_demand": "Work that asks for a certificate",
    "company_demand": "Work that asks for a certificate of the company",
    "sale": "What may be sold",
    "reuse": "What may be charged again",
    "service_ban": "What may not be charged any more",
    "prohibited_charging": "Refrigerants that equipment was not designed for",
    "leak_check": "Checks for leaks",
    "leak_detection": "Leak detection systems",
    "leak_rate": "Leak rates",
    "leak_step": "What follows a leak rate over its limit",
    "leak_repair": "Leaks that were found",
    "leak_test": "Leak tests before a charge",
    "release_report": "Reports of what was released",
    "single_use": "Single-use containers",
    "retest": "Tests of containers",
    "container_label": "What containers say on their label",
    "container_disposal": "How containers end",
    "small_can": "Small cans",
    "container_check": "Checks of containers for leaks",
    "safe_fill": "How full a container may be",
    "machine": "Machines and the standards that they meet",
    "machine_statement": "What the authority is told of machines",
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
    "acts": "must not be",
    "says": "must say",
    "by": "by",
    "page": "shown beside",
    "goes_to": "handed over to a",
    "evacuate_inhg": "or evacuated, with a statement, to, inHg",
    "recover_residue": "what is left is recovered first",
    "leak_checked": "only where it must be checked for leaks",
    "charge_at_least_mg": "full charge from",
    "charge_below_mg": "full charge below",
    "kinds": "containers",
    "at_celsius": "at, °C",
    "binding": "it is",
    "co2e_at_least_t": "from, t CO2e",
    "co2e_below_t": "below, t CO2e",
    "sealed_co2e_at_least_t": "sealed and labelled: from, t CO2e",
    "months_with_detection": "months, with detection",
    "leak_most_g_year": "leaks at most, g a year",
    "counts_from": "rates begin on",
    "duties": "what follows",
    "basis": "on the GWP basis",
    "shutdown_days": "days, where a process must be shut down",
    "until_months": "until it was not over for, months",
    "percent": "from, % of the full charge",
    "report_due": "report due, month and day",
    "years": "years",
    "tare_loss_percent": "tested again where the tare is down by, %",
    "enforcement": "where it is not kept",
    "expiry": "expires",
    "trainee_months": "trainees, months in all",
    "sealed_charge_below_mg": "sealed and labelled: below",
    "charge_most_mg": "full charge at most",
    "container_below_mg": "in a container made to hold less than",
    "holds_most_mg": "made to hold at most",
    "older_before": "older: issued before",
    "refresh_first_due": "older: first refreshed by",
    "refresh_years": "refreshed every, years",
    "limited_to": "as long as",
    "doubt": "to be confirmed, because",
    "ends": "sold",
    "origins": "came out of",
    "allowed": "may be sold",
    "needs": "the seller has",
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
    "parts": "of these gases alone",
    "counts_as_done": "as good as the check",
    "installed_from": "installed from",
    "installed_until": "installed until",
    "by_day": "there from",
    "days": "within, days",
    "audit_months": "itself checked every, months",
    "unless_gas": "not where all of this holds",
    "charge_co2e_at_least_t": "charge of the equipment from, t CO2e",
    "charge_at_most_mg": "charge of the equipment up to",
    "full_charge_at_least_mg": "full charge from",
    "sealed_charge_at_least_mg": "sealed and labelled: from",
    "sealed_home_charge_at_least_mg": "sealed and labelled, in a dwelling: from",
}
WAYS = {
    "same-unit": "back into the same unit",
    "same-owner": "into another unit of the same owner",
    "other-owner": "into a unit of somebody else",
}
WORDS = {
    "basis": {code: basis.label for code, basis in GWP_BASES.items()},
    "equipment": EQUIPMENT,
    "unless_gas": CONDITIONS,
    "destinations": WAYS,
    "uses": USES,
    "limited_to": TRAITS,
    "buyers": BUYERS,
    "ends": ENDS,
    "needs": PROOFS,
    "only": TRAITS,
    "unless": TRAITS,
    "records": RECORDS,
    "record": RECORDS,
    "work": WORK,
    "acts": ACTS,
    "says": LABEL_SAYS,
    "by": KEEPERS | LABELLERS,
    "fields": FIELDS | STATED,
    "page": DUTY_PAGES,
    "method": SAFE_FILL_METHODS,
    "counted_from": {"record": "the record's own day", "end": "the end of what it is about"},
    "binding": BINDING,
    "step": STEPS,
    "period": {"month": "month", "quarter": "quarter of a year", "half-year": "half of a year", "year": "year"},
    "columns": {name: name.replace("_", " ") for name in COUNTED},
    "enforcement": {"refuse": "refused", "warn": "listed as a finding"},
    "expiry": {"never": "never", "may": "where a day is set", "must": "on its day"},
}
SELECTED = {
    "not": "not {}",
    "contains": "whatever contains {}",
    "without": "nothing that contains {}",
    "pressure": "{} pressure",
}
BASE = {one.name for one in fields(Rule)}
INNER = {"key", "regime", "duties"}  # names by which rules find each other
SAID_ANYWAY = {"allowed"}  # whatever it is
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
        is_all = isinstance(value, tuple) and value in (("*",), one.default)
        if one.name in BASE | INNER or is_all or (not value and one.name not in SAID_ANYWAY):
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
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return ", ".join(_value(name, one) for one in value)
    if name.endswith("_mg"):
        return f"{Decimal(value) / 1_000_000:.3f}".rstrip("0").rstrip(".") + " kg"
    if name == "equipment" and str(value).endswith("/*"):
        broad = str(value).removesuffix("/*")
        return f"{EQUIPMENT.get(broad, broad)} and alike"
    kind, _, what = str(value).partition(":")
    if name == "substances" and kind in SELECTED:
        return SELECTED[kind].format(what)
    words = WORDS.get(name, {})
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    return str(words.get(value, "all" if value == "*" else value))
