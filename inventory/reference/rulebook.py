"""Rulebooks: what the law or the practice of a place asks, as data. Every question is asked for a day.

What a rulebook says can be out of date or second-hand; local rules and licensed practice come first.
"""

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from inventory.reference import rulebook_file
from inventory.reference.certificate_rules import CertificateDemand, CertificateScheme, Grant
from inventory.reference.container_rules import Retest, SafeFill, SingleUse, SmallCan
from inventory.reference.gas_rules import Reuse, ServiceBan
from inventory.reference.leak_rules import LeakCheck, LeakRate, LeakRepair
from inventory.reference.lookup import listed, shown
from inventory.reference.record_rules import RecordKept, Retention
from inventory.reference.rule import (
    BEARS_NOT,
    Bearing,
    Rule,
    Scoped,
    System,
    Text,
    selects_equipment,
    selects_substance,
)
from inventory.reference.rulebook_file import RulebookError
from inventory.reference.rules import Caution, Duty, Practice

__all__ = ["Rulebook", "RulebookError", "UnknownRulebook", "parse_rulebook", "rulebook", "rulebooks", "text_of"]

FOLDER = Path(__file__).parent / "rulebooks"


class UnknownRulebook(LookupError):
    """No rulebook has this name. The message lists those there are."""


def _selected(rules: Iterable[Any], equipment: str | None, substance: str | None) -> list[Any]:
    """The rules whose equipment and substances hold for these; None: does not matter."""
    return [
        rule
        for rule in rules
        if (equipment is None or selects_equipment(rule.equipment, equipment))
        and (substance is None or selects_substance(rule.substances, substance))
    ]


