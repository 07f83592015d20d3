"""What the invented rulebook is asked, and how each figure of each of its rules changes the answer."""

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from pathlib import Path
from types import MappingProxyType

from inventory.containers.retest import worn
from inventory.containers.safe_fill import Cylinder, limits
from inventory.reference.rule import Gas, System
from inventory.reference.rulebook import Rulebook, parse_rulebook
from inventory.reference.wording import sections
from inventory.verdicts.buying import buying
from inventory.verdicts.certificates import ending, refresher
from inventory.verdicts.charging import designed_for_another, leak_tested
from inventory.verdicts.container_disposal import Ended, container_disposal
from inventory.verdicts.container_label import Labelled, container_label
from inventory.verdicts.containers_checked import container_checked
from inventory.verdicts.detection import detection
from inventory.verdicts.leak_check import leak_check
from inventory.verdicts.leak_deadlines import repaired_by
from inventory.verdicts.leak_repair import charged_with_leak, check_again
from inventory.verdicts.machine import MachineUsed, machine_approved, machine_stated
from inventory.verdicts.period_figures import copies_by, figures_asked
from inventory.verdicts.records import Asked, records
from inventory.verdicts.releases import released
from inventory.verdicts.retention import OnFile, kept
from inventory.verdicts.retested import retested
from inventory.verdicts.reuse import reuse
from inventory.verdicts.selling import Sold, selling
from inventory.verdicts.service_ban import service_ban
from inventory.verdicts.single_use import single_use
from inventory.verdicts.verdict import Verdict
from inventory.verdicts.work import Worker, company, working
from jobs.leaks.case import Appliance, cases, judged
from jobs.leaks.chronic import chronic_years
from jobs.leaks.leak_rate import ByDay, Visit, history

BOOK = parse_rulebook((Path(__file__).parent / "invented_rulebook.toml").read_text(encoding="utf-8"), "invented")
KG = 1_000_000
DAY = dt.date(2026, 6, 1)
Ask = Callable[[Rulebook], object]

UNIT = System(
    "stationary",
    "R-134a",
    20 * KG,
    use="chiller",
    traits=frozenset({"open-drive"}),
    installed_on=dt.date(2020, 6, 1),
)
SEALED = replace(UNIT, charge_mg=8 * KG, sealed=True)


def changed(book: Rulebook, section: str, at: int = 0, **values: object) -> Rulebook:
    """The rulebook with one rule of a section changed, and nothing else."""
    rules = list(book.sections[section])
    rules[at] = replace(rules[at], **values)
    return replace(book, sections=MappingProxyType({**book.sections, section: tuple(rules)}))


def told(verdict: Verdict) -> tuple:
    """What a verdict says, without the rules that it leans on: these differ whenever a rule is changed."""
    return (
        verdict.answer,
        verdict.said,
        verdict.by,
        verdict.ask,
        verdict.changes,
        verdict.readings,
        tuple((one.label, one.value) for one in verdict.figures),
    )


def working_as(*papers: str, system: System = UNIT, since: dt.date | None = None) -> Ask:
    return lambda book: told(working(book, "charge", system, Worker(papers, since, since is not None), DAY))


def bought(*papers: str, container_mg: int | None = None, buyer: str = "undertaking") -> Ask:
    return lambda book: told(buying(book, UNIT, papers, DAY, container_mg, buyer))


def sold(book: Rulebook) -> tuple:
    return told(selling(book, Sold(UNIT, Gas("reclaimed", origins=frozenset({"vehicle"})), "resale"), DAY))


def reused(book: Rulebook) -> tuple:
    return told(reuse(book, UNIT, Gas("recovered", "other-owner", frozenset({"stationary"})), DAY))


def banned(labelled: bool = False) -> Ask:
    return lambda book: told(service_ban(book, UNIT, Gas("virgin", labelled=labelled), DAY))


def designed_for(other: str = "R-1234yf") -> Ask:
    return lambda book: told(designed_for_another(book, UNIT, other, DAY))


def checked(system: System = UNIT) -> Ask:
    return lambda book: told(leak_check(book, system, DAY).verdict)


def spared(book: Rulebook) -> tuple:
    """A leak check that belongs to the regime of the exemption."""
    return checked()(changed(book, "leak_check", regime="spared"))


def companys(system: System = UNIT) -> Ask:
    return lambda book: told(company(book, ["charge"], system, False, DAY))


