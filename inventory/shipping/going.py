"""What a shipment comes to, said before it is posted."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from inventory.containers.models import Container


@dataclass(frozen=True)
class Going:
    """A container of a shipment that is asked about. quantity: what of it goes, mg or uL; None: all."""

    container: Container
    quantity: int | None

    @property
    def goes(self) -> int:
        return self.container.content if self.quantity is None else self.quantity

    @property
    def stays(self) -> int:
        return self.container.content - self.goes


def totals_going(going: Iterable[Going]) -> list[dict[str, object]]:
    """By substance what goes in all, mg or uL, and out of how many."""
    found: dict[str, dict] = {}
    for one in going:
        substance = one.container.substance
        row = found.setdefault(substance.code, {"substance": substance, "goes": 0, "count": 0})
        row["goes"] += one.goes
        row["count"] += 1
    return [found[code] for code in sorted(found)]


def mark_of(data: Mapping[str, object], parcels: Mapping[str, int | None]) -> str:
    """What was shown when it was asked: a form that says something else by now is asked about anew."""
    said = [data["purpose"], data["party"].pk, data["containers_go"], data["day"].isoformat(), sorted(parcels.items())]
    return json.dumps(said)
