"""What leak rates and cases are worked out from, read for many units at once: a constant number of statements, and only
units that a limit may apply to."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Exists, Max, OuterRef, Q, QuerySet

from inventory.ledger.models import stands
from inventory.reference.refrigerants import refrigerants
from inventory.reference.rule import selects_substance
from inventory.reference.rulebook import Rulebook
from inventory.shop.clock import zone
from jobs.drafts.models import Job, JobLine
from jobs.leaks.case import Appliance, Case, Judged, cases, judged
from jobs.leaks.chronic import Chronic, chronic_years
from jobs.leaks.events import in_order
from jobs.leaks.leak_rate import ByDay, Event, Visit, history
from jobs.leaks.models import LeakEvent
from jobs.units.models import FullCharge, LeakRateMethod, Unit
from jobs.units.systems import system_of

LABEL = dt.date.min  # what the label says counts until a full charge is entered


def limited(rules: Rulebook, day: dt.date) -> QuerySet[Unit]:
    """Units that a limit on the leak rate may apply to on a day, by their kind, refrigerant and charge; it is asked of
    the rules themselves only of these. Units whose full charge nobody knows are among them."""
    limits = rules.section("leak_rate", day)
    if not limits:
        return Unit.objects.none()
    kinds = Q()
    for selector in {one for limit in limits for one in limit.equipment}:
        kinds |= _of_kind(selector)
    gases = [name for name in refrigerants() if any(selects_substance(one.substances, name) for one in limits)]
    least = min(one.full_charge_at_least_mg or 0 for one in limits)
    entered = FullCharge.objects.filter(unit=OuterRef("pk"))
    unknown = Q(charge_min_mg=None, charge_nominal_mg=None, charge_max_mg=None)
    large = Q(charge_nominal_mg__gte=least) | Q(charge_max_mg__gte=least) | Q(charge_min_mg__gte=least)
    return Unit.objects.filter(kinds, Exists(entered) | unknown | large, refrigerant__in=gases)


def _of_kind(selector: str) -> Q:
    """Units of an equipment selector, or more: the rules are asked of what is found."""
    kind, _, exactly = selector.partition("/")
    if kind == "*":
        return ~Q(kind="")
    if kind == "stationary" or exactly == "*":  # what serves a process changes the kind of stationary equipment
        return Q(kind=kind)
    return Q(kind=kind, exactly=exactly)


def charged(units: QuerySet[Unit]) -> QuerySet[Unit]:
    """Of units those to which a signed job added something: the others have no leak rate."""
    return units.filter(Exists(Job.objects.filter(unit=OuterRef("pk"), state="signed", charged_mg__gt=0)))


def appliances(units: Iterable[Unit], through: dt.date, also: Job | None = None) -> dict[int, Appliance]:
    """Each unit with its history as it stood at the end of a day, whatever was corrected since; by its id. At most
    five statements, however many units there are. also: a job that is being signed, and not saved as such yet."""
    wanted = list(units)
    keys = [unit.pk for unit in wanted]
    events = _events(keys, through)
    visits = _visits(keys, [unit for unit, ones in events.items() if any(one.at for one in ones)], through, also)
    charges, methods = _charges(keys, through), _methods(wanted, through)
    return {
        unit.pk: Appliance(
            system_of(unit),
            history(visits.get(unit.pk, ()), events.get(unit.pk, ())),
            ByDay((*_label(unit), *charges.get(unit.pk, ()))),
            ByDay(tuple(methods.get(unit.premises_id, ()))),
            unit.retired_on,
        )
        for unit in wanted
    }


def _label(unit: Unit) -> list[tuple[dt.date, int]]:
    return [] if unit.label_charge is None else [(LABEL, unit.label_charge[0])]


VISIT = (
    *("id", "unit_id", "number", "day", "charged_mg", "recovered_mg", "charge_why", "recover_why", "same_leak"),
    *("seasonal_statement", "loaded"),
)


def _visits(units: list[int], timed: list[int], through: dt.date, also: Job | None) -> dict[int, list[Visit]]:
    """Visits of units. timed: those of which the time of a charge matters, since a test has one too."""
    jobs = Job.objects.filter(stands("voucher__", through), voucher__day__lte=through, unit__in=units)
    times = _charge_times(timed)
    here = zone() if times else None
    found: dict[int, list[Visit]] = {}
    rows = list(jobs.values(*VISIT))
    if also is not None:  # what it corrects is taken back with it
        rows = [one for one in rows if one["id"] != also.corrects_id] + [{name: getattr(also, name) for name in VISIT}]
    for one in sorted(rows, key=lambda row: (row["day"], row["id"])):
        at = times.get(one["id"])
        known = at is not None and not one["loaded"] and at.astimezone(here).date() == one["day"]
        found.setdefault(one["unit_id"], []).append(
            Visit(
                one["day"],
                one["charged_mg"],
                one["recovered_mg"],
                one["charge_why"],
                one["recover_why"],
                one["same_leak"],
                at if known else None,  # entered on another day: nobody knows when
                bool(one["seasonal_statement"]),
                one["number"],
            )
        )
    return found


def _charge_times(units: list[int]) -> dict[int, dt.datetime]:
    """When the last charge of each job was weighed, by the job's id."""
    if not units:
        return {}
    lines = JobLine.objects.filter(job__unit__in=units, action="charge").order_by()
    return dict(lines.values_list("job").annotate(at=Max("entered_at")))


