"""Rules about containers: what may be filled, how far, how often it is tested, and what a small can is."""

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from inventory.reference.kinds import KINDS, with_trait
from inventory.reference.rule import ENFORCEMENTS, Rule

CONTAINER_KINDS = tuple(KINDS)

SAFE_FILL_METHODS = {
    "share-of-liquid": "a share of the water capacity × the liquid density at a temperature",
    "p200": "the filling ratio of ADR P200, from table 2 or by (5)(c)",
    "liquid-full": "not full of liquid at a temperature",
    "filling-density": "the filling density of 49 CFR 173.304a(a)(2)",
}


@dataclass(frozen=True, kw_only=True)
class SingleUse(Rule):
    """Containers into which no refrigerant may go, neither from another container nor by recovery."""

    kinds: tuple[str, ...] = field(metadata={"words": CONTAINER_KINDS})
    enforcement: str = field(default="refuse", metadata={"words": ENFORCEMENTS})


@dataclass(frozen=True, kw_only=True)
class Retest(Rule):
    """How often a container is tested. years: what to suggest where the container's stamp names no day.
    tare_loss_percent: one whose tare is down by so much or more is tested again before its day."""

    kinds: tuple[str, ...] = field(metadata={"words": CONTAINER_KINDS})
    years: int
    fill_when_overdue: bool = False
    use_when_overdue: bool = True
    through_month_end: bool = True
    tare_loss_percent: Decimal | None = None
    enforcement: str = field(default="refuse", metadata={"words": ENFORCEMENTS})


@dataclass(frozen=True, kw_only=True)
class SmallCan(Rule):
    """Small cans: the most they are made to hold, and whether buying them needs a certificate.

    self_sealing_from: cans made on or after that day close by themselves and leak at most that many g a year.
    """

    holds_most_mg: int | None = None
    holds_below_mg: int | None = None
    substances: tuple[str, ...] = ("*",)
    needs_certificate: bool
    self_sealing_from: date | None = None
    leak_most_g_year: Decimal | None = None

    def is_small(self, designed_for_mg: int) -> bool:
        return (self.holds_most_mg is None or designed_for_mg <= self.holds_most_mg) and (
            self.holds_below_mg is None or designed_for_mg < self.holds_below_mg
        )


@dataclass(frozen=True, kw_only=True)
class SafeFill(Rule):
    """One limit on what a refillable container may hold; the lowest limit governs. share: a fraction."""

    method: str = field(metadata={"words": tuple(SAFE_FILL_METHODS)})
    at_celsius: Decimal | None = None
    share: Decimal | None = None
    kinds: tuple[str, ...] = field(default=tuple(with_trait("refillable")), metadata={"words": CONTAINER_KINDS})

    def __post_init__(self) -> None:
        if self.method in ("share-of-liquid", "liquid-full") and self.at_celsius is None:
            raise ValueError(f"at_celsius: is missing: {self.method} needs a temperature.")
        if self.method == "share-of-liquid" and not (self.share and 0 < self.share <= 1):
            raise ValueError("share: write a fraction above 0 and up to 1.")