@dataclass(frozen=True)
class Rulebook:
    """The rules of one place. edition: the day it was put together. deference: a sentence shown with it. binds: in
    sentences, whom and what its rules bind, where that is not every shop of the place. missing: in sentences, what its
    rules should say and what was not found in any text.

    Where several rules of a section hold, the first in the file counts, unless a method says otherwise.
    """

    name: str
    title: str
    area: str
    edition: date
    deference: str
    texts: Mapping[str, Text] = field(repr=False, hash=False, compare=False)
    sections: Mapping[str, tuple[Rule, ...]] = field(repr=False, hash=False, compare=False)
    binds: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()

    def __str__(self) -> str:
        return f"{self.title} ({self.edition.isoformat()})"

    def section(self, name: str, day: date) -> tuple[Any, ...]:
        """The rules of a section that apply on a day."""
        return tuple(rule for rule in self.sections[name] if rule.in_force(day))

    def bears_on(self, rule: Scoped, system: System, day: date) -> Bearing:
        """Whether a rule is about a system on a day, with what its regime exempts taken out of it."""
        asks = list((own := rule.bears_on(system)).asks)
        if own.holds is False or not rule.regime:
            return own
        for exemption in self.section("exemption", day):
            if exemption.regime != rule.regime:
                continue
            out = exemption.bears_on(system)
            if out.holds:
                return BEARS_NOT
            asks += [one for one in out.asks if one not in asks]
        return Bearing(None, tuple(asks)) if asks else own

    def about(self, section: str, system: System, day: date) -> list[tuple[Any, Bearing]]:
        """The rules of a section that are, or may be, about a system on a day, in the order of the file."""
        found = [(rule, self.bears_on(rule, system, day)) for rule in self.section(section, day)]
        return [(rule, bearing) for rule, bearing in found if bearing.holds is not False]

    def retention(self, record: str, day: date) -> Retention | None:
        """How long records of that kind (a key of RECORDS) are kept: the longest that applies."""
        found = [rule for rule in self.section("retention", day) if {"*", record} & set(rule.records)]
        return max(found, key=lambda rule: rule.years, default=None)

    def gwp_basis(self, day: date) -> str:
        """The GWP basis of CO₂ equivalents. RulebookError where none is named for the day."""
        found = self.section("gwp", day)
        if not found:
            raise RulebookError(f"The rulebook {self.name} names no GWP basis for {day.isoformat()}.")
        return found[0].basis

    def schemes(self, day: date) -> tuple[CertificateScheme, ...]:
        return self.section("scheme", day)

    def scheme(self, written: str, day: date) -> CertificateScheme | None:
        """The scheme of a certificate as people wrote it (code, title or alias; case does not matter).

        A scheme "*" stands for any that is not named; None where there is none.
        """
        wanted = " ".join(written.split()).casefold()
        schemes = self.schemes(day)
        for scheme in schemes:
            if wanted in (name.casefold() for name in (scheme.code, scheme.title, *scheme.aliases)):
                return scheme
        return next((scheme for scheme in schemes if scheme.code == "*" and wanted), None)

    def certificate_demand(
        self, work: str, equipment: str | None, substance: str, day: date, container_mg: int | None = None
    ) -> CertificateDemand | None:
        """What is asked of the person who does this work (a key of WORK); None: no certificate is asked for.

        equipment: None where there is none, as in a purchase. container_mg: what the container can hold.
        """
        asked = [
            rule
            for rule in self.section("certificate_demand", day)
            if work in rule.work and rule.holds_for(container_mg)
        ]
        return next(iter(_selected(asked, equipment, substance)), None)

    def grant(self, written_scheme: str, work: str, system: System, day: date) -> Grant | None:
        """The rule by which a certificate of that scheme allows the work; None: it does not allow it."""
        scheme = self.scheme(written_scheme, day)
        if scheme is None:
            return None
        for rule in self.section("grant", day):
            if {scheme.code, "*"} & set(rule.schemes) and rule.covers(work, system):
                return rule
        return None

    def reuse(self, equipment: str, substance: str, destination: str, day: date) -> Reuse | None:
        """Which grades may be charged into equipment, by where the refrigerant came from; None: no rule."""
        found = [rule for rule in self.section("reuse", day) if destination in rule.destinations]
        return next(iter(_selected(found, equipment, substance)), None)

    def service_ban(
        self, equipment: str, substance: str, grade: str, gwp: Decimal | None, day: date
    ) -> ServiceBan | None:
        """The ban on charging this refrigerant of this grade, on the rulebook's GWP basis; None: no ban."""
        for rule in _selected(self.section("service_ban", day), equipment, substance):
            if grade in rule.grades and (rule.gwp_at_least is None or (gwp is not None and gwp >= rule.gwp_at_least)):
                return rule
        return None

    def leak_check(self, system: System, co2e_t: Decimal | None, day: date) -> LeakCheck | None:
        """The leak-check interval for a charge, which must be known: the shortest that applies; None: no duty."""
        found = [
            rule
            for rule in _selected(self.section("leak_check", day), system.equipment, system.substance)
            if rule.applies(system, co2e_t)
        ]
        return min(found, key=lambda rule: rule.months, default=None)

    def leak_rate(
        self, equipment: str, substance: str, full_charge_mg: int, gwp: Decimal | None, day: date
    ) -> LeakRate | None:
        """The limit on the leak rate at that full charge: the lowest that applies; None: no limit."""
        found = [
            rule
            for rule in _selected(self.section("leak_rate", day), equipment, substance)
            if rule.applies(full_charge_mg, gwp)
        ]
        return min(found, key=lambda rule: rule.over_percent, default=None)

    def leak_repair(self, equipment: str, substance: str, day: date) -> LeakRepair | None:
        return next(iter(_selected(self.section("leak_repair", day), equipment, substance)), None)

    def single_use(self, kind: str, day: date) -> SingleUse | None:
        """The rule by which nothing may be put into a container of that kind; None: it may be filled."""
        return next((rule for rule in self.section("single_use", day) if kind in rule.kinds), None)

    def retest(self, kind: str, day: date) -> Retest | None:
        return next((rule for rule in self.section("retest", day) if kind in rule.kinds), None)

    def small_can(self, substance: str, designed_for_mg: int, day: date) -> SmallCan | None:
        """The small-can rule for a can made to hold that much; None: not a small can, or no rule."""
        cans = (
            rule
            for rule in self.section("small_can", day)
            if selects_substance(rule.substances, substance) and rule.is_small(designed_for_mg)
        )
        return next(cans, None)

    def safe_fill(self, kind: str, day: date) -> tuple[SafeFill, ...]:
        """All limits on what a container of that kind may hold; the lowest governs."""
        return tuple(rule for rule in self.section("safe_fill", day) if kind in rule.kinds)

    def records_kept(
        self, day: date, equipment: str | None = None, charge_mg: int | None = None
    ) -> tuple[RecordKept, ...]:
        """The records asked for, of equipment and charge where they are given."""
        return tuple(rule for rule in self.section("record", day) if rule.asked_for(equipment, charge_mg))

    def duties(self, day: date) -> tuple[Duty, ...]:
        return self.section("duty", day)

    def cautions(self, place: str, day: date, substance: str | None = None) -> tuple[Caution, ...]:
        """The cautions to show at a place (one of PLACES), in the order of the file.

        With a substance: those for it; without: only those for every substance.
        """
        return tuple(
            rule
            for rule in self.section("caution", day)
            if {place, "*"} & set(rule.places)
            and ("*" in rule.substances if substance is None else selects_substance(rule.substances, substance))
        )

    def practice(self, key: str, day: date) -> Practice | None:
        """A figure of good practice by its key."""
        return next((rule for rule in self.section("practice", day) if rule.key == key), None)


def parse_rulebook(content: str, where: str = "rulebook") -> Rulebook:
    """A rulebook from the text of a TOML file. RulebookError names the place that is wrong."""
    return Rulebook(**rulebook_file.parse(content, where))


@cache
def rulebooks() -> Mapping[str, Rulebook]:
    """All rulebooks by name, in the order of their names. RulebookError where a file is wrong."""
    return MappingProxyType({path.stem: Rulebook(**rulebook_file.read(path)) for path in sorted(FOLDER.glob("*.toml"))})


def rulebook(name: str) -> Rulebook:
    """The rulebook of that name. UnknownRulebook, with those there are, for any other."""
    if name not in rulebooks():
        raise UnknownRulebook(f"{shown(name)} is no rulebook: write {listed(rulebooks())}.")
    return rulebooks()[name]


@cache
def text_of(name: str) -> tuple[str, str]:
    """SHA-256 and text of the file of a rulebook, as `rulebook` finds it."""
    rulebook(name)
    text = (FOLDER / f"{name}.toml").read_text(encoding="utf-8")
    return hashlib.sha256(text.encode()).hexdigest(), text
