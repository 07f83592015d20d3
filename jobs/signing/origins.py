"""Where the refrigerant in a container came from, and whose equipment it goes into."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from django.db import connection

from inventory.ledger.accounts import AccountClass
from jobs.drafts.models import Job
from jobs.units.models import Unit

CAME_FROM = """
SELECT DISTINCT t.name, s.cls, s.name FROM inventory_movement m JOIN inventory_account t ON t.id = m.target_id
JOIN inventory_account s ON s.id = m.source_id
WHERE m.target_class = 1 AND m.reversal = %s AND t.name IN ({marks}) AND NOT (s.cls = 1 AND s.name = t.name)
"""


@dataclass(frozen=True)
class Origins:
    """Where the content of containers came from: code to (account class, name) of each; customers of the units."""

    of: Mapping[str, set[tuple[int, str]]]
    owners: Mapping[str, int | None]


def origins_of(codes: Collection[str]) -> Origins:
    """Of containers of refrigerant that came out of a unit (USED), all in two questions."""
    found: dict[str, set[tuple[int, str]]] = {code: set() for code in codes}
    if not found:
        return Origins({}, {})
    with connection.cursor() as cursor:
        cursor.execute(CAME_FROM.format(marks=", ".join(["%s"] * len(found))), [False, *found])
        for code, cls, name in cursor.fetchall():
            if cls not in DIFFERENCES:
                found[code].add((cls, name))
    units = {name for sources in found.values() for cls, name in sources if cls == AccountClass.UNIT}
    return Origins(found, dict(Unit.objects.filter(code__in=units).values_list("code", "customer_id")))


def destination(unit: Unit, code: str, origins: Origins) -> str:
    """Where a container's content goes when it is charged into the unit, seen from where it came from: the same unit,
    another of the same owner, or somebody else's (also where that is not known)."""
    sources = origins.of[code]
    names = {name for _, name in sources}
    if not sources or any(cls != AccountClass.UNIT for cls, _ in sources):
        return "other-owner"
    if names == {unit.code}:
        return "same-unit"
    same = unit.customer_id is not None and {origins.owners.get(name) for name in names} == {unit.customer_id}
    return "same-owner" if same else "other-owner"


def destinations_of(job: Job, codes: Collection[str]) -> dict[str, str]:
    """The `destination` of each container that a job charges from."""
    origins = origins_of(codes)
    return {code: destination(job.unit, code, origins) for code in codes}


USED = {"recovered", "recycled"}  # grades of refrigerant that came out of a unit


DIFFERENCES = {AccountClass.WEIGHING_DIFFERENCE, AccountClass.UNEXPLAINED_GAIN}  # weighing again brings nothing in
