"""Rules about records: which are kept, what stands in them, and how long."""

from dataclasses import dataclass, field
from datetime import date

from inventory.reference.rule import RECORDS, Rule, selects_equipment


@dataclass(frozen=True, kw_only=True)
class Retention(Rule):
    """How many years records are kept. records: keys of RECORDS or "*".

    counted_from: the record's own day, or the end of what it is about (work, employment, use).
    """

    records: tuple[str, ...]
    years: int
    counted_from: str = field(default="record", metadata={"words": ("record", "end")})

    def may_go_from(self, day: date) -> date:
        """The first day on which a record of that day (or ended on it) need not be there any more."""
        try:
            return day.replace(year=day.year + self.years)
        except ValueError:  # 29 February, and there is none that year
            return date(day.year + self.years, 3, 1)


@dataclass(frozen=True, kw_only=True)
class RecordKept(Rule):
    """A record that must be kept, and what must stand in it."""

    record: str = field(metadata={"words": tuple(RECORDS)})
    title: str
    fields: tuple[str, ...]
    equipment: tuple[str, ...] = ("*",)
    charge_over_mg: int | None = None
    charge_below_mg: int | None = None

    def asked_for(self, equipment: str | None = None, charge_mg: int | None = None) -> bool:
        """Whether it is asked for with that equipment and charge; what is not known does not take it away."""
        if equipment is not None and not selects_equipment(self.equipment, equipment):
            return False
        return charge_mg is None or (
            (self.charge_over_mg is None or charge_mg > self.charge_over_mg)
            and (self.charge_below_mg is None or charge_mg < self.charge_below_mg)
        )
