"""From how much on the shop wants to buy more."""

from inventory.containers.models import Location
from inventory.ledger.actions import stated
from inventory.ledger.models import Substance
from inventory.supply.models import ReorderPoint


@stated
def set_reorder_point(substance: Substance, location: Location | None, least: int | None) -> None:
    """The least that should be on hand (mg or uL), at a place or in the whole shop; None takes it away."""
    if least:
        ReorderPoint.objects.update_or_create(substance=substance, location=location, defaults={"least": least})
        return
    for one in ReorderPoint.objects.filter(substance=substance, location=location):
        one.delete()
