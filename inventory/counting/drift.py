"""Differences of one scale, or at one place, over time."""

import datetime as dt

from inventory.containers.models import Location, Scale
from inventory.counting.queries import RECORDED, standing
from inventory.counting.whose import whose
from inventory.paper import control
from inventory.paper.chart import Picture
from inventory.reference.kinds import with_trait

MOST = 200  # weighings that can be told apart; the latest of a period


def drift(of: Scale | Location, first: dt.date, last: dt.date, theirs: bool = False) -> Picture | None:
    """The weighings of refrigerant of a period, in the order of time, each with its difference and its tolerance; of a
    place those of the containers that stand there now. None where nothing was weighed. One question."""
    found = whose(standing(last), theirs).filter(day__gte=first, role__in=RECORDED)
    found = found.filter(scale=of) if isinstance(of, Scale) else found.filter(container__location=of)
    found = found.exclude(container__kind__in=with_trait("is_oil")).exclude(outcome="tare taken")
    rows = found.order_by("-position", "-line").values_list("day", "container__code", "difference", "tolerance")[:MOST]
    weighings = [control.Weighed(*row) for row in rows if row[3] is not None][::-1]
    if not weighings:
        return None
    name = f"scale {of.code}" if isinstance(of, Scale) else of.name
    return control.picture(f"Differences of {name} beside what weighing explains", weighings)