def _events(units: list[int], through: dt.date) -> dict[int, list[Event]]:
    rows = LeakEvent.objects.filter(Q(voided_on=None) | Q(voided_on__gt=through), unit__in=units, day__lte=through)
    by_unit: dict[int, list[LeakEvent]] = {}
    for one in rows.order_by("day", "id"):
        by_unit.setdefault(one.unit_id, []).append(one)
    return {unit: [_event(one) for one in in_order(ones)] for unit, ones in by_unit.items()}


def _event(one: LeakEvent) -> Event:
    return Event(one.kind, one.day, one.at, one.passed, bool(one.all_leaks), bool(one.evacuated), one.until, key=one.pk)


def _charges(units: list[int], through: dt.date) -> dict[int, list[tuple[dt.date, int]]]:
    rows = FullCharge.objects.filter(unit__in=units, from_day__lte=through).order_by("from_day", "id")
    found: dict[int, list[tuple[dt.date, int]]] = {}
    for unit, since, mg in rows.values_list("unit_id", "from_day", "mg"):
        found.setdefault(unit, []).append((since, mg))
    return found


def _methods(units: list[Unit], through: dt.date) -> dict[int | None, list[tuple[dt.date, str]]]:
    where = {unit.premises_id for unit in units if unit.premises_id is not None}
    rows = LeakRateMethod.objects.filter(premises__in=where, from_day__lte=through).order_by("from_day", "id")
    found: dict[int | None, list[tuple[dt.date, str]]] = {}
    for premises, since, method in rows.values_list("premises_id", "from_day", "method"):
        found.setdefault(premises, []).append((since, method))
    return found


@dataclass(frozen=True)
class Leaks:
    """A unit with its leak rates, cases and years of very much loss, up to a day."""

    unit: Unit
    appliance: Appliance
    judged: list[Judged]
    cases: list[Case]
    chronic: list[Chronic]

    @property
    def latest(self) -> list[Judged]:
        """The rate at the last addition, against each limit."""
        last = self.judged[-1].addition if self.judged else None
        return [one for one in self.judged if one.addition is last]

    def case_of(self, one: Judged) -> Case | None:
        """The case that the excess of an addition opened or fell into."""
        return next((case for case in self.cases if one == case.opened or one in case.again), None)


def leaks_of(units: Iterable[Unit], rules: Rulebook, day: dt.date) -> list[Leaks]:
    """The leak rates of units, as they stood at the end of a day. At most five statements."""
    wanted = list(units)
    found = appliances(wanted, day)
    return [leaks_from(unit, found[unit.pk], rules, day) for unit in wanted]


def leaks_from(unit: Unit, appliance: Appliance, rules: Rulebook, day: dt.date) -> Leaks:
    """The leak rates of a unit, from what was read of it."""
    rates = judged(appliance, rules, day)
    return Leaks(unit, appliance, rates, cases(appliance, rules, day, rates), chronic_years(appliance, rules, day))


def open_cases(rules: Rulebook, day: dt.date) -> list[tuple[Leaks, Case]]:
    """Cases in which something is still to be done, the most pressing first."""
    units = charged(limited(rules, day)).select_related("customer")
    found = [(leaks, case) for leaks in leaks_of(units, rules, day) for case in leaks.cases if case.is_open(day)]
    return sorted(found, key=lambda one: (_first_due(one[1]), one[0].unit.code))


def _first_due(case: Case) -> dt.date:
    pending = case.pending()
    return pending[0].due if pending and pending[0].due else dt.date.max
