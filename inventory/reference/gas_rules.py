"""Rules about what may be charged: by where the refrigerant came from, and by its GWP and grade."""

from dataclasses import dataclass, field
from decimal import Decimal

from inventory.reference.rule import DESTINATIONS, ENFORCEMENTS, GRADES, Scoped


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
