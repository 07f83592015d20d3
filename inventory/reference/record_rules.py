"""Rules about records: which are kept, by whom, what stands in them, and how long."""

from dataclasses import dataclass, field
from datetime import date

from inventory.reference.rule import BEARS_NOT, GRADES, RECORDS, Bearing, Scoped, System

# Who keeps a record.
KEEPERS = {
    "owner": "the owner or operator of the equipment",
    "contractor": "the company that does the work",
    "technician": "the person who does the work",
    "buyer": "whoever buys the refrigerant",
    "sender": "whoever sends the refrigerant away",
}

# What a record may have to say, in words that go on after "it does not say".
FIELDS = {
    "address": "where it stands",
    "added": "how much refrigerant was added",
    "added-at-installation": "how much was added at the installation",
    "certificate": "the certificate it was done under",
    "certificate-number": "the number of the certificate",
    "charge-how": "how its full charge was found",
    "charge-range": "the range of its full charge, its middle and how it was found",
    "charge-revisions": "how its full charge was changed, and when",
    "company": "which company it was",
    "container": "which containers it was",
    "day": "the day",
    "document": "the number of the document",
    "expiry": "the last valid day of the certificate",
    "facility": "name and address of the facility that recycled or reclaimed it",
    "facility-certificate": "the certificate number of that facility",
    "full-charge": "its full charge",
    "grade": "whether it was recycled or reclaimed",
    "installed-on": "the day it was installed",
    "issued": "the day the certificate was issued",
    "leak-rate": "its leak rate",
    "leak-rate-method": "how the leak rate is worked out",
    "monthly-total": "how much was recovered in each month",
    "owner": "whose it is",
    "part-work": "what was done to each part",
    "parts": "which parts were worked on",
    "person": "who did it",
    "person-responsible": "who is responsible for it",
    "purpose": "what it was sent for",
    "quantity": "how much it was",
    "recovered": "how much was recovered",
    "repair": "what was repaired",
    "result": "what was found",
    "scheme": "the programme of the certificate",
    "sent": "how much was sent away, to whom and when",
    "substance": "which refrigerant it was",
    "type": "what kind of equipment it is",
    "unit": "which unit it was",
    "who": "name and address of the other side",
}


@dataclass(frozen=True, kw_only=True)
class ByCharge(Scoped):
    """A rule about systems whose full charge lies within limits: at least and below, or over."""

    charge_at_least_mg: int | None = None
    charge_over_mg: int | None = None
    charge_below_mg: int | None = None

    def bears_on(self, system: System) -> Bearing:
        own, charge = super().bears_on(system), system.charge_mg
        limits = (self.charge_at_least_mg, self.charge_over_mg, self.charge_below_mg)
        if own.holds is False or all(limit is None for limit in limits):
            return own
        if charge is None:
            return Bearing(None, (*own.asks, "what its full charge is"))
        least, over, below = limits
        outside = (least is not None and charge < least) or (over is not None and charge <= over)
        return BEARS_NOT if outside or (below is not None and charge >= below) else own


@dataclass(frozen=True, kw_only=True)
class Retention(ByCharge):
    """How many years records are kept. records: keys of RECORDS or "*"; of equipment, where its kind and charge count.

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
class RecordKept(ByCharge):
    """A record that must be kept, by whom (of KEEPERS), and what must stand in it (fields: of FIELDS). grades: only
    where refrigerant of one of them was added. leak_checked: only for equipment that must be checked for leaks."""

    record: str = field(metadata={"words": tuple(RECORDS)})
    title: str
    by: str = field(metadata={"words": tuple(KEEPERS)})
    fields: tuple[str, ...] = field(metadata={"words": tuple(FIELDS)})
    grades: tuple[str, ...] = field(default=("*",), metadata={"words": ("*", *GRADES)})
    leak_checked: bool = False

    def about_grades(self, grades: frozenset[str]) -> bool:
        """Whether it is asked for where refrigerant of these grades was added."""
        return "*" in self.grades or not grades.isdisjoint(self.grades)
