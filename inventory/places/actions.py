"""The verbs about places."""

from inventory.containers.models import Location
from inventory.ledger.actions import stated
from inventory.places.queries import staff
from inventory.text.refusal import Refused


@stated
def give_place(*, name: str, keeper: str) -> Location:
    """With whom a place is from now on, by username; blank: with nobody. Nothing that stands there moves. Raises
    Refused for a place that is closed, and for somebody who does not work here."""
    place = Location.objects.select_for_update().get(name=name)
    if place.closed:
        raise Refused(f"{place.name} is closed; name a place that is in use.", "keeper")
    if keeper and not staff().filter(username=keeper).exists():
        raise Refused(f"Nobody who works here signs in as {keeper}; choose somebody of the list.", "keeper")
    place.keeper = keeper
    place.save(update_fields=["keeper"])
    return place
