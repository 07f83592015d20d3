"""How much refrigerant a refillable container may hold. Pure: no Django here.

Which limits count is said by the rulebook's section `safe_fill`; the lowest governs. Water capacity is mass of water,
1 kg taken as 1 L (the safe side). What is stamped on the cylinder as its most is a limit everywhere.
  share-of-liquid   0.80 × water capacity × liquid density at 25 °C: practice, leaves room for warmth, oil and air
  p200              the filling ratio of ADR/RID P200, table 2, by the cylinder's test pressure; without a line of its
                    own, rule (5)(c) of a gas that is liquid up to 65 °C, rule (5)(b) of one that is not
  liquid-full       not full of liquid at a temperature
  filling-density   the percentage of 49 CFR 173.304a, for the gases that it names
A gas whose critical temperature is below 65 °C has no level of liquid to go by: only ratios count for it.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import Decimal

from inventory.measures.pressure import show_pressure
from inventory.reference.container_rules import SafeFill
from inventory.reference.refrigerants import Refrigerant, refrigerants

LIQUID_UP_TO = Decimal(65)  # °C: "low pressure liquefied gas" of ADR 2.2.2.1.2


@dataclass(frozen=True)
class Cylinder:
    """What is stamped on a container; None where it is not known. test_pressure_kpa: above that of the air.
    most_mg: the most of this gas that its maker or owner lets in."""

    water_capacity_mg: int | None
    test_pressure_kpa: int | None = None
    most_mg: int | None = None


@dataclass(frozen=True)
class Limit:
    """mg: the most that may be in the container. rule: which limit it is, in words. citation: where that is written,
    blank for the stamp. binding: law, practice or stamp. worked_out: whether the figure was worked out here from
    densities, rather than read in a table. source: the rule that names it, None for the stamp."""

    mg: int
    rule: str
    citation: str
    binding: str
    worked_out: bool = False
    source: SafeFill | None = None

    def __str__(self) -> str:
        kind = {"law": "", "practice": "practice", "stamp": ""}[self.binding]
        said = [self.rule, "worked out here" if self.worked_out else "", kind, self.citation]
        return ", ".join(filter(None, said))


@dataclass(frozen=True)
class _Ratio:
    """kg of refrigerant for each kg of water."""

    ratio: Decimal
    words: str
    worked_out: bool = False


def is_liquid_when_hot(gas: Refrigerant) -> bool:
    """Whether a level of liquid can be reckoned with: its critical temperature is above 65 °C. Not known counts so."""
    return gas.critical_temperature_c is None or gas.critical_temperature_c > LIQUID_UP_TO


def _share_of_liquid(gas: Refrigerant, cylinder: Cylinder, rule: SafeFill) -> _Ratio | None:
    density = gas.liquid_density(rule.at_celsius) if is_liquid_when_hot(gas) else None
    if density is None:
        return None
    words = f"{rule.share:.2f} × water capacity × liquid density at {rule.at_celsius} °C"
    return _Ratio(rule.share * density / 1000, words)


def _liquid_full(gas: Refrigerant, cylinder: Cylinder, rule: SafeFill) -> _Ratio | None:
    density = gas.liquid_density(rule.at_celsius) if is_liquid_when_hot(gas) else None
    if density is None:
        return None
    return _Ratio(density / 1000, f"not full of liquid at {rule.at_celsius} °C", worked_out=True)


def _filling_density(gas: Refrigerant, cylinder: Cylinder, rule: SafeFill) -> _Ratio | None:
    percent = gas.cfr_filling_density_pct
    return None if percent is None else _Ratio(percent / 100, f"filling density of {percent} % of the water")


def _p200(gas: Refrigerant, cylinder: Cylinder, rule: SafeFill) -> _Ratio | None:
    if not gas.is_gas_for_transport:
        return None
    if gas.p200_lines:
        pressure, ratio = _line(gas.p200_lines, cylinder.test_pressure_kpa)
        return _Ratio(ratio, f"filling ratio of {ratio} kg/L, table 2, for cylinders tested at {pressure} bar")
    if gas.p200_5b_lines:
        pressure, ratio = _line(gas.p200_5b_lines, cylinder.test_pressure_kpa)
        return _Ratio(
            ratio, f"filling ratio of {ratio} kg/L by rule (5)(b), for cylinders tested at {pressure} bar", True
        )
    if is_liquid_when_hot(gas) and (ratio := gas.computed_filling_ratio_kg_l) is not None:
        return _Ratio(ratio, f"filling ratio of {ratio:.4f} kg/L by rule (5)(c)", worked_out=True)
    return None


def _line(lines: tuple[tuple[Decimal, Decimal], ...], test_pressure_kpa: int | None) -> tuple[Decimal, Decimal]:
    """The line of the strongest cylinder that this one is as strong as; the weakest where that is not known."""
    strong_enough = [one for one in lines if test_pressure_kpa is not None and one[0] * 100 <= test_pressure_kpa]
    return strong_enough[-1] if strong_enough else lines[0]


METHODS: dict[str, Callable[[Refrigerant, Cylinder, SafeFill], _Ratio | None]] = {
    "share-of-liquid": _share_of_liquid,
    "p200": _p200,
    "liquid-full": _liquid_full,
    "filling-density": _filling_density,
}


def limits(cylinder: Cylinder, designation: str, rules: Iterable[SafeFill]) -> list[Limit]:
    """By each rule that has a value for the gas, and by the stamp. Whole mg, never more than the ratio says."""
    found = []
    gas = refrigerants().get(designation)
    if gas is not None and cylinder.water_capacity_mg:
        for rule in rules:
            one = METHODS[rule.method](gas, cylinder, rule)
            if one is not None:
                most = int(cylinder.water_capacity_mg * one.ratio)
                found.append(Limit(most, one.words, rule.cited(), rule.binding, one.worked_out, rule))
    if cylinder.most_mg is not None:
        found.append(Limit(cylinder.most_mg, "the most that is stamped on it", "", "stamp"))
    return found


def limit(cylinder: Cylinder, designation: str, rules: Iterable[SafeFill]) -> Limit | None:
    """The most that a container may hold; None where nothing is published of the gas or known of the container."""
    return min(limits(cylinder, designation, rules), key=lambda one: one.mg, default=None)


def room_left(cylinder: Cylinder, designation: str, content_mg: int, rules: Iterable[SafeFill]) -> int | None:
    """mg that may still go in; negative where it holds too much. None: see `limit`."""
    found = limit(cylinder, designation, rules)
    return None if found is None else found.mg - content_mg


def least_test_pressure_bar(designation: str) -> Decimal | None:
    """What ADR/RID P200 asks of a cylinder for this gas: the table, or by rule (5)(c); None where it asks nothing."""
    gas = refrigerants().get(designation)
    if gas is None or not gas.is_gas_for_transport:
        return None
    lines = gas.p200_lines or gas.p200_5b_lines
    return lines[0][0] if lines else gas.least_test_pressure_bar


def too_weak(cylinder: Cylinder, designation: str, rules: Iterable[SafeFill]) -> str:
    """Why a cylinder is not strong enough for this gas; blank where it is, or where that cannot be told."""
    asked_by = next((rule for rule in rules if rule.method == "p200"), None)
    least = least_test_pressure_bar(designation)
    if asked_by is None or least is None or cylinder.test_pressure_kpa is None:
        return ""
    if cylinder.test_pressure_kpa >= least * 100:
        return ""
    return (
        f"is stamped with a test pressure of {show_pressure(cylinder.test_pressure_kpa)}, and {designation} asks for "
        f"at least {least} bar ({asked_by.cited()})"
    )


def liquid_full_mg(water_capacity_mg: int, designation: str) -> int | None:
    """What a container holds full of liquid at 25 °C; None where no density is published."""
    gas = refrigerants().get(designation)
    if gas is None or gas.liquid_density_25_kg_m3 is None:
        return None
    return int(water_capacity_mg * gas.liquid_density_25_kg_m3 / 1000)
