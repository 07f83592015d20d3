"""Containers to pick from at an entry, in words that help to choose."""

from inventory.containers.keepers import PlaceWords
from inventory.containers.models import Container
from inventory.containers.oil_age import is_too_old
from inventory.containers.safe_fill import room_left
from inventory.measures.days import said_day
from inventory.measures.quantity import show
from inventory.reference.rulebook import Rulebook
from inventory.shop.models import Shop
from jobs.drafts.models import Job
from jobs.people.models import Person
from jobs.planning.oil_plan import oil_doubt

OFFERED = 40  # containers to pick from in each kind of entry; any other is named by its code


def choices(
    shown: Job, stock: list[Container], others: list[Container], busy: dict[str, Job], person: Person, shop: Shop
) -> dict[str, list]:
    """For each action that names a container: (code, words) of those to pick from. others: those to recover into, and
    bottles of oil; busy: those that stand on another draft."""
    places = PlaceWords()
    return {
        "charge": [(one.code, _charge_words(one, busy.get(one.code), person, places)) for one in stock[:OFFERED]],
        "recover": [
            (one.code, _recover_words(one, shown, person, shop.rules, places)) for one in others if not one.is_oil
        ],
        "oil-add": [(one.code, _oil_words(one, shown, person, shop.oil_months)) for one in others if one.is_oil],
    }


def takes_mixed(one: Container) -> bool:
    return one.traits.recovers and not one.traits.recycles and (one.grade == "mixed" or not one.content)


def _words(*parts: str) -> str:
    return " · ".join(part for part in parts if part)


def _charge_words(one: Container, busy: Job | None, person: Person, places: PlaceWords) -> str:
    return _words(
        one.code,
        _holds(one, person.mass_unit),
        places.of(one.location),
        one.grade if one.grade != "virgin" else "",
        "the customer’s own" if one.kept_for else "",
        "opened" if one.opened_on else "",
        f"in use on job {busy.number}" if busy else "",
    )


def _holds(one: Container, unit: str) -> str:
    """What is in it; of one that is retired by now its book says nothing of the day it was used."""
    return f"retired {said_day(one.retired_on)}" if one.retired_on else show(one.content, unit)


def _recover_words(one: Container, job: Job, person: Person, rules: Rulebook, places: PlaceWords) -> str:
    """The room left in it comes first: it decides which cylinder is taken."""
    substance = one.substance.code if one.substance else job.substance
    limits = rules.safe_fill(one.kind, job.day)
    room = room_left(one.cylinder, substance, one.content, limits) if substance else None
    fits = "room not known" if room is None else f"room for {show(max(0, room), person.mass_unit)}"
    fits = f"retired {said_day(one.retired_on)}" if one.retired_on else fits
    return _words(one.code, fits, one.grade, places.of(one.location))


def _oil_words(one: Container, job: Job, person: Person, months: int) -> str:
    opened = f"opened {said_day(one.opened_on)}" if one.opened_on else ""
    opened += ", too long open" if is_too_old(one.opened_on, months, job.day) else ""
    doubt = oil_doubt(job.unit.oil, one.substance.code, job.unit.high_voltage_compressor)
    wrong = f"NOT {job.unit.oil or 'known to be this unit’s'}" if doubt else ""
    return _words(one.code, wrong, one.substance.code, _holds(one, person.volume_unit), opened)
