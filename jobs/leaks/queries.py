"""The questions about leaks: when a unit is checked next, what happened about them. Leak rates: case_queries.py."""

import datetime as dt
from dataclasses import dataclass

from django.db.models import Q, QuerySet

from inventory.reference.rulebook import Rulebook
from jobs.drafts.models import Job
from jobs.drafts.queries import jobs_for, visits_of
from jobs.leaks.leak_checks import Due
from jobs.leaks.models import LeakEvent
from jobs.leaks.regular_checks import regular_checks
from jobs.people.models import Person
from jobs.units.models import Unit


@dataclass(frozen=True)
class CheckOf:
    """A unit and the check for leaks that is due on it."""

    unit: Unit
    check: Due


def check_of(unit: Unit, rules: Rulebook, day: dt.date) -> Due:
    """The next check of one unit."""
    found = _checks([unit], rules, day)
    return found[0].check if found else Due(None, "no regular check is asked for")


def checks_due(rules: Rulebook, day: dt.date) -> list[CheckOf]:
    """Units that the rulebook asks to be checked for leaks regularly, the most pressing first, and last those of which
    that cannot be judged. The number of statements is constant."""
    kinds = {kind.partition("/")[0] for rule in rules.section("leak_check", day) for kind in rule.equipment}
    if not kinds:
        return []
    units = Unit.objects.exclude(refrigerant="").select_related("customer")
    units = units.filter(Q(retired_on=None) | Q(retired_on__gt=day))
    if "*" not in kinds:
        units = units.filter(kind__in=kinds)
    return sorted(_checks(list(units), rules, day), key=lambda one: (one.check.order, one.unit.code))


def _checks(units: list[Unit], rules: Rulebook, day: dt.date) -> list[CheckOf]:
    checks = regular_checks([unit for unit in units if unit.refrigerant], rules, day)
    return [CheckOf(unit, check) for unit, check in checks.items()]


def all_events_of(unit: Unit) -> QuerySet[LeakEvent]:
    """What happened about the leaks of a unit, void events too, the latest first, with who did it and the visit."""
    return LeakEvent.objects.filter(unit=unit).select_related("person", "job").order_by("-day", "-id")


def visits_to_name(unit: Unit, person: Person, most: int = 20) -> list[Job]:
    """The visits of a unit that an event may belong to: the latest signed ones, and the drafts that this person may
    see."""
    drafts = jobs_for(person).filter(unit=unit, state="draft").order_by("-day", "-id")
    return [*drafts[:most], *visits_of(unit.pk, most)]
