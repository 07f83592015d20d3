"""Where the refrigerant in a container came from, and whose equipment it goes into."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from django.db import connection

from inventory.ledger.accounts import HOLDING_SQL, AccountClass
from inventory.reference.rule import Gas
from jobs.units.models import Unit

# Through containers that it was decanted from, back to where these were filled. What was taken back counts for nothing.
CAME_FROM = f"""
WITH RECURSIVE came(code, cls, name) AS (
  SELECT t.name, s.cls, s.name FROM inventory_movement m
  JOIN inventory_account t ON t.id = m.target_id JOIN inventory_account s ON s.id = m.source_id
  WHERE m.target_class IN ({HOLDING_SQL}) AND m.reversal = %s AND t.name IN ({{marks}})
    AND NOT (s.cls IN ({HOLDING_SQL}) AND s.name = t.name)
    AND NOT EXISTS (SELECT 1 FROM inventory_voucher r WHERE r.reverses_id = m.voucher_id)
  UNION
  SELECT came.code, s.cls, s.name FROM came
  JOIN inventory_account t ON t.cls IN ({HOLDING_SQL}) AND t.name = came.name
  JOIN inventory_movement m ON m.target_id = t.id JOIN inventory_account s ON s.id = m.source_id
  WHERE came.cls IN ({HOLDING_SQL}) AND m.reversal = %s AND NOT (s.cls IN ({HOLDING_SQL}) AND s.name = came.name)
    AND NOT EXISTS (SELECT 1 FROM inventory_voucher r WHERE r.reverses_id = m.voucher_id)
)
SELECT code, cls, name FROM came WHERE cls NOT IN ({HOLDING_SQL})
"""

USED = {"recovered", "recycled"}  # grades of refrigerant that came out of a unit
DIFFERENCES = {AccountClass.WEIGHING_DIFFERENCE, AccountClass.UNEXPLAINED_GAIN}  # weighing again brings nothing in

Source = tuple[int, str]  # account class and name


@dataclass(frozen=True)
class Origins:
    """Where the content of containers came from, by their codes. units: (equipment, customer) of each unit, by its
    code."""

    of: Mapping[str, set[Source]]
    units: Mapping[str, tuple[str, int | None]]

    def gas(self, unit: Unit, code: str, grade: str, labelled: bool) -> Gas:
        """What a container holds, on its way into a unit."""
        if grade not in USED:
            return Gas(grade, labelled=labelled)
        own = _own(self.of.get(code, set()))
        return Gas(grade, self.destination(unit, code), self.kinds(code), own, labelled)

    def kinds(self, code: str) -> frozenset[str]:
        """The kinds of the units that a container's content came out of, as far as it came out of units."""
        sources = self.of.get(code, set())
        return frozenset(
            self.units[name][0] for cls, name in sources if cls == AccountClass.UNIT and name in self.units
        )

    def destination(self, unit: Unit, code: str) -> str:
        """Where a container's content goes when it is charged into the unit, seen from where it came from: the same
        unit, another of the same owner, or somebody else's (also where that is not known)."""
        sources = self.of.get(code, set())
        names = {name for _, name in sources}
        if not sources or any(cls != AccountClass.UNIT for cls, _ in sources):
            return "other-owner"
        if names == {unit.code}:
            return "same-unit"
        owners = {self.units.get(name, ("", None))[1] for name in names}
        return "same-owner" if unit.customer_id is not None and owners == {unit.customer_id} else "other-owner"


def _own(sources: set[Source]) -> bool | None:
    """Whether this shop recovered it: all of it out of units, or some of it bought. None: it was there before the
    ledger began."""
    if any(cls == AccountClass.SUPPLIER for cls, _ in sources):
        return False
    return True if sources and all(cls == AccountClass.UNIT for cls, _ in sources) else None


def origins_of(codes: Collection[str], recovered: Mapping[str, Unit] | None = None) -> Origins:
    """Of containers of refrigerant that came out of a unit (USED), all in two questions. recovered: what is recovered
    into a container by an entry that is not posted yet, by its code."""
    found: dict[str, set[Source]] = {code: set() for code in codes}
    if not found:
        return Origins({}, {})
    with connection.cursor() as cursor:
        cursor.execute(CAME_FROM.format(marks=", ".join(["%s"] * len(found))), [False, *found, False])
        for code, cls, name in cursor.fetchall():
            if cls not in DIFFERENCES:
                found[code].add((cls, name))
    for code, unit in (recovered or {}).items():
        if code in found:
            found[code].add((AccountClass.UNIT, unit.code))
    names = {name for sources in found.values() for cls, name in sources if cls == AccountClass.UNIT}
    return Origins(found, {unit.code: (unit.equipment, unit.customer_id) for unit in _units(names)})


def _units(codes: Collection[str]) -> Collection[Unit]:
    return Unit.objects.filter(code__in=codes).defer("search", "likeness", "note")


def equipment_of(codes: Collection[str]) -> dict[str, frozenset[str]]:
    """The kinds of equipment that the content of containers came out of; none where some of it came from elsewhere, or
    where that is not known."""
    origins = origins_of(codes)
    return {code: origins.kinds(code) if _own(sources) else frozenset() for code, sources in origins.of.items()}
