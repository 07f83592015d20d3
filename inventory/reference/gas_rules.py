"""Rules about what may be charged: by where the refrigerant came from, and by its GWP and grade."""

from dataclasses import dataclass, field
from decimal import Decimal

from inventory.reference.rule import DESTINATIONS, ENFORCEMENTS, GRADES, Scoped

# What the label of a container can say of how its content was worked on (Regulation (EU) 2024/573 article 12(7), (8)).
LABELS = ("recycled", "reclaimed", "for destruction only")


def is_labelled(grade: str, label_says: str, batch: str, facility: str) -> bool:
    """Whether a container's label says what it must of a grade: recycled; or reclaimed, with the number of the batch
    and the facility. Of any other grade nothing need be said."""
    if grade == "reclaimed":
        return label_says == grade and bool(batch and facility)
    return grade != "recycled" or label_says == grade


@dataclass(frozen=True, kw_only=True)
class Reuse(Scoped):
    """Grades of refrigerant that may be charged, by the way from the unit it came from to that it goes to."""

    grades: tuple[str, ...] = field(metadata={"words": GRADES})
    destinations: tuple[str, ...] = field(default=DESTINATIONS, metadata={"words": DESTINATIONS})
    enforcement: str = field(default="warn", metadata={"words": ENFORCEMENTS})


@dataclass(frozen=True, kw_only=True)
class ServiceBan(Scoped):
    """Refrigerant that may not be charged any more: of these grades, with a GWP of at least that."""

    grades: tuple[str, ...] = field(metadata={"words": GRADES})
    gwp_at_least: Decimal | None = None
    enforcement: str = field(default="warn", metadata={"words": ENFORCEMENTS})
