"""The verbs that keep what happened about leaks. Each is one transaction and says who did it; `by` is the person who
asks, None where the program itself does. Nothing is changed once it is entered: a wrong event is voided.
"""

import datetime as dt
import uuid
from typing import TypedDict, Unpack

from inventory.ledger.actions import stated
from inventory.measures.days import said_day
from inventory.releases.causes import CAUSES, OTHER
from inventory.shop.clock import now, today, zone
from inventory.shop.days import happened, may_be_due
from inventory.shop.once import made_by
from inventory.text.refusal import Refused
from jobs.drafts.models import Job
from jobs.leaks.events import AFTER, first_unmet
from jobs.leaks.models import LeakEvent
from jobs.people.models import Person
from jobs.people.wording import one_line, paragraph
from jobs.units.models import Unit

KINDS = dict(LeakEvent.KINDS)
# Work that somebody does on the unit, whose name the record wants (40 CFR 82.157(l), 84.106(l)).
WORK = ("inspection", "repair", *LeakEvent.TESTS)


class EventFields(TypedDict, total=False):
    """What can be said about an event besides its kind and day: the columns of LeakEvent."""

    at: dt.datetime | None
    passed: bool | None
    all_leaks: bool | None
    evacuated: bool | None
    until: dt.date | None
    released_mg: int | None
    cause: str
    places: str
    method: str
    parts: str
    note: str
    person: Person | None
    person_said: str
    certificate: str
    job: Job | None


@stated
def add_leak_event(
    unit: Unit,
    *,
    by: Person | None,
    kind: str,
    day: dt.date,
    key: uuid.UUID | None = None,
    **said: Unpack[EventFields],
) -> LeakEvent:
    """Keep what happened on a unit. Blank certificate: those that the person had on that day are taken.

    key: of the form; the same form sent again answers what it recorded the first time.
    Raises Refused: an unknown kind, a day or time that is still to come, a test without a result, a result of what is
    no test, an event before the one that it needs, nobody who did the work, a visit of another unit.
    """
    if (known := made_by(LeakEvent, key)) is not None:
        return known
    Unit.objects.select_for_update().get(pk=unit.pk)  # two of one unit are looked at one after the other
    event = LeakEvent(unit=unit, kind=kind, day=day, by=by, key=key, **said)
    if kind not in KINDS:
        raise Refused(f"{kind!r} is no kind of event; choose one of the list.", "kind")
    _tidy(event)
    _check_moment(event)
    _check_what_it_says(event)
    _check_who(event)
    _check_visit(event)
    _check_order(event)
    event.save()
    return event


@stated
def void_leak_event(event: LeakEvent, *, by: Person | None, reason: str) -> LeakEvent:
    """Say that an event is void, and why. It stays to be read; nothing counts it any more. Raises Refused: no reason,
    or another event that needs this one. One that is void stays as it is."""
    Unit.objects.select_for_update().get(pk=event.unit_id)
    event = LeakEvent.objects.get(pk=event.pk)
    if event.is_void:
        return event
    reason = paragraph(reason, "reason", called="reason", longest=2000)
    if not reason:
        raise Refused("Say why it is void; it stays readable with that reason.", "reason")
    rests = first_unmet(one for one in _standing(event.unit) if one.pk != event.pk)
    if rests is not None:
        raise Refused(f"This is needed for: {_called(rests)}. Say first that that is void.", "reason")
    event.void_reason, event.voided_by, event.voided_on = reason, by, today()
    event.save()
    return event


def _standing(unit: Unit) -> list[LeakEvent]:
    return list(LeakEvent.objects.filter(unit=unit, voided_on=None))


def _called(event: LeakEvent) -> str:
    return f"{event.get_kind_display()} of {said_day(event.day)}"


def _check_order(event: LeakEvent) -> None:
    """What comes after something else has that before it; so have the later ones once this one stands among them."""
    unmet = first_unmet([*_standing(event.unit), event])
    if unmet is event:
        said = AFTER[event.kind][1] if event.kind in AFTER else "It is mothballed already; nothing would change."
        raise Refused(said, "kind")
    if unmet is not None:
        raise Refused(f"With this one, another could not be: {_called(unmet)}. Look at the days of both.", "day")


