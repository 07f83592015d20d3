"""Whether refrigerant may be charged any more: by its GWP and grade, where it came from, its container's label, the
equipment and the day. Pure: no Django here."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from inventory.reference.gas_rules import CONDITIONS, ServiceBan
from inventory.reference.refrigerants import gwp_or_none
from inventory.reference.rule import Bearing, Gas, System
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.verdict import Figure, Verdict, cannot_be_judged
from inventory.verdicts.words import CHARGE_ASKED, co2e_or_none, equipment_figures, tonnes

BITES_NOT = Bearing(False)


@dataclass(frozen=True)
class _Asked:
    rules: Rulebook
    system: System
    gas: Gas
    day: dt.date
    gwp: Decimal | None
    co2e_t: Decimal | None

    def bites(self, rule: ServiceBan, bearing: Bearing) -> Bearing:
        """Whether a rule bans it. None: it depends on what nobody has said."""
        if bearing.holds is False or not rule.is_about(self.gas):
            return BITES_NOT
        asks = list(bearing.asks)
        for least, value, ask in (
            (rule.gwp_at_least, self.gwp, f"what the GWP of {self.system.substance} is"),
            (rule.charge_co2e_at_least_t, self.co2e_t, CHARGE_ASKED),
        ):
            if least is not None and value is None:
                asks.append(ask)
            elif least is not None and value < least:
                return BITES_NOT
        if not rule.unless_gas:
            return Bearing(None if asks else True, tuple(asks))
        met = {name: self._met(rule, name) for name in rule.unless_gas}
        if False in met.values():
            return Bearing(None if asks else True, tuple(asks))
        asks += [ORIGIN_ASKED[name] for name, holds in met.items() if holds is None]
        if None in met.values():
            return Bearing(None, tuple(asks))
        return BITES_NOT

    def unmet(self, rule: ServiceBan) -> list[str]:
        return [CONDITIONS[name] for name in rule.unless_gas if self._met(rule, name) is False]

    def _met(self, rule: ServiceBan, condition: str) -> bool | None:
        gas = self.gas
        if condition == "labelled":
            return gas.labelled
        if condition == "own":
            return gas.own
        return rule.from_such_equipment(gas) if gas.origins else None


ORIGIN_ASKED = {"own": "who recovered it", "such-equipment": "what kind of equipment it came out of"}


def service_ban(rules: Rulebook, system: System, gas: Gas, day: dt.date) -> Verdict:
    """Whether gas may be charged into a system. The answers: free (no ban), met (a condition lifts it), breach,
    refused, open."""
    gwp = gwp_or_none(system.substance, rules.gwp_basis(day))
    asked = _Asked(rules, system, gas, day, gwp, co2e_or_none(rules, system, day))
    about = [(rule, bearing) for rule, bearing in rules.about("service_ban", system, day) if rule.is_about(gas)]
    found = [(rule, asked.bites(rule, bearing)) for rule, bearing in about]
    figures = (*equipment_figures(system), *_of(asked, [rule for rule, _ in about]))
    banning = next((rule for rule, bites in found if bites.holds), None)
    what = f"{gas.grade.capitalize()} {system.substance}"
    if banning is not None:
        return _banned(asked, banning, what, figures)
    doubtful = [(rule, bites) for rule, bites in found if bites.holds is None]
    if doubtful:
        asks = [ask for _, bites in doubtful for ask in bites.asks]
        return cannot_be_judged(
            f"Whether {what[0].lower()}{what[1:]} may still be charged",
            asks,
            tuple(rule for rule, _ in doubtful),
            figures=figures,
        )
    lifted = tuple(rule for rule, bearing in about if bearing.holds and _reaches(asked, rule) and rule.unless_gas)
    changes = tuple(_later(asked))
    if lifted:
        why = " and ".join(CONDITIONS[name] for name in lifted[0].unless_gas)
        said = f"{what} may still be charged, since {why}."
        return Verdict(answer="met", said=said, rules=lifted, figures=figures, changes=changes)
    return Verdict(answer="free", said=f"{what} may still be charged here.", figures=figures, changes=changes)


def _reaches(asked: _Asked, rule: ServiceBan) -> bool:
    """Whether its thresholds are reached."""
    pairs = ((rule.gwp_at_least, asked.gwp), (rule.charge_co2e_at_least_t, asked.co2e_t))
    return all(least is None or (value is not None and value >= least) for least, value in pairs)


def _banned(asked: _Asked, rule: ServiceBan, what: str, figures: tuple[Figure, ...]) -> Verdict:
    gwp = f" (GWP {asked.gwp.normalize():f})" if rule.gwp_at_least is not None and asked.gwp is not None else ""
    said, unmet = f"{what}{gwp} may not be charged into this equipment any more", asked.unmet(rule)
    said += f". It may only where {' and '.join(unmet)}; that is not so here." if unmet else "."
    answer = "refused" if rule.enforcement == "refuse" else "breach"
    changes = (f"It could be where {' and '.join(CONDITIONS[name] for name in rule.unless_gas)}.",)
    return Verdict(answer=answer, said=said, rules=(rule,), figures=figures, changes=changes if rule.unless_gas else ())


def _of(asked: _Asked, about: list[ServiceBan]) -> Iterator[Figure]:
    gas = asked.gas
    yield Figure("grade", gas.grade)
    if asked.gwp is not None and any(rule.gwp_at_least is not None for rule in about):
        yield Figure("GWP", f"{asked.gwp.normalize():f} by {asked.rules.gwp_basis(asked.day)}")
    if asked.co2e_t is not None and any(rule.charge_co2e_at_least_t is not None for rule in about):
        yield Figure("charge of the equipment", tonnes(asked.co2e_t))
    if any("labelled" in rule.unless_gas for rule in about):
        yield Figure("label", "says what it must" if gas.labelled else "does not say what it must, or is not on record")
    if any("own" in rule.unless_gas for rule in about):
        yield Figure("recovered", {True: "by this shop", False: "by another", None: "not on record"}[gas.own])


def _later(asked: _Asked) -> Iterator[str]:
    """From when on it may not be charged any more, as it is now."""
    coming = [rule for rule in asked.rules.sections["service_ban"] if rule.from_day and rule.from_day > asked.day]
    for rule in sorted(coming, key=lambda rule: rule.from_day):
        if not rule.is_about(asked.gas):
            continue
        if asked.bites(rule, asked.rules.bears_on(rule, asked.system, rule.from_day)).holds:
            yield f"From {rule.from_day} on it may not be charged any more ({rule.cited()})."
            return
