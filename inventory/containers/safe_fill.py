"""How much refrigerant a refillable container may hold. Pure: no Django here.

The lowest of these limits governs; water capacity is mass of water, 1 kg taken as 1 L (the safe side):
  0.80 x water capacity x liquid density at 25 C / 1000      AHRI Guideline K
  the filling ratio of ADR/RID packing instruction P200, table 2; for gases without a line of their own
  rule (5)(c): 0.95 x liquid density at 50 C, and not full of liquid at 60 C
  the filling density of 49 CFR 173.304a(a)(2), for the gases that it names
  not full of liquid at 54.4 C (130 F)                       49 CFR 173.304a(a)(2)
"""

from dataclasses import dataclass
from decimal import Decimal
from functools import cache

from inventory.reference.refrigerants import refrigerants


@dataclass(frozen=True)
class Limit:
    """mg: the most that may be in the container. rule: which limit governs, and where it is written."""

    mg: int
    rule: str


@cache
def _ratios(designation: str) -> tuple[tuple[Decimal, str], ...]:
    """kg of refrigerant for each kg of water capacity, by each rule that there is a value for."""
    gas = refrigerants().get(designation)
    if gas is None:
        return ()
    found = []
    if gas.liquid_density_25_kg_m3 is not None:
        ratio = Decimal("0.8") * gas.liquid_density_25_kg_m3 / 1000
        found.append((ratio, "0.80 × water capacity × liquid density at 25 °C (AHRI Guideline K)"))
    if gas.p200_lines:
        found.append((gas.p200_lines[0][1], "filling ratio of ADR/RID P200, table 2"))
    elif gas.computed_filling_ratio_kg_l is not None:
        found.append((gas.computed_filling_ratio_kg_l, "filling ratio by ADR/RID P200 (5)(c), computed"))
    if gas.cfr_filling_density_pct is not None:
        found.append((gas.cfr_filling_density_pct / 100, "filling density of 49 CFR 173.304a(a)(2)"))
    if gas.liquid_density_54_4_kg_m3 is not None:
        found.append((gas.liquid_density_54_4_kg_m3 / 1000, "not full of liquid at 54.4 °C (49 CFR 173.304a(a)(2))"))
    return tuple(found)


def limits(water_capacity_mg: int, designation: str) -> list[Limit]:
    """By each rule that names a value of the gas."""
    return [Limit(int(water_capacity_mg * ratio), rule) for ratio, rule in _ratios(designation)]


def limit(water_capacity_mg: int, designation: str) -> Limit | None:
    """The most that a container of this water capacity may hold; None where nothing is published of the gas."""
    return min(limits(water_capacity_mg, designation), key=lambda one: one.mg, default=None)


def liquid_full_mg(water_capacity_mg: int, designation: str) -> int | None:
    """What a container holds full of liquid at 25 °C; None where no density is published."""
    gas = refrigerants().get(designation)
    if gas is None or gas.liquid_density_25_kg_m3 is None:
        return None
    return int(water_capacity_mg * gas.liquid_density_25_kg_m3 / 1000)


def room_left(water_capacity_mg: int, designation: str, content_mg: int) -> int | None:
    """mg that may still go in; negative where it holds too much. None: see `limit`."""
    found = limit(water_capacity_mg, designation)
    return None if found is None else found.mg - content_mg
