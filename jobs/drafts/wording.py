"""What a job says, in words: its sections with their facts, as the signed page and the job sheet have them."""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from django.utils.text import capfirst

from inventory.measures.quantity import show
from inventory.shop.models import Shop
from inventory.verdicts.explaining import Explained
from jobs.drafts.fields import BY_NAME, FIELDS, SECTIONS, SPAN, JobField
from jobs.drafts.hold import hold_of, water_of
from jobs.drafts.models import Job
from jobs.drafts.tested import pressure_test_of
from jobs.people.models import Person
from jobs.planning.oil_plan import parts

NONE = "–"


@dataclass(frozen=True)
class Reader:
    """How a reader is shown a mass (mg), a volume (uL) and a moment (of the shop's zone)."""

    mass: Callable[[int], str]
    volume: Callable[[int], str]
    moment: Callable[[dt.datetime], str]
    zone: dt.tzinfo


def reader_of(person: Person, zone: dt.tzinfo) -> Reader:
    """How pages show a job to a person."""
    return Reader(
        lambda milligrams: show(milligrams, person.mass_unit),
        lambda microlitres: show(microlitres, person.volume_unit),
        lambda at: f"{at.day} {at:%b %Y, %H:%M}",
        zone,
    )


@dataclass(frozen=True)
class Fact:
    """free: words of any length, which may run over lines; why: what the rulebook says about it."""

    label: str
    value: str
    free: bool = False
    why: Sequence[Explained] = ()


@dataclass
class Section:
    title: str
    facts: list[Fact]


def sections_of(job: Job, shop: Shop, reader: Reader) -> dict[str, Section]:
    """Everything that was entered on a job, by the sections of the table of fields; what is blank is left out. A job
    from a log says nothing that its log did not hold."""
    found = {name: Section(title, []) for name, title in SECTIONS.items()}
    for one in FIELDS:
        if one.section and not one.behind:
            value = _value(job, one, reader)
            if value:
                found[one.section].facts.append(Fact(title_of(one), value, one.personal))
    for section, title, one in (
        ("tested", "Verdict", pressure_test_of(job, shop)),
        ("evacuation", "Moisture", water_of(job)),
        ("evacuation", "Verdict", hold_of(job, shop)),
    ):
        if one:
            found[section].facts.append(Fact(title, one.sentence, free=True))
    return found


def title_of(one: JobField) -> str:
    """What a field is called on paper."""
    return one.title or capfirst(Job._meta.get_field(one.name).verbose_name)


def said_of(job: Job, name: str, reader: Reader) -> str:
    """A field of a job with its title, e.g. `Vacuum reached: 500 micron`."""
    one = BY_NAME[name]
    return f"{title_of(one)}: {_words(job, one, reader) or 'blank'}"


def _value(job: Job, one: JobField, reader: Reader) -> str:
    """A field with those that stand behind it, as one text."""
    said = _words(job, one, reader)
    for more in (other for other in FIELDS if other.behind == one.name):
        added = "" if more.moot and getattr(job, one.name) == more.moot else _words(job, more, reader)
        if more.joined == SPAN and (said or added):
            said = (said or NONE) + SPAN.format(added or NONE)
        elif said and added:
            said += more.joined.format(added)
        elif added:
            said = more.joined.format(added).lstrip(", ")
    return said


def _words(job: Job, one: JobField, reader: Reader) -> str:
    value, column = getattr(job, one.name), Job._meta.get_field(one.name)
    if value in (None, "", []) or (one.mark and not value) or (job.loaded and value == column.get_default()):
        return ""
    if column.choices:
        return str(dict(column.choices).get(value, value))
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dt.datetime):
        return _moment(job, one, value.astimezone(reader.zone), reader)
    if isinstance(value, list):
        return ", ".join(parts().get(part, part) for part in value)
    if one.unit == "mg":
        return reader.mass(value)
    if one.unit == "uL":
        return reader.volume(value)
    if one.unit == "Pa":
        return f"{value:.0f} Pa absolute"
    return f"{value:g} {one.unit}" if one.unit else str(value)


def _moment(job: Job, one: JobField, at: dt.datetime, reader: Reader) -> str:
    """The end of a span says the time of day alone where it began on the same day."""
    start = getattr(job, one.behind) if one.behind else None
    if start is not None and start.astimezone(reader.zone).date() == at.date():
        return f"{at:%H:%M}"
    return reader.moment(at)
