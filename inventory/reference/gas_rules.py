"""Rules about what may be charged: by where the refrigerant came from, and by its GWP and grade."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal

from inventory.reference.rule import DESTINATIONS, ENFORCEMENTS, GRADES, Gas, Scoped, selects_equipment

# What the label of a container can say of how its content was worked on (Regulation (EU) 2024/573 article 12(7), (8)).
LABELS = ("recycled", "reclaimed", "for destruction only")

# Under this much of one refrigerant it is not recovered for use again, where the rulebook names no figure.
# SAE J2099: identified as at least 98 % before it is recycled.
PURITY_LEAST_PERCENT = 98.0

# What lets refrigerant be charged that is banned otherwise.
CONDITIONS = {
    "labelled": "its container's label says the grade and, where the gas is reclaimed, the batch and the facility",
    "own": "it was recovered by this undertaking, or for it",
    "such-equipment": "it was recovered from equipment under the same rule",
}


def is_labelled(grade: str, label_says: str, batch: str, facility: str) -> bool:
    """Whether a container's label says what it must of a grade: recycled; or reclaimed, with the number of the batch
    and the facility. Of any other grade nothing need be said."""
    if grade == "reclaimed":
        return label_says == grade and bool(batch and facility)
    return grade != "recycled" or label_says == grade


def _any_selected(selectors: tuple[str, ...], kinds: Iterable[str]) -> bool:
    return any(selects_equipment(selectors, kind) for kind in kinds)


@dataclass(frozen=True, kw_only=True)
class Reuse(Scoped):
    """Grades of refrigerant that may be charged, by the way from the unit it came from to that it goes to. origins:
    selectors of equipment: it is about what came out of such equipment, in part too; "*": wherever it came from.
    charge_at_most_mg: equipment with no more than that."""

    grades: tuple[str, ...] = field(metadata={"words": GRADES})
    destinations: tuple[str, ...] = field(default=DESTINATIONS, metadata={"words": DESTINATIONS})
    origins: tuple[str, ...] = field(default=("*",), metadata={"selectors": "equipment"})
    charge_at_most_mg: int | None = None
    enforcement: str = field(default="warn", metadata={"words": ENFORCEMENTS})

    def came_from(self, gas: Gas) -> bool:
        """Whether it is about what came from there, as far as that is known."""
        return gas.destination in self.destinations and (
            "*" in self.origins or _any_selected(self.origins, gas.origins)
        )


@dataclass(frozen=True, kw_only=True)
class ServiceBan(Scoped):
    """Refrigerant that may not be charged any more: of these grades, on this way from the unit it came from, with a GWP
    of at least that, into equipment whose charge is at least so many tonnes of CO₂ equivalent. unless_gas: of
    CONDITIONS, which lift the ban where all of them hold."""

    grades: tuple[str, ...] = field(metadata={"words": GRADES})
    destinations: tuple[str, ...] = field(default=DESTINATIONS, metadata={"words": DESTINATIONS})
    gwp_at_least: Decimal | None = None
    charge_co2e_at_least_t: Decimal | None = None
    unless_gas: tuple[str, ...] = field(default=(), metadata={"words": tuple(CONDITIONS)})
    enforcement: str = field(default="warn", metadata={"words": ENFORCEMENTS})

    def is_about(self, gas: Gas) -> bool:
        return gas.grade in self.grades and gas.destination in self.destinations

    def from_such_equipment(self, gas: Gas) -> bool:
        """Whether all of it came out of equipment that the rule is about."""
        return all(selects_equipment(self.equipment, kind) for kind in gas.origins)
