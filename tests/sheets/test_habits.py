"""Sheets by a generator of habits, brought in by somebody who knows the shop: whatever loads is the truth."""

import datetime as dt
import statistics
import time

import pytest
from django.db import transaction

from inventory.containers.models import Scale
from inventory.ledger.actions import writing
from inventory.measures.quantity import parse_mass
from jobs.people.actions import add_person
from tests.sheets.habits import GASES, PEOPLE, PLACES
from tests.sheets.person import bring_in
from tests.sheets.sheets_made import RECOVERY_OF, STOCK_OF, made
from tests.stock import came, delivery

pytestmark = pytest.mark.django_db
FIXED = [1, 2, 5, 9, 14, 17, 23, 31]  # in the ordinary suite
TUNED = range(1, 41)
UNSEEN = range(3001, 3061)  # run once nothing is changed any more; never tuned on


@pytest.fixture
def ledger(shop):
    for username, name in PEOPLE.items():
        add_person(by=None, username=username, name=name, role="technician")
    lines = []
    for gas in GASES:
        cylinder, recovery = STOCK_OF[gas], RECOVERY_OF[gas]
        lines.append(came(cylinder, net=parse_mass("60 kg"), substance=gas, location=PLACES[0]))
        lines.append(came(recovery, "recovery", substance=gas, location=PLACES[0]))
    with writing():
        Scale.objects.create(code="shop scale", readability_mg=1000, usual=True)
    delivery(*lines, day=dt.date(2025, 12, 1))


class Undone(Exception):
    pass


def outcomes(seeds):
    for seed in seeds:
        sheet, began = made(seed), time.monotonic()
        try:
            with transaction.atomic():
                outcome = bring_in(sheet)
                raise Undone
        except Undone:
            pass
        yield sheet, outcome, time.monotonic() - began


def told(seeds):
    """Runs them, prints each, and answers wrong loads, the share loaded, the median of questions."""
    wrong, loaded, questions = [], 0, []
    for sheet, outcome, took in outcomes(seeds):
        loaded += outcome.loaded
        questions.append(len(outcome.asked) + len(outcome.stuck))
        state = "WRONG" if outcome.wrong else "loaded" if outcome.loaded else "not loaded"
        habits = " ".join(dict.fromkeys(sheet.habits))
        print(f"{sheet.seed} {sheet.kind} {state}, {questions[-1]} questions, {took:.1f} s: {habits}")
        for line in (*outcome.wrong[:1], *outcome.wrong[-1:], *outcome.stuck, *outcome.faults[:3], outcome.refused):
            if line:
                print("   ", line)
        if outcome.wrong:
            wrong.append(sheet.seed)
    share = loaded / len(list(seeds))
    print(f"{len(wrong)} wrong loads, {share:.0%} loaded, {statistics.median(questions)} questions in the median")
    return wrong, share, statistics.median(questions)


def test_a_fixed_set_loads_as_it_is_meant(ledger):
    wrong, share, _ = told(FIXED)
    assert wrong == [] and share >= 0.8


@pytest.mark.long
def test_the_seeds_it_was_tuned_on(ledger):
    wrong, share, median = told(TUNED)
    assert wrong == [] and share >= 0.8 and median <= 5


@pytest.mark.long
def test_seeds_it_was_never_tuned_on(ledger):
    wrong, share, median = told(UNSEEN)
    assert wrong == [] and share >= 0.8 and median <= 5