def _tidy(event: LeakEvent) -> None:
    event.method = one_line(event.method, "method", called="method", longest=80)
    event.person_said = one_line(event.person_said, "person_said", called="name", longest=150)
    event.certificate = one_line(event.certificate, "certificate", called="certificate", longest=200)
    for name in ("places", "parts", "note"):
        setattr(event, name, paragraph(getattr(event, name), name, called=name))


def _check_moment(event: LeakEvent) -> None:
    happened(event.day, still_to_come=f"{said_day(event.day)} is still to come; enter it once it has happened.")
    may_be_due(event.until, "until")
    if event.at is None:
        return
    if event.at > now():
        raise Refused("This time is still to come; enter it once it has happened.", "at")
    if event.at.astimezone(zone()).date() != event.day:
        raise Refused(f"This time lies on another day than {said_day(event.day)}; correct one of the two.", "at")


def _check_what_it_says(event: LeakEvent) -> None:
    test, follow_up = event.kind in LeakEvent.TESTS, event.kind == "follow-up-test"
    if test and event.passed is None:
        raise Refused("Say whether the test was passed: no test counts without its result.", "passed")
    if not test and event.passed is not None:
        raise Refused(f"Only a test is passed or not; leave this blank for: {KINDS[event.kind]}.", "passed")
    if follow_up and event.passed and event.all_leaks is None:
        raise Refused("Say whether it shows all identified leaks repaired; only such a test begins anew.", "all_leaks")
    if not follow_up and event.all_leaks is not None:
        raise Refused("Only a follow-up test shows whether all leaks are repaired; leave this blank.", "all_leaks")
    if event.kind == "repair" and event.evacuated is None:
        raise Refused("Say whether the unit was evacuated for it: the follow-up test is due by that.", "evacuated")
    if event.kind != "repair" and event.evacuated is not None:
        raise Refused("Only of a repair it is said whether the unit was evacuated; leave this blank.", "evacuated")
    if event.kind == "extension-granted" and (event.until is None or event.until <= event.day):
        raise Refused("Write until which day it is granted, a day after that of the grant.", "until")
    if event.kind != "extension-granted" and event.until is not None:
        raise Refused("Only an extension is granted until a day; leave this blank.", "until")
    _check_release(event)
    if event.kind in ("inspection", *LeakEvent.TESTS) and not event.method:
        raise Refused("Write how it was tested, e.g. electronic detector or soap solution.", "method")


def _check_release(event: LeakEvent) -> None:
    if event.kind != "release":
        if event.cause or event.released_mg is not None:
            raise Refused("Only of a release it is said what got out, and why; leave this blank.", "cause")
        return
    if event.cause not in CAUSES:
        raise Refused("Choose the cause; where none of these was it, choose something else.", "cause")
    if event.cause == OTHER and not event.note:
        raise Refused("Say what happened; none of the causes in the list does.", "note")
    if event.released_mg is not None and event.released_mg <= 0:
        raise Refused("What got out is more than nothing; leave it blank where nobody knows.", "released_mg")


def _check_who(event: LeakEvent) -> None:
    if event.person is not None and event.person_said:
        raise Refused("Choose who did it, or write a name; not both.", "person_said")
    if event.kind in WORK and event.person is None and not event.person_said:
        raise Refused("Say who did it: choose somebody who works here, or write the name.", "person")
    if event.person is not None and not event.certificate:
        valid = [str(one) for one in event.person.certificates.all() if one.valid_on(event.day)]
        event.certificate = ", ".join(valid)[:200]


def _check_visit(event: LeakEvent) -> None:
    if event.job is None:
        return
    if event.job.unit_id != event.unit.pk:
        raise Refused(f"Job {event.job.title} was a visit of another unit; choose one of this unit.", "job")
    if event.job.state == "dropped":
        raise Refused(f"Job {event.job.title} was given up; choose another visit, or none.", "job")
