"""The questions about leaks: when a unit is checked next, how fast it leaks."""

import datetime as dt
from dataclasses import dataclass

from django.db.models import Max, QuerySet

from inventory.ledger.models import stands
from inventory.reference.leak_rules import LeakCheck, LeakRate
from inventory.reference.refrigerants import UnknownRefrigerant, co2e_tonnes, gwp_or_none
from inventory.reference.rule import System
from inventory.reference.rulebook import Rulebook
from jobs.drafts.models import Job
from jobs.drafts.queries import jobs_for, visits_of
from jobs.leaks.leak_checks import Due, due, inspection
from jobs.leaks.leak_rate import History, Service, history
from jobs.leaks.models import LeakEvent
from jobs.people.models import Person
from jobs.units.models import Unit


def histories_of(units: QuerySet[Unit], through: dt.date) -> dict[int, History]:
    """Of each unit what made up for losses and when it was last found tight, as it stood at the end of a day, whatever
    was corrected since; by its id. Two questions, however many units there are."""
    jobs = Job.objects.filter(stands("voucher__", through), voucher__day__lte=through)
    jobs = jobs.filter(unit__in=units.order_by().values("pk"))
    services: dict[int, list[Service]] = {unit.pk: [] for unit in units}
    columns = ("unit_id", "day", "charged_mg", "recovered_mg", "leak_result")
    for unit, day, charged, recovered, leak in jobs.order_by("day", "id").values_list(*columns):
        services[unit].append(Service(day, charged, recovered, tight=leak == "none found"))
    return {unit.pk: history(services[unit.pk], unit.charge_target_mg) for unit in units}


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
    """Units that the rulebook asks to be checked for leaks regularly, the most pressing first. The number of
    statements is constant."""
    inspected = [rule for rule in rules.section("leak_rate", day) if rule.inspect_months]
    asking = [*rules.section("leak_check", day), *inspected]
    kinds = {kind.partition("/")[0] for rule in asking for kind in rule.equipment}
    if not kinds:
        return []
    units = Unit.objects.exclude(refrigerant="").select_related("customer")
    if "*" not in kinds:
        units = units.filter(kind__in=kinds)
    return sorted(_checks(list(units), rules, day), key=lambda one: (one.check.due, one.unit.code))


def _checks(units: list[Unit], rules: Rulebook, day: dt.date) -> list[CheckOf]:
    ruled = {unit: asked for unit in units if any(asked := _rules_of(unit, rules, day))}
    checked, repaired = _last_checks([unit.pk for unit in ruled], day)
    over = _last_over({unit: rate for unit, (_, rate) in ruled.items() if rate is not None}, day)
    found = []
    for unit, (rule, rate) in ruled.items():
        last, mended = checked.get(unit.pk), repaired.get(unit.pk)
        regular = due(
            rule,
            rules.leak_repair(unit.equipment, unit.refrigerant, day),
            detection=unit.leak_detection,
            last_checked=last,
            repaired_on=mended if mended and mended == last else None,
            today=day,
        )
        special = inspection(
            rate, full_charge_mg=unit.charge_target_mg or 0, over_on=over.get(unit.pk), last_checked=last, today=day
        )
        asked = [one for one in (regular, special) if one is not None and one.due is not None]
        if asked:
            found.append(CheckOf(unit, min(asked, key=lambda one: one.due)))
    return found


def _rules_of(unit: Unit, rules: Rulebook, day: dt.date) -> tuple[LeakCheck | None, LeakRate | None]:
    """What asks for checks of a unit: the regular one, and the one of equipment whose leak rate was too high."""
    charge, basis = unit.charge_most_mg or unit.charge_target_mg, rules.gwp_basis(day)
    if not unit.refrigerant or not charge:
        return None, None
    try:
        tonnes = co2e_tonnes(unit.refrigerant, basis, charge)
    except (UnknownRefrigerant, LookupError):
        tonnes = None
    system = System(unit.equipment, unit.refrigerant, charge, unit.sealed, unit.dwelling)
    regular = rules.leak_check(system, tonnes, day)
    full = unit.charge_target_mg
    gwp = gwp_or_none(unit.refrigerant, basis)
    rate = rules.leak_rate(unit.equipment, unit.refrigerant, full, gwp, day) if full else None
    return regular, rate if rate is not None and rate.inspect_months else None


def _last_over(rates: dict[Unit, LeakRate], day: dt.date) -> dict[int, dt.date]:
    """For each unit the last day on which its leak rate was over the limit."""
    from jobs.leaks.queries import histories_of

    if not rates:
        return {}
    histories = histories_of(Unit.objects.filter(pk__in=[unit.pk for unit in rates]), day)
    found = {}
    for unit, rate in rates.items():
        last = histories[unit.pk].last_over(unit.charge_target_mg, rate.over_percent)
        if last is not None:
            found[unit.pk] = last
    return found


def _last_checks(units: list[int], day: dt.date) -> tuple[dict[int, dt.date], dict[int, dt.date]]:
    """For each unit the day of its last check for leaks, and of the last that ended with a repair."""
    from jobs.drafts.models import Job

    jobs = Job.objects.filter(unit__in=units, state="signed", day__lte=day).order_by().values_list("unit")
    checked = jobs.filter(leak_result__in=["none found", "found and repaired"]).annotate(last=Max("day"))
    repaired = jobs.filter(leak_result="found and repaired").annotate(last=Max("day"))
    return dict(checked), dict(repaired)


def all_events_of(unit: Unit) -> QuerySet[LeakEvent]:
    """What happened about the leaks of a unit, void events too, the latest first, with who did it and the visit."""
    return LeakEvent.objects.filter(unit=unit).select_related("person", "job").order_by("-day", "-id")


def visits_to_name(unit: Unit, person: Person, most: int = 20) -> list[Job]:
    """The visits of a unit that an event may belong to: the latest signed ones, and the drafts that this person may
    see."""
    drafts = jobs_for(person).filter(unit=unit, state="draft").order_by("-day", "-id")
    return [*drafts[:most], *visits_of(unit.pk, most)]
