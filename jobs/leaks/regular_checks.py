"""The questions about regular checks for leaks, and about those after repairs."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from inventory.reference.rule import System
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.leak_check import leak_check
from inventory.verdicts.leak_repair import Checked, check_again
from inventory.verdicts.verdict import Verdict
from jobs.drafts.models import Job
from jobs.leaks.leak_checks import Due, due
from jobs.leaks.models import LeakEvent
from jobs.units.models import Unit
from jobs.units.queries import full_charges
from jobs.units.systems import system_of

REPAIRED, TIGHT = "found and repaired", "none found"


@dataclass
class Visits:
    """What was checked on a unit, in order. last: the day of its last check that found it tight or was repaired.
    repairs: each with the days of the checks that were made after it."""

    last: dt.date | None = None
    repairs: list[tuple[dt.date, list[Checked]]] = field(default_factory=list)

    def checked(self, day: dt.date, *, whole: bool = True) -> None:
        """whole: of all of the unit, and not of what was repaired alone."""
        if whole:
            self.last = day
        for _, since in self.repairs:
            since.append(Checked(day))

    def repaired(self, day: dt.date) -> None:
        self.checked(day)
        self.repairs.append((day, []))


def visits_of_units(units: Iterable[int], day: dt.date) -> dict[int, Visits]:
    """What was checked on units up to a day, by their ids. Two questions, however many units there are."""
    ids = list(units)
    found = {unit: Visits() for unit in ids}
    jobs = Job.objects.filter(unit__in=ids, state="signed", day__lte=day, leak_result__in=[REPAIRED, TIGHT])
    rows = [(*row, "job") for row in jobs.values_list("day", "id", "unit_id", "leak_result").order_by()]
    events = LeakEvent.objects.filter(unit__in=ids, voided_on=None, day__lte=day).exclude(passed=False)
    events = events.filter(kind__in=["inspection", *LeakEvent.TESTS]).order_by()
    rows += [(*row, "event") for row in events.values_list("day", "id", "unit_id", "kind")]
    for on, _, unit, said, what in sorted(rows, key=lambda row: (row[0], row[4] == "event", row[1])):
        if said == REPAIRED:
            found[unit].repaired(on)
        else:
            found[unit].checked(on, whole=what == "job" or said == "inspection")
    return found


def systems_of(units: Sequence[Unit], day: dt.date) -> dict[Unit, System]:
    """Units as rules are asked about them, with their full charge as it was known on a day; where nobody entered one,
    with the most that the label says. One question, however many units there are."""
    charges = full_charges(units, day)
    found = {}
    for unit in units:
        mg, how = charges.get(unit.pk, (None, ""))
        found[unit] = system_of(unit, charge_mg=(unit.charge_most_mg or mg) if how == "label" else mg)
    return found


def regular_checks(units: Sequence[Unit], rules: Rulebook, day: dt.date) -> dict[Unit, Due]:
    """The next check of each unit of which one is asked for, or of which that cannot be judged. Three questions,
    however many units there are."""
    systems = systems_of(units, day)
    intervals = {unit: leak_check(rules, system, day) for unit, system in systems.items()}
    asked = {unit: one for unit, one in intervals.items() if one.rule is not None or one.verdict.is_open}
    visits = visits_of_units([unit.pk for unit in asked], day)
    found = {}
    for unit, interval in asked.items():
        seen = visits[unit.pk]
        again = _after_last(rules, systems[unit], seen, day)
        found[unit] = due(interval, again, last_checked=seen.last, today=day)
    return {unit: one for unit, one in found.items() if one.is_asked}


def _after_last(rules: Rulebook, system: System, seen: Visits, day: dt.date) -> Verdict | None:
    """The check after the last repair."""
    if not seen.repairs:
        return None
    repaired_on, since = seen.repairs[-1]
    return check_again(rules, system, repaired_on, since, day)
