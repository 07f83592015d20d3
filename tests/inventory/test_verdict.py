"""A verdict opened: what a page and a footnote say of it, and what is kept of it."""

import datetime as dt
import json
from dataclasses import replace
from decimal import Decimal

import pytest

from inventory.reference.container_rules import SmallCan
from inventory.reference.gas_rules import ServiceBan
from inventory.reference.rule import PRACTICE, Text
from inventory.verdicts.explaining import WORDS, explained, revived, told
from inventory.verdicts.verdict import ANSWERS, Figure, Verdict, cannot_be_judged

DAY = dt.date(2026, 3, 2)
LAW = Text("law", "Law of Nowhere", "seen", read_on=dt.date(2026, 2, 1))
BAN = ServiceBan(
    text=LAW,
    citation="art. 7",
    confidence="seen",
    from_day=dt.date(2025, 1, 1),
    note="Until the act is amended.",
    grades=("virgin",),
    equipment=("vehicle/*",),
    gwp_at_least=Decimal(2500),
    enforcement="refuse",
)
HEARD = SmallCan(
    text=Text("digest", "A digest of the law", "secondary"),
    citation="p. 4",
    confidence="secondary",
    holds_most_mg=900_000_000,
)
USUAL = SmallCan(
    text=Text(PRACTICE, "Common practice, no source", "memory"),
    citation="",
    confidence="memory",
    holds_most_mg=900_000_000,
)
VERDICT = Verdict(
    answer="refused",
    said="Virgin R-404A may not be charged.",
    rules=(BAN, HEARD, USUAL, BAN),
    figures=(Figure("GWP", "3943"), Figure("grade", "virgin")),
    readings=("A trailer counts as a vehicle.",),
    changes=("Recycled R-404A may be charged.",),
    by=DAY,
)


def words(one, earlier=None):
    return [f"{label}: {said}" if label else said for label, said in told(one, earlier or {})]


def test_each_answer_has_a_word_and_a_look():
    assert WORDS.keys() == ANSWERS.keys()
    assert {look for _, look in WORDS.values()} <= {"good", "warn", "bad", "idle"}


def test_a_rule_is_opened_to_its_words_its_source_and_how_well_it_is_known():
    law, heard, usual = explained(VERDICT).grounds  # each once
    assert law.cited == "Law of Nowhere, art. 7"
    assert ("GWP of at least", "2500") in law.words and ("grades", "virgin") in law.words
    assert ("where it is not kept", "refused") in law.words
    assert law.applies == "from 2025-01-01"
    assert (law.known, law.read_on, law.confirm) == ("read in the text itself", "2026-02-01", False)
    assert law.note == "Until the act is amended."
    assert (heard.known, heard.read_on, heard.confirm) == ("read in a summary, not in the text itself", "", True)
    assert (usual.known, usual.confirm) == ("what is done in the trade, written nowhere", False)


def test_a_note_says_everything():
    said = words(explained(VERDICT))
    assert said[0] == "Virgin R-404A may not be charged."
    assert said[1] == "Worked out from: GWP: 3943; grade: virgin."
    assert said[2].startswith("Rule: Law of Nowhere, art. 7; ")
    assert said[2].endswith("Until the act is amended; read in the text itself; read on 2026-02-01.")
    assert said[3].endswith("read in a summary, not in the text itself; to be confirmed with the authority.")
    assert said[5:] == [
        "The text allows more than one reading; taken is: A trailer counts as a vehicle.",
        "What would change it: Recycled R-404A may be charged.",
    ]


def test_a_rule_is_written_out_once():
    first = explained(replace(VERDICT, figures=()))
    said = words(explained(VERDICT), {first: 1})
    assert said[1] == "Worked out from: GWP: 3943; grade: virgin."
    assert said[2] == "Rule: Law of Nowhere, art. 7; in words in note 1."


def test_what_rests_on_the_same_as_an_earlier_note_points_at_it():
    first = explained(replace(VERDICT, said="It may not be bought either."))
    said = words(explained(VERDICT), {first: 3})
    assert said[:2] == [VERDICT.said, "Figures and rules are those of note 3."]
    assert said[2].startswith("The text allows more than one reading")


def test_what_must_be_said_first_is_said():
    asked = cannot_be_judged("The leak rate", ["what kind of appliance it is", "whether it is labelled"], (BAN,))
    opened = explained(asked)
    assert opened.word == "cannot be judged"
    assert words(opened)[-1] == "To be said first: what kind of appliance it is; whether it is labelled."


@pytest.mark.parametrize(
    "verdict",
    [VERDICT, Verdict(answer="free", said="No rule."), cannot_be_judged("It", ["whether it is labelled"], (HEARD,))],
    ids=["whole", "bare", "open"],
)
def test_what_is_kept_is_all_of_it(verdict):
    opened = explained(verdict)
    assert revived(json.loads(json.dumps(opened.kept))) == opened


def test_nothing_blank_is_kept():
    assert explained(Verdict(answer="free", said="No rule.")).kept == {"answer": "free", "said": "No rule."}


def test_a_bare_sentence_has_nothing_to_open():
    assert not explained(Verdict(answer="free", said="No rule.")).opens
    assert explained(VERDICT).opens
