"""Rulebooks: what the law or the practice of a place asks, as data. Every question is asked for a day.

What a rulebook says can be out of date or second-hand; local rules and licensed practice come first.
"""

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from inventory.reference import rulebook_file
from inventory.reference.certificate_rules import CertificateDemand, CertificateScheme, Grant
from inventory.reference.container_rules import (
    ContainerDisposal,
    ContainerLabel,
    Retest,
    SafeFill,
    SingleUse,
    SmallCan,
)
from inventory.reference.leak_rate_rules import LeakStep, Limit, first_limits
from inventory.reference.lookup import listed, shown
from inventory.reference.machine_rules import MachineStandard, MachineStatement
from inventory.reference.record_rules import Retention
from inventory.reference.refrigerants import gwp_or_none
from inventory.reference.rule import (
    BEARS_NOT,
    Bearing,
    Exemption,
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

    def demands(
        self, work: str, system: System, day: date, container_mg: int | None = None
    ) -> list[tuple[CertificateDemand, Bearing]]:
        """What is, or may be, asked of the person who does this work (a key of WORK). container_mg: of a purchase, what
        the container is made to hold."""
        found = self.about("certificate_demand", system, day)
        return [(rule, bearing) for rule, bearing in found if work in rule.work and rule.holds_for(container_mg)]

    def grants(self, written_scheme: str, work: str, system: System, day: date) -> list[tuple[Grant, Bearing]]:
        """The rules by which a certificate of that scheme allows, or may allow, the work."""
        scheme = self.scheme(written_scheme, day)
        if scheme is None:
            return []
        found = self.about("grant", system, day)
        return [(rule, one) for rule, one in found if work in rule.work and {scheme.code, "*"} & set(rule.schemes)]

    def exempting(self, regime: str, system: System, day: date) -> Exemption | None:
        """What takes a system out of a regime for certain."""
        found = (rule for rule in self.section("exemption", day) if rule.regime == regime)
        return next((rule for rule in found if rule.bears_on(system).holds), None)

    def leak_limits(self, system: System, day: date) -> tuple[Limit, ...]:
        """The limits on the leak rate of a system, whose charge is its full charge: one of each name of duties, since
        a blend may be under several. What is asked for is what must be said first."""
        found = self.about("leak_rate", system, day)
        return first_limits(
            (rule, bearing)
            for rule, bearing in found
            if rule.reaches(system.charge_mg, gwp_or_none(system.substance, rule.basis or self.gwp_basis(day)))
        )

    def leak_steps(self, duties: str, system: System, day: date) -> dict[str, LeakStep]:
        """What is asked of a system under limits with these duties, by the key of the step: the first that applies."""
        found: dict[str, LeakStep] = {}
        for rule, bearing in self.about("leak_step", system, day):
            if rule.duties == duties and bearing.holds and rule.reaches(system.charge_mg):
                found.setdefault(rule.step, rule)
        return found

    def single_use(self, kind: str, substance: str, act: str, day: date) -> SingleUse | None:
        """The rule by which that may not be done (one of ACTS) with a container of that kind; None: it may be."""
        found = [rule for rule in self.section("single_use", day) if kind in rule.kinds and act in rule.acts]
        return next(iter(_selected(found, None, substance)), None)

    def container_labels(self, kind: str, substance: str, grade: str) -> list[ContainerLabel]:
        """What the label of a container of that kind says of that grade, on whatever day."""
        found = [rule for rule in self.sections["container_label"] if kind in rule.kinds and grade in rule.grades]
        return _selected(found, None, substance)

    def container_disposals(self, kind: str, substance: str, day: date) -> list[ContainerDisposal]:
        """How a container of that kind ends."""
        found = [rule for rule in self.section("container_disposal", day) if kind in rule.kinds]
        return _selected(found, None, substance)

    def machine_standards(self, equipment: str | None, substance: str, does: str, day: date) -> list[MachineStandard]:
        """The rules about machines for that work (of DOES) on refrigerant of that equipment; None: of any."""
        found = [rule for rule in self.section("machine", day) if does in rule.does]
        return _selected(found, equipment, substance)

    def machine_statement(self, equipment: Iterable[str] | None, day: date) -> MachineStatement | None:
        """What is told to the authority of a machine that is used on these kinds of equipment; None: on any."""
        for rule in self.section("machine_statement", day):
            if equipment is None or any(selects_equipment(rule.equipment, one) for one in equipment):
                return rule
        return None

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

    def duties(self, page: str, system: System | None, day: date) -> list[Duty]:
        """The duties to show on a page (of DUTY_PAGES); with a system: those that are or may be about it."""
        found = self.section("duty", day)
        if system is not None:
            found = [rule for rule, _ in self.about("duty", system, day)]
        return [rule for rule in found if rule.page == page]

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
