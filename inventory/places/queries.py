"""The questions about places."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from django.contrib.auth import get_user_model
from django.db.models import Count, Q, QuerySet, Sum

from inventory.containers.models import Container, Location
from inventory.containers.queries import OURS, THEIRS_HERE
from inventory.shop.access import STAFF


@dataclass
class Standing:
    """What stands at a place. containers: how many of the shop's. held: (substance, whether an oil, mg or uL) of what
    is in them. kept: how many besides are for customers' gas, unknown: how many wait to be identified."""

    containers: int = 0
    kept: int = 0
    unknown: int = 0
    held: list[tuple[str, bool, int]] = field(default_factory=list)


def staff() -> QuerySet:
    """Those who work here and sign in."""
    return get_user_model().objects.filter(is_active=True, role__in=STAFF)


def standing_at(places: Iterable[Location]) -> Mapping[int, Standing]:
    """By the id of each place what stands there; one question, summed by the database."""
    here = Container.objects.filter(location__in=[one.pk for one in places], retired_on=None, void=False)
    rows = here.values("location_id", "substance__code", "substance__is_oil").order_by(
        "substance__is_oil", "substance__code"
    )
    found: dict[int, Standing] = defaultdict(Standing)
    for row in rows.annotate(
        ours=Count("pk", filter=OURS),
        theirs=Count("pk", filter=THEIRS_HERE),
        nobodys=Count("pk", filter=Q(unknown=True)),
        held=Sum("account__balance", filter=OURS),
    ):
        place = found[row["location_id"]]
        place.containers += row["ours"]
        place.kept += row["theirs"]
        place.unknown += row["nobodys"]
        if row["held"]:
            place.held.append((row["substance__code"], bool(row["substance__is_oil"]), int(row["held"])))
    return found
