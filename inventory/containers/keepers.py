"""What a place is called on a page, with whom it is."""

from collections.abc import Iterable
from functools import cached_property

from django.contrib.auth import get_user_model

from inventory.containers.models import Location


class PlaceWords:
    """What places are called on one page, e.g. `Van 2, with Tara Voss`. One question, and none where no place that is
    asked for is anybody's. Their `location` must be loaded."""

    @cached_property
    def _names(self) -> dict[str, str]:
        kept = Location.objects.exclude(keeper="").values("keeper")
        return dict(get_user_model().objects.filter(username__in=kept).values_list("username", "name"))

    def of(self, place: Location | None) -> str:
        """Blank where it is not known."""
        if place is None or not place.keeper:
            return place.name if place else ""
        return f"{place.name}, with {self.keeper(place)}"

    def keeper(self, place: Location) -> str:
        """Who keeps it: their name, or the username where nobody has that any more; blank where it is nobody's."""
        return (self._names.get(place.keeper) or place.keeper) if place.keeper else ""


def place_of(person: object, places: Iterable[Location] | None = None) -> Location | None:
    """The place of a person, from which a new job of theirs is planned where nothing else was chosen: the first by
    name, of those that are in use. places: all of them, where they are at hand already; nothing is asked then."""
    if places is None:
        places = Location.objects.filter(keeper=person.username, closed=False)
    own = (one for one in places if one.keeper == person.username and not one.closed)
    return min(own, key=lambda one: one.name, default=None)
