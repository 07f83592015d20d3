"""Single-use containers, labels and how containers end. Expected values: Regulation (EU) 2024/573 articles 8(7), 11(3)
and 12(7), 2024/590 article 15(1), 40 CFR 84.112(c), 49 CFR 178.65(i), as read on 2026-11-28; 40 CFR 84.116 from
summaries."""

import datetime as dt

import pytest

from inventory.reference.rulebook import rulebook
from inventory.verdicts.container_disposal import Ended, container_disposal
from inventory.verdicts.container_label import Labelled, container_label, grave, is_labelled
from inventory.verdicts.single_use import single_use

US, EU, GENERIC = rulebook("us-federal"), rulebook("eu"), rulebook("generic")
DAY = dt.date(2026, 6, 15)
G = 1000


@pytest.mark.parametrize(
    ("kind", "substance", "act", "answer"),
    [
        pytest.param("disposable", "R-134a", "use", "refused", id="EU-7.1"),
        pytest.param("disposable", "R-134a", "purchase", "breach", id="EU-7.2"),
        pytest.param("can", "R-290", "use", "free", id="EU-7.3-use"),
        pytest.param("can", "R-290", "purchase", "free", id="EU-7.3-purchase"),
        ("can", "R-1234yf", "use", "refused"),
        ("disposable", "R-1233zd(E)", "use", "refused"),  # Annex II section 1: HCFO
        ("disposable", "R-134a", "supply", "refused"),
        ("disposable", "R-744", "purchase", "free"),
        ("refillable", "R-134a", "use", "free"),
        ("can", "R-290", "fill", "refused"),  # its own mark
    ],
)
def test_single_use_containers_in_the_union(kind, substance, act, answer):
    found = single_use(EU, kind, substance, act, DAY)
    assert found.answer == answer
    if answer != "free" and act != "fill":
        assert "11(3)" in found.cited and not found.to_be_confirmed


def test_single_use_containers_of_ozone_depleting_gas_are_under_their_own_regulation():
    found = single_use(EU, "disposable", "R-22", "use", DAY)
    assert found.is_refused and "2024/590" in found.cited and "15(1)" in found.cited


@pytest.mark.parametrize("case", [pytest.param(None, id="US-20.3")])
def test_a_disposable_is_never_filled_and_may_be_bought_and_used(case):
    for day in (dt.date(2020, 1, 1), DAY, dt.date(2030, 1, 1)):
        for substance in ("R-134a", "R-22", "R-290", ""):
            found = single_use(US, "disposable", substance, "fill", day)
            assert found.is_refused and "178.65(i)" in found.cited
        for act in ("use", "purchase", "supply"):
            assert single_use(US, "disposable", "R-134a", act, day).answer == "free"
    assert single_use(GENERIC, "can", "R-134a", "fill", DAY).is_refused
    assert single_use(GENERIC, "can", "R-134a", "use", DAY).answer == "free"


# -- how containers end ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lost", "answers"),
    [pytest.param(400 * G, ["breach"], id="EU-7.4"), pytest.param(0, ["met"], id="EU-7.4-nothing-left")],
)
def test_what_is_left_is_recovered_before_a_container_is_disposed_of(lost, answers):
    found = container_disposal(EU, Ended("refillable", "R-134a", lost), DAY)
    assert [one.answer for one in found] == answers and "8(7)" in found[0].cited
    assert ("400 g" in found[0].said) is bool(lost)
    assert container_disposal(EU, Ended("refillable", "R-290", lost), DAY) == []
    assert container_disposal(US, Ended("refillable", "R-134a", lost), dt.date(2030, 1, 1)) == []


@pytest.mark.parametrize(
    ("day", "asked"),
    [
        pytest.param(dt.date(2027, 12, 31), False, id="US-20.1-2027-12-31"),
        pytest.param(dt.date(2028, 1, 1), True, id="US-20.1-2028-01-01"),
    ],
)
def test_from_2028_on_a_disposable_goes_somewhere_or_is_evacuated(day, asked):
    found = container_disposal(US, Ended("disposable", "R-410A", 0), day)
    assert [one.answer for one in found] == (["breach"] if asked else [])
    for proof in ({"taken_by": "a reclaimer"}, {"statement": True}):
        proved = container_disposal(US, Ended("disposable", "R-410A", 0, **proof), day)
        assert [one.answer for one in proved] == (["met"] if asked else [])
    if asked:
        assert "reclaimer" in found[0].said and "15 inHg" in found[0].said
        assert found[0].to_be_confirmed and "to be confirmed with the authority" in found[0].cited


@pytest.mark.parametrize("case", [pytest.param(None, id="US-20.2")])
def test_small_cans_are_exempt(case):
    assert container_disposal(US, Ended("can", "R-134a", 0), dt.date(2028, 1, 1)) == []


# -- labels ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("case", [pytest.param(None, id="EU-7.5")])
def test_recycled_and_reclaimed_gas_says_so(case):
    bare = Labelled("refillable", "R-134a", "recycled", (), dt.date(2020, 1, 1))
    (found,) = container_label(EU, bare, DAY)
    assert found.is_breach and "that it is recycled" in found.said and "12(7)" in found.cited and grave(found)
    assert is_labelled(EU, Labelled("refillable", "R-134a", "recycled", ("grade",), DAY), DAY)
    for without, words in (("batch", "number of the batch"), ("facility", "name and address of the facility")):
        says = {"grade", "batch", "facility"} - {without}
        (found,) = container_label(EU, Labelled("refillable", "R-134a", "reclaimed", says, DAY), DAY)
        assert found.is_breach and words in found.said
    assert is_labelled(EU, Labelled("refillable", "R-134a", "reclaimed", ("grade", "batch", "facility"), DAY), DAY)
    assert container_label(EU, Labelled("refillable", "R-134a", "virgin", (), DAY), DAY) == []
    assert container_label(EU, Labelled("refillable", "R-290", "recycled", (), DAY), DAY) == []
    assert container_label(EU, Labelled("machine", "R-134a", "recycled", (), DAY), DAY) == [], "the tank of a machine"
    assert container_label(EU, bare, dt.date(2024, 12, 31)) == []


@pytest.mark.parametrize(
    ("came_on", "breach"),
    [
        pytest.param(dt.date(2026, 3, 10), True, id="US-19.3"),
        pytest.param(dt.date(2025, 12, 31), False, id="US-19.3-before"),
    ],
)
def test_reclaimed_hfc_carries_the_reclaimers_statement(came_on, breach):
    found = container_label(
        US, Labelled("refillable", "R-134a", "reclaimed", ("grade", "batch", "facility"), came_on), DAY
    )
    assert [one.is_breach for one in found] == ([True] if breach else [])
    if breach:
        assert not grave(found[0]), "the label is the reclaimer's: a finding of low weight"
        assert "84.112" in found[0].cited and "15 percent, by weight" in found[0].said
        assert is_labelled(US, Labelled("refillable", "R-134a", "reclaimed", ("statement",), came_on), DAY)
    assert container_label(US, Labelled("refillable", "R-22", "reclaimed", (), came_on), DAY) == [], "no HFC is in it"
