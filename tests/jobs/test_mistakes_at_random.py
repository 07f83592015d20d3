"""Whatever mistakes are made, and in whatever order they are put right: in the end it is as if only what is true had
ever been entered. After each step, and not only in the end."""

import itertools
from collections import Counter
from dataclasses import replace

import pytest
from django.db import IntegrityError
from hypothesis import HealthCheck, Phase, settings
from hypothesis.stateful import run_state_machine_as_test

from inventory.containers import placing, replay
from inventory.containers.entries import OnRecord
from inventory.containers.models import Container, Scale
from inventory.ledger.accounts import AccountClass
from jobs.people.actions import add_certificate
from jobs.units.actions import add_unit
from tests.jobs.acting import BEGIN, OF_KEPT, UNITS, Acting, Clock
from tests.kept import made

pytestmark = pytest.mark.django_db

STEPS_IN_ALL, STEPS_IN_A_RUN = 100_000, 80


@pytest.fixture
def clock(monkeypatch):
    """Before anything is stated: no moment of the chain is before the one before it."""
    clock = Clock()
    monkeypatch.setattr("django.utils.timezone.now", clock)
    return clock


@pytest.fixture
def acting(clock, shop, technician, owner, monkeypatch):
    """The machine, in a shop with a scale of 1 g, two units and a technician who may do everything."""
    made(Scale, code="bench", readability_mg=1000, usual=True)
    said = {"scheme": "Section 609", "number": "A-1", "issuer": "Example board", "expires": None}
    add_certificate(person=technician, by=owner, issued=BEGIN.date().replace(year=2024), **said)
    said = {"by": technician, "refrigerant": "R-134a"}
    units = {code: add_unit(plate=f"TST-{code}", customer=f"{code} Example", **said) for code in UNITS}
    monkeypatch.setattr("tests.jobs.acting.OWNERS", {code: unit.customer.code for code, unit in units.items()})
    monkeypatch.setattr("tests.jobs.acting.UNIT_SAID", {unit.code: code for code, unit in units.items()})
    said = {"clock": clock, "technician": technician, "units": units, "seen": Counter()}
    return type("Acting", (Acting,), said)


def run(machine, runs, steps, **more):
    """What fails is not made shorter: it takes minutes, and the acts that stand are in the message."""
    more |= {"deadline": None, "database": None, "phases": [Phase.generate]}
    more["suppress_health_check"] = list(HealthCheck)
    run_state_machine_as_test(machine, settings=settings(max_examples=runs, stateful_step_count=steps, **more))


def test_mistakes_and_their_corrections_in_any_order(acting):
    run(acting, 6, 50, derandomize=True)
    assert acting.seen["corrected, restating"] > 40
    assert all(acting.seen[kind] for kind in OF_KEPT), acting.seen


@pytest.mark.long
@pytest.mark.parametrize("half", [1, 2])
def test_a_hundred_thousand_mistakes_and_corrections(acting, half):
    """In two halves, for two cores. The proof is asked for at the end of each run alone. -s shows how far it is."""
    acting.prove = False
    for part in itertools.count():
        acting.salt = f"half {half} part {part}"
        run(acting, 50, STEPS_IN_A_RUN, derandomize=True)
        print(acting.salt, dict(acting.seen), flush=True)
        if acting.seen["steps"] >= STEPS_IN_ALL / 2:
            break
    assert acting.seen["corrected, restating"] > 0.3 * acting.seen["steps"]


# -- each mistake of the program that lost grams once, made again ---------------------------------------------


def stands_last(monkeypatch):
    """A correction is put behind all that happened, and not in the place of what it corrects."""

    def find(head, codes, own, clock):
        found = placing.find_place(head, codes, own, clock)
        return replace(found, at=clock(), position=(own,)) if head.corrects else found

    monkeypatch.setattr("inventory.containers.recorder.find_place", find)


def keeps_the_tare(monkeypatch):
    """A tare that was taken at the first weighing stays, though that weighing was another."""
    story = OnRecord.story

    def kept(one):
        if one.op.verb != "arrive" or one.op.tare is not None:
            return one
        tare = Container.objects.get(code=one.op.code).tare_mg
        return one._replace(op=one.op._replace(what=(*one.op.what[:5], tare, *one.op.what[6:])))

    monkeypatch.setattr(OnRecord, "story", lambda world, codes: [kept(one) for one in story(world, codes)])


def forgets(*, of):
    """What follows from a correction is restated, but for one sort of transfer."""

    def plant(monkeypatch):
        def restate(*said, **more):
            found = replay.restate(*said, **more)
            return replace(found, transfers=tuple(one for one in found.transfers if not of(one)))

        monkeypatch.setattr("inventory.containers.recorder.restate", restate)

    return plant


def containers(one):
    return one.source.cls == one.target.cls == AccountClass.CONTAINER


def a_difference(one):
    found = {AccountClass.WEIGHING_DIFFERENCE, AccountClass.UNEXPLAINED_GAIN, AccountClass.UNEXPLAINED_LOSS}
    return bool(found & {one.source.cls, one.target.cls})


OLD_BUGS = {
    "two jobs that swapped cylinders": stands_last,
    "an unknown tare": keeps_the_tare,
    "a decant in the way": forgets(of=lambda one: containers(one) and one.source.name != one.target.name),
    "a count since": forgets(of=a_difference),
    "a heel loss since": forgets(of=lambda one: AccountClass.HEEL_LOSS in {one.source.cls, one.target.cls}),
    "a place moved in between": forgets(of=lambda one: containers(one) and one.source.name == one.target.name),
}


@pytest.mark.parametrize("bug", OLD_BUGS)
def test_each_old_bug_is_found(acting, monkeypatch, bug):
    acting.prove = False
    OLD_BUGS[bug](monkeypatch)
    with pytest.raises((AssertionError, IntegrityError), match=r"\(program, plain\)|though it|below_zero"):
        run(acting, 60, STEPS_IN_A_RUN, derandomize=True)