def appliance(*visits: tuple[str, int], system: System = UNIT) -> Appliance:
    charged = [Visit(dt.date.fromisoformat(day), kilograms * KG) for day, kilograms in visits]
    since = dt.date(2020, 6, 1)
    return Appliance(system, history(charged), ByDay(((since, 20 * KG),)), ByDay(((since, "rolling"),)))


LEAKING = (("2026-02-01", 1), ("2026-03-01", 4))


def leaks(system: System = UNIT) -> Ask:
    """Of a unit that lost 5 kg of 20: its rates, its cases, and its worst years."""

    def ask(book: Rulebook) -> object:
        unit = appliance(*LEAKING, system=system)
        rates = [(one.over, one.rate.percent, one.rate.method) for one in judged(unit, book, DAY)]
        steps = [[(step.key, step.due, step.note) for step in one.steps] for one in cases(unit, book, DAY)]
        return rates, steps, [(one.year, one.by, one.reached_on) for one in chronic_years(unit, book, DAY)]

    return ask


def leak_charged(book: Rulebook) -> tuple:
    return told(charged_with_leak(book, UNIT, DAY))


def repaired(book: Rulebook) -> tuple:
    return told(check_again(book, UNIT, dt.date(2026, 5, 1), (), DAY))


def let_out(kilograms: int = 20) -> Ask:
    return lambda book: told(released(book, UNIT, kilograms * KG, DAY))


def looked_at(book: Rulebook) -> tuple:
    return told(container_checked(book, "recovery", dt.date(2025, 1, 1), DAY - dt.timedelta(days=40), DAY))


def summed(book: Rulebook) -> object:
    asked = figures_asked(book, DAY)
    if asked is None:
        return None
    counted = {"received": 5, "charged": 7}
    return [one.title for one in asked.rules], asked.of(DAY), asked.figures("R-134a", counted), asked.period


def refreshed(issued: dt.date, written: str = "INV") -> Ask:
    return lambda book: told(refresher(book, written, issued, DAY))


def on_file(book: Rulebook) -> tuple:
    record = OnFile("job", dt.date(2024, 1, 1), dt.date(2025, 1, 1), UNIT)
    return told(kept(book, record, DAY))


def recorded(book: Rulebook) -> list[tuple]:
    asked = Asked("disposal", "contractor", UNIT, frozenset({"virgin"}))
    return [told(one) for one in records(book, asked, {"day"}, DAY)]


def recorded_unchecked(book: Rulebook) -> list[tuple]:
    """Of equipment that need not be checked for leaks."""
    return recorded(changed(book, "leak_check", until_day=GONE))


def filled_up(book: Rulebook) -> list[tuple]:
    cylinder = Cylinder(water_capacity_mg=10 * KG)
    rules = book.safe_fill("recovery", DAY)
    return [(one.mg, one.rule, one.binding) for one in limits(cylinder, "R-134a", rules)]


def tested_again(due: dt.date = dt.date(2026, 4, 10), act: str = "fill") -> Ask:
    return lambda book: told(retested(book, "recovery", due, DAY, act))


