"""How much oil goes back after parts were replaced, and which. Pure: no Django here. Volumes in uL."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from inventory.reference.addback import Amount, addback, addbacks
from inventory.reference.oils import Oil, UnknownOil, parse_oil

UL = 1000
NO_PARTS = {"recharge", "recovery"}  # rules of the table that are about the visit, not about a part


@dataclass(frozen=True)
class Share:
    """What one cause adds: a part replaced, or the oil that came out with the refrigerant."""

    label: str
    low_ul: int
    typical_ul: int
    high_ul: int
    rule: str
    source: str
    to_be_measured: bool = False


@dataclass(frozen=True)
class OilPlan:
    """The sum of all shares. The unit's own label, and what the new part's paper says, come before it."""

    shares: tuple[Share, ...]
    low_ul: int
    typical_ul: int
    high_ul: int

    @property
    def is_range(self) -> bool:
        return self.low_ul != self.high_ul


def parts() -> dict[str, str]:
    """Parts that have an add-back rule: key to its name."""
    return {key: rule.label for key, rule in addbacks().items() if key not in NO_PARTS}


def oil_plan(replaced: Iterable[str], drained_from: Mapping[str, int | None], drained_in_recovery: int) -> OilPlan:
    """The oil to add. replaced: keys of `parts`; drained_from: what came out of an old part, uL, None where it was
    not measured; drained_in_recovery: uL. Sources: the rows of oil_addback.csv. LookupError for a part without a
    rule."""
    shares = []
    for key in replaced:
        rule = addback(key)
        drained = drained_from.get(key)
        unknown = rule.needs_drained and drained is None
        shares.append(_share(rule.label, rule.amount(Decimal(drained or 0) / UL), unknown))
    if not shares:
        shares.append(_share(addback("recharge").label, addback("recharge").amount()))
    shares.append(_share(addback("recovery").label, addback("recovery").amount(Decimal(drained_in_recovery) / UL)))
    return OilPlan(
        tuple(shares),
        sum(one.low_ul for one in shares),
        sum(one.typical_ul for one in shares),
        sum(one.high_ul for one in shares),
    )


def _share(label: str, amount: Amount, unknown: bool = False) -> Share:
    low, typical, high = (int(value * UL) for value in (amount.low_ml, amount.typical_ml, amount.high_ml))
    return Share(label, low, typical, high, amount.rule, str(amount.source.title), unknown)


def oil_doubt(unit_oil: str, bottle_oil: str, high_voltage: bool) -> tuple[str, bool] | None:
    """What is wrong with giving a unit oil of this bottle: the sentence, and whether it may not be. None: nothing.

    A high-voltage compressor has its windings in the oil: one that conducts puts the car's body under voltage, so
    only the oil that its label names goes in.
    """
    if high_voltage and not unit_oil:
        return (
            "The compressor is under high voltage: only the oil that its label names may go in. Enter that oil with "
            "the unit first.",
            True,
        )
    if not unit_oil or _same(unit_oil, bottle_oil):
        return None
    if high_voltage:
        why = _conducts(bottle_oil)
        return (
            f"The compressor is under high voltage and its label names {unit_oil}; {bottle_oil} must not go in. {why}"
            "Take a bottle of the oil named.",
            True,
        )
    return f"The unit takes {unit_oil}, and the bottle holds {bottle_oil}.", False


def _oil(text: str) -> Oil | None:
    try:
        return parse_oil(text)
    except UnknownOil:
        return None


def _same(one: str, other: str) -> bool:
    first, second = _oil(one), _oil(other)
    return one.strip().lower() == other.strip().lower() or (first is not None and first == second)


def _conducts(text: str) -> str:
    oil = _oil(text)
    return f"{oil.high_voltage_reason} " if oil and not oil.suits_high_voltage else ""
