"""Whether refrigerant of a grade may be charged, by where it came from. Pure: no Django here."""

import datetime as dt
from collections.abc import Iterator

from inventory.reference.gas_rules import Reuse
from inventory.reference.rule import DESTINATIONS, EQUIPMENT, Bearing, Gas, System
from inventory.reference.rulebook import Rulebook
from inventory.reference.wording import WAYS
from inventory.verdicts.verdict import Figure, Verdict, cannot_be_judged
from inventory.verdicts.words import CHARGE_ASKED, either, equipment_figures

CAME_OUT = {"recovered", "recycled"}  # grades of what came out of a unit


def reuse(rules: Rulebook, system: System, gas: Gas, day: dt.date) -> Verdict:
    """Whether gas may be charged into a system. The first rule of the file that is about both decides.

    The answers: free (no rule), met, breach, refused, open.
    """
    about = [(rule, _bearing(rule, bearing, system)) for rule, bearing in rules.about("reuse", system, day)]
    about = [(rule, bearing) for rule, bearing in about if bearing.holds is not False]
    found = [(rule, bearing) for rule, bearing in about if rule.came_from(gas)]
    figures = (*equipment_figures(system), *_of(gas))
    if not found:
        return Verdict(answer="free", said=f"No rule is about {_gas(system, gas)} that is charged so.", figures=figures)
    deciding = next((at for at, (_, bearing) in enumerate(found) if bearing.holds), len(found) - 1)
    candidates = found[: deciding + 1]
    outcomes = {gas.grade in rule.grades for rule, _ in candidates}
    if not candidates[-1][1].holds or len(outcomes) > 1:
        asks = [ask for _, bearing in candidates for ask in bearing.asks]
        what = f"Whether {_gas(system, gas)} may be charged"
        return cannot_be_judged(what, asks, tuple(rule for rule, _ in candidates), figures=figures)
    rule = found[deciding][0]
    return _by(rule, system, gas, figures, tuple(_elsewhere(rule, about, gas)))


def _bearing(rule: Reuse, bearing: Bearing, system: System) -> Bearing:
    """Whether it is about a system, its charge considered."""
    most = rule.charge_at_most_mg
    if most is None or bearing.holds is False:
        return bearing
    if system.charge_mg is None:
        return Bearing(None, (*bearing.asks, CHARGE_ASKED))
    return bearing if system.charge_mg <= most else Bearing(False)


def _by(rule: Reuse, system: System, gas: Gas, figures: tuple[Figure, ...], changes: tuple[str, ...]) -> Verdict:
    what = f"{gas.grade.capitalize()} {system.substance}"
    way = f" {WAYS[gas.destination]}" if gas.grade in CAME_OUT and set(rule.destinations) != set(DESTINATIONS) else ""
    if gas.grade in rule.grades:
        said = f"{what} may be charged{way}."
        return Verdict(answer="met", said=said, rules=(rule,), figures=figures, changes=changes)
    said = f"{what} is not charged{way}; what may be is {either(rule.grades)}."
    answer = "refused" if rule.enforcement == "refuse" else "breach"
    if gas.grade == "recovered":
        changes = ("Once it is recycled or reclaimed it is another grade, and judged as that.", *changes)
    return Verdict(answer=answer, said=said, rules=(rule,), figures=figures, changes=changes)


def _elsewhere(rule: Reuse, about: list, gas: Gas) -> Iterator[str]:
    """What a rule before it would say, had the gas come out of other equipment, where that is not on record."""
    if gas.origins or gas.grade not in CAME_OUT or gas.grade not in rule.grades:
        return
    for other, _ in about:
        if other is rule:
            return
        if gas.destination in other.destinations and gas.grade not in other.grades:
            kinds = either(_words(other.origins))
            yield f"Where it came from is not on record: out of {kinds}, it could not be charged so ({other.cited()})."


def _words(selectors: tuple[str, ...]) -> list[str]:
    return [EQUIPMENT.get(one.removesuffix("/*"), one) for one in selectors]


def _gas(system: System, gas: Gas) -> str:
    return f"{gas.grade} {system.substance}"


def _of(gas: Gas) -> tuple[Figure, ...]:
    found = [Figure("grade", gas.grade)]
    if gas.grade in CAME_OUT:
        found.append(Figure("goes", WAYS[gas.destination]))
        found.append(Figure("came out of", "; ".join(_words(tuple(sorted(gas.origins)))) or "not on record"))
    return tuple(found)