def tare_down(book: Rulebook) -> bool | None:
    rule = book.retest("recovery", DAY)
    return rule and worn(10 * KG, 10 * KG - KG // 2, rule.tare_loss_percent)


def labelled(book: Rulebook) -> list[tuple]:
    one = Labelled("recovery", "R-134a", "recycled", (), DAY)
    return [told(verdict) for verdict in container_label(book, one, DAY)]


def ended(lost_mg: int = 5_000, taken_by: str = "") -> Ask:
    one = Ended("disposable", "R-134a", lost_mg, taken_by)
    return lambda book: [told(verdict) for verdict in container_disposal(book, one, DAY)]


def approved(book: Rulebook) -> tuple:
    return told(machine_approved(book, MachineUsed(frozenset({"X 2"}), "recover", "stationary", "R-134a"), DAY))


def stated(book: Rulebook) -> tuple | None:
    found = machine_stated(book, {"stationary"}, (), DAY)
    return found and told(found)


def warned(book: Rulebook) -> list[tuple]:
    return [(one.key, one.sentence) for one in book.cautions("job", DAY, "R-134a")]


def on_page(book: Rulebook) -> list:
    """A rulebook's own page, where its words stand that nothing is worked out from."""
    return [(title, [(one.sentence, one.pairs) for one in rules]) for title, rules in sections(book, DAY)]


def practised(book: Rulebook) -> Decimal | None:
    found = book.practice("hold_minutes", DAY)
    return found and found.value


GONE = dt.date(2025, 12, 31)
RECENT, OLD = dt.date(2024, 1, 1), dt.date(2019, 1, 1)

# What each section is asked first: whether its rule is there, what it is about, on which days.
MAIN: dict[str, Ask] = {
    "retention": on_file,
    "gwp": lambda book: told(designed_for_another(book, UNIT, "R-1234yf", DAY)),
    "exemption": spared,
    "scheme": refreshed(RECENT),
    "grant": working_as("INV"),
    "certificate_demand": working_as(),
    "company_demand": companys(),
    "sale": sold,
    "reuse": reused,
    "service_ban": banned(),
    "prohibited_charging": designed_for(),
    "leak_check": checked(),
    "leak_detection": lambda book: told(detection(book, UNIT, DAY)),
    "leak_rate": leaks(),
    "leak_step": leaks(),
    "leak_repair": lambda book: told(repaired_by(book, UNIT, DAY)),
    "leak_test": lambda book: told(leak_tested(book, UNIT, "", DAY)),
    "release_report": let_out(),
    "single_use": lambda book: told(single_use(book, "disposable", "R-134a", "fill", DAY)),
    "retest": tested_again(),
    "container_label": labelled,
    "container_disposal": ended(),
    "safe_fill": filled_up,
    "machine": approved,
    "machine_statement": stated,
    "record": recorded,
    "duty": lambda book: [one.sentence for one in book.duties("unit", UNIT, DAY)],
    "caution": warned,
    "practice": practised,
    "small_can": bought(container_mg=KG),
    "container_check": looked_at,
    "period_figures": summed,
}


@dataclass(frozen=True)
class Change:
    """One figure of a rule, and what it becomes. ask: where another question than the section's first shows it; first:
    what else is changed before; at: which rule of the section."""

    section: str
    name: str
    to: object
    ask: Ask | None = None
    first: Mapping[str, object] = field(default_factory=dict)
    at: int = 0

    def __str__(self) -> str:
        return f"{self.section}.{self.name}"

    def answers(self) -> tuple[object, object]:
        """What is answered before and after."""
        before = changed(BOOK, self.section, self.at, **self.first)
        after = changed(before, self.section, self.at, **{self.name: self.to})
        ask = self.ask or MAIN[self.section]
        return ask(before), ask(after)


# Of a rule about systems, by a name of its scope: what takes it away from the unit.
SCOPE = {
    "equipment": ("transport",),
    "substances": ("R-717",),
    "uses": ("ice-rink",),
    "only": ("military",),
    "unless": ("open-drive",),
    "regime": "spared",
}

LIMITED = [
    Change(section, name, to, ask)
    for section, whole, small in (
        ("grant", working_as("INV"), working_as("INV", system=SEALED)),
        ("certificate_demand", working_as(), working_as(system=SEALED)),
        ("company_demand", companys(), companys(SEALED)),
    )
    for name, to, ask in (
        ("charge_below_mg", 15 * KG, whole),
        ("charge_most_mg", 15 * KG, whole),
        ("sealed_charge_below_mg", 6 * KG, small),
    )
]
PAPERS = [
    Change("scheme", "code", "ELSE"),
    Change("scheme", "title", "Another paper"),
    Change("scheme", "aliases", (), refreshed(RECENT, "the other name")),
    Change("scheme", "expiry", "may", lambda book: told(ending(book, "INV", None, DAY))),
    Change("scheme", "refresh_years", 4),
    Change("scheme", "older_before", dt.date(2018, 1, 1), refreshed(OLD)),
    Change("scheme", "refresh_first_due", dt.date(2028, 5, 5), refreshed(OLD)),
    Change("grant", "schemes", ("ELSE",)),
    Change("grant", "work", ("recover",)),
    Change("grant", "buyers", ("person",), bought("INV", buyer="person")),
    Change("grant", "limited_to", ("military",)),
    Change("grant", "doubt", ""),
    Change("certificate_demand", "work", ("recover",)),
    Change("certificate_demand", "schemes", ("ELSE",), working_as("INV")),
    Change("certificate_demand", "enforcement", "warn"),
    Change("certificate_demand", "trainee_months", 2, working_as(since=dt.date(2026, 1, 1))),
    Change("certificate_demand", "container_below_mg", 10 * KG, bought(container_mg=20 * KG)),
    Change("company_demand", "work", ("recover",)),
    Change("company_demand", "enforcement", "refuse"),
]
GASES = [
    Change("gwp", "basis", "ar4"),
    Change("sale", "grades", ("virgin",)),
    Change("sale", "ends", ("use",)),
    Change("sale", "origins", ("stationary",)),
    Change("sale", "allowed", False),
    Change("sale", "needs", ("certificate",)),
    Change("sale", "enforcement", "refuse", first={"allowed": False}),
    Change("reuse", "grades", ("recovered",)),
    Change("reuse", "destinations", ("same-unit",)),
    Change("reuse", "origins", ("vehicle",)),
    Change("reuse", "charge_at_most_mg", 10 * KG),
    Change("reuse", "enforcement", "refuse"),
    Change("service_ban", "grades", ("reclaimed",)),
    Change("service_ban", "destinations", ("same-unit",)),
    Change("service_ban", "gwp_at_least", Decimal(2000)),
    Change("service_ban", "charge_co2e_at_least_t", Decimal(30)),
    Change("service_ban", "unless_gas", ("own",), banned(labelled=True)),
    Change("service_ban", "enforcement", "refuse"),
    Change("prohibited_charging", "designed_for", ("R-290",)),
    Change("prohibited_charging", "scheduled", ("*",), designed_for("R-12"), {"designed_for": ("*",)}),
    Change("prohibited_charging", "excepted", ""),
    Change("prohibited_charging", "enforcement", "warn"),
]
WATCHED = replace(UNIT, traits=UNIT.traits | {"detection"})
CHECKS = [
    Change("leak_check", "months", 8),
    Change("leak_check", "months_with_detection", 20, checked(WATCHED)),
    Change("leak_check", "co2e_at_least_t", Decimal(30)),
    Change("leak_check", "co2e_below_t", Decimal(20)),
    Change("leak_check", "charge_at_least_mg", 30 * KG),
    Change("leak_check", "charge_below_mg", 10 * KG),
    Change("leak_check", "charge_over_mg", 30 * KG),
    Change("leak_check", "parts", ("HFO",)),
    Change("leak_check", "each_calendar_year", True),
    Change("leak_check", "sealed_co2e_at_least_t", Decimal(30), checked(SEALED)),
    Change("leak_check", "sealed_charge_at_least_mg", 30 * KG, checked(SEALED)),
    Change("leak_check", "sealed_home_charge_at_least_mg", 30 * KG, checked(replace(SEALED, dwelling=True))),
    Change("leak_check", "counts_as_done", ""),
    Change("leak_detection", "co2e_at_least_t", Decimal(30)),
    Change("leak_detection", "charge_at_least_mg", 30 * KG),
    Change("leak_detection", "parts", ("HFO",)),
    Change("leak_detection", "gwp_over", Decimal(1300)),
    Change("leak_detection", "installed_from", dt.date(2020, 7, 1)),
    Change("leak_detection", "installed_until", dt.date(2020, 1, 1)),
    Change("leak_detection", "by_day", dt.date(2027, 2, 2)),
    Change("leak_detection", "days", 40, first={"by_day": None}),
    Change("leak_detection", "audit_months", 6),
]
SHUT_DOWN = replace(UNIT, traits=UNIT.traits | {"process-shutdown"})
LEAKS = [
    Change("leak_rate", "over_percent", Decimal(30)),
    Change("leak_rate", "methods", ("annualizing",)),
    Change("leak_rate", "full_charge_at_least_mg", 30 * KG),
    Change("leak_rate", "gwp_over", Decimal(1300)),
    Change("leak_rate", "basis", "ar4", first={"gwp_over": Decimal(1350)}),
    Change("leak_rate", "counts_from", dt.date(2026, 2, 15)),
    Change("leak_rate", "duties", "others"),
    Change("leak_step", "step", "inspection"),
    Change("leak_step", "duties", "others"),
    Change("leak_step", "days", 40),
    Change("leak_step", "shutdown_days", 90, leaks(SHUT_DOWN)),
    Change("leak_step", "full_charge_at_least_mg", 30 * KG),
    Change("leak_step", "months", 3, at=1),
    Change("leak_step", "until_months", 24, at=1),
    Change("leak_step", "counted_from", "calendar-year", at=1),
    Change("leak_step", "percent", Decimal(50), at=2),
    Change("leak_step", "report_due", "05-01", at=2),
    Change("leak_repair", "stops_charge", False, leak_charged, {"enforcement": "warn"}),
    Change("leak_repair", "enforcement", "warn", leak_charged, {"stops_charge": False}),
    Change("leak_repair", "repair_days", 6),
    Change("leak_repair", "recheck_after_hours", 20, repaired),
    Change("leak_repair", "recheck_within_months", 3, repaired),
    Change("leak_test", "enforcement", "warn"),
    Change("release_report", "at_least_mg", 30 * KG),
    Change("release_report", "over_mg", 30 * KG),
    Change("release_report", "below_mg", 10 * KG),
    Change("release_report", "first_hours", 6),
    Change("release_report", "report_days", 21),
    Change("release_report", "period", "year", let_out(60), at=1),
    Change("release_report", "months_after", 3, let_out(60), at=1),
]
CONTAINERS = [
    Change("single_use", "kinds", ("can",)),
    Change("single_use", "acts", ("use",)),
    Change("single_use", "substances", ("R-717",)),
    Change("single_use", "enforcement", "warn"),
    Change("retest", "kinds", ("machine",)),
    Change("retest", "years", 6),
    Change("retest", "fill_when_overdue", True),
    Change("retest", "use_when_overdue", False, tested_again(act="use")),
    Change("retest", "through_month_end", False, tested_again(dt.date(2026, 6, 20))),
    Change("retest", "tare_loss_percent", Decimal(6), tare_down),
    Change("retest", "enforcement", "warn"),
    Change("container_label", "kinds", ("can",)),
    Change("container_label", "grades", ("reclaimed",)),
    Change("container_label", "says", ("grade",)),
    Change("container_label", "substances", ("R-717",)),
    Change("container_label", "by", "reclaimer"),
    Change("container_label", "statement", "Otherwise."),
    Change("container_disposal", "kinds", ("can",)),
    Change("container_disposal", "substances", ("R-717",)),
    Change("container_disposal", "recover_residue", False),
    Change("container_disposal", "goes_to", ("final processor",)),
    Change("container_disposal", "evacuate_inhg", Decimal(20)),
    Change("safe_fill", "method", "liquid-full"),
    Change("safe_fill", "binding", "practice"),
    Change("safe_fill", "at_celsius", Decimal(50)),
    Change("safe_fill", "share", Decimal("0.6")),
    Change("safe_fill", "kinds", ("machine",)),
    Change("machine", "equipment", ("transport",)),
    Change("machine", "substances", ("R-717",)),
    Change("machine", "standards", ("X 2",)),
    Change("machine", "does", ("recycle",)),
    Change("machine_statement", "equipment", ("transport",)),
    Change("machine_statement", "fields", ("serial",)),
    Change("machine_statement", "to", "another authority"),
    Change("small_can", "holds_most_mg", KG // 2),
    Change("small_can", "substances", ("R-717",)),
    Change("small_can", "self_sealing_from", dt.date(2019, 1, 1)),
    Change("small_can", "leak_most_g_year", Decimal(4)),
    Change("container_check", "kinds", ("can",)),
    Change("container_check", "period", "year"),
]
RECORDS = [
    Change("retention", "records", ("purchase",)),
    Change("retention", "years", 8),
    Change("retention", "counted_from", "record"),
    Change("retention", "charge_at_least_mg", 30 * KG),
    Change("retention", "charge_over_mg", 30 * KG),
    Change("retention", "charge_below_mg", 10 * KG),
    Change("record", "record", "purchase"),
    Change("record", "title", "What was lost"),
    Change("record", "by", "owner"),
    Change("record", "fields", ("day",)),
    Change("record", "grades", ("reclaimed",)),
    Change("record", "leak_checked", False, recorded_unchecked),
    Change("record", "charge_at_least_mg", 30 * KG),
    Change("record", "charge_over_mg", 30 * KG),
    Change("record", "charge_below_mg", 10 * KG),
    Change("duty", "page", "people"),
    Change("duty", "sentence", "It is done otherwise."),
    Change("caution", "key", "another"),
    Change("caution", "sentence", "Mind something else."),
    Change("caution", "places", ("oil",)),
    Change("caution", "substances", ("R-717",)),
    Change("practice", "key", "another"),
    Change("practice", "value", Decimal(12)),
    Change("practice", "unit", "h", on_page),
    Change("practice", "label", "Hold on for", on_page),
    Change("period_figures", "title", "Another sum"),
    Change("period_figures", "columns", ("received", "charged")),
    Change("period_figures", "period", "year"),
    Change("period_figures", "substances", ("R-717",)),
    Change("period_figures", "copies_days", 8, lambda book: told(copies_by(book, DAY))),
]
CHANGES = [*LIMITED, *PAPERS, *GASES, *CHECKS, *LEAKS, *CONTAINERS, *RECORDS]
