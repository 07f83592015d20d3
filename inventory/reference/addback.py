"""Oil to add back after parts were replaced: ranges from service manuals. A unit's own label wins."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from types import MappingProxyType

from inventory.reference.lookup import listed, shown
from inventory.reference.sourced import Source, rows, source


@dataclass(frozen=True)
class AddbackBand:
    """What a manual adds in one band of the amount drained. All in mL.

    plus_drained: low, typical and high are added to the amount that was drained.
    """

    at_least_ml: Decimal | None
    over_ml: Decimal | None
    plus_drained: bool
    low_ml: Decimal
    typical_ml: Decimal
    high_ml: Decimal
    rule: str
    source: Source

    def holds(self, drained_ml: Decimal) -> bool:
        return (self.at_least_ml is None or drained_ml >= self.at_least_ml) and (
            self.over_ml is None or drained_ml > self.over_ml
        )


@dataclass(frozen=True)
class Amount:
    """Oil to add, mL: the range and what is typical, the rule in words and where it stands."""

    low_ml: Decimal
    typical_ml: Decimal
    high_ml: Decimal
    rule: str
    source: Source


@dataclass(frozen=True)
class Addback:
    """The rule for one part, in bands of the amount drained from it."""

    part: str
    label: str
    bands: tuple[AddbackBand, ...]

    @property
    def needs_drained(self) -> bool:
        """Whether the amount depends on what was drained from the old part."""
        return any(band.plus_drained for band in self.bands) or len(self.bands) > 1

    def amount(self, drained_ml: Decimal | int = 0) -> Amount:
        """Oil to add when drained_ml came out of the old part. ValueError where that is negative."""
        drained = Decimal(drained_ml)
        if drained < 0:
            raise ValueError("The amount drained cannot be negative.")
        band = next(band for band in reversed(self.bands) if band.holds(drained))
        base = drained if band.plus_drained else Decimal(0)
        low, typical, high = (base + added for added in (band.low_ml, band.typical_ml, band.high_ml))
        return Amount(low, typical, high, band.rule, band.source)


def _band(row: Mapping[str, str]) -> AddbackBand:
    def bound(column: str) -> Decimal | None:
        return Decimal(row[column]) if row[column] else None

    return AddbackBand(
        at_least_ml=bound("drained_at_least_ml"),
        over_ml=bound("drained_over_ml"),
        plus_drained=row["plus_drained"] == "yes",
        low_ml=Decimal(row["low_ml"]),
        typical_ml=Decimal(row["typical_ml"]),
        high_ml=Decimal(row["high_ml"]),
        rule=row["rule"],
        source=source(row["source"], row["confidence"], row["note"]),
    )


@cache
def addbacks() -> Mapping[str, Addback]:
    """The add-back rules by part."""
    bands: dict[str, list[AddbackBand]] = {}
    labels = {}
    for row in rows("oil_addback.csv"):
        bands.setdefault(row["part"], []).append(_band(row))
        labels[row["part"]] = row["label"]
    return MappingProxyType({part: Addback(part, labels[part], tuple(bands[part])) for part in bands})


def addback(part: str) -> Addback:
    """The add-back rule of a part. LookupError, with the parts there are, for any other."""
    if part not in addbacks():
        raise LookupError(f"{shown(part)} is no part with an add-back rule: write {listed(addbacks())}.")
    return addbacks()[part]
