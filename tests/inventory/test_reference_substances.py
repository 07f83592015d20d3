"""Codes of substances: what is taken, what it becomes, and what is said of the rest."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.reference import lookup, sourced
from inventory.reference.mixtures import weighted
from inventory.reference.oils import UnknownOil, common_oils, parse_oil
from inventory.reference.refrigerants import (
    GWP_BASES,
    UnknownRefrigerant,
    part_gwp,
    refrigerant,
    refrigerants,
)
from inventory.reference.substances import UnknownSubstance, substance


@pytest.mark.parametrize("designation", list(refrigerants()))
def test_every_designation_is_its_own_code(designation: str) -> None:
    assert substance(designation) == (designation, False)
    assert substance(f" {designation}\n") == (designation, False)
    assert refrigerant(designation).designation == designation


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        ("PAG 46", "PAG 46"),
        ("pag 46", "PAG 46"),
        ("PAG46", "PAG 46"),
        ("PAG-100", "PAG 100"),
        ("  PAG   150 ", "PAG 150"),
        ("PAG 046", "PAG 46"),
        ("POE 68", "POE 68"),
        ("PVE 32", "PVE 32"),
        ("mineral 100", "Mineral 100"),
        ("AB 46", "AB 46"),
        ("Alkylbenzene 46", "AB 46"),
        ("PAG 46 YF", "PAG 46 YF"),
        ("PAG 46 yf", "PAG 46 YF"),
        ("PAG 46-YF", "PAG 46 YF"),
        ("PAG 46 ABCDEFGHIJ12", "PAG 46 ABCDEFGHIJ12"),
        ("PAG 5", "PAG 5"),
        ("POE 460", "POE 460"),
    ],
)
def test_oils_take_one_spelling(typed: str, code: str) -> None:
    assert substance(typed) == (code, True)
    assert parse_oil(typed).code == code
    assert substance(code) == (code, True)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("PAG", "family, the ISO VG number and, if need be, .* like PAG 46"),
        ("PAG forty-six", "like PAG 46"),
        ("PAG 46.5", "like PAG 46"),
        ("PAG 46 ABCDEFGHIJ123", "one word of letters and digits"),
        ("PAG 46 YF 2", "one word of letters and digits"),
        ("PAG 46 <b>", "one word of letters and digits"),
        ("PAG 4", "from 5 to 460; usual in PAG: 46, 100 or 150"),
        ("POE 461", "from 5 to 460; usual in POE: 32, 46, 68 or 100"),
        ("PAG 999999", "from 5 to 460"),
        ("PAG ٤٦", "like PAG 46"),
        ("Mineral 525 SUS", "525 SUS is about VG 100"),
    ],
)
def test_wrong_oils_are_told_what_would_be_right(typed: str, said: str) -> None:
    with pytest.raises(UnknownOil, match=said):
        parse_oil(typed)
    with pytest.raises(UnknownSubstance, match=said):
        substance(typed)


def test_other_families_are_told_the_families() -> None:
    with pytest.raises(UnknownOil, match="PAG, POE, PVE, Mineral or AB"):
        parse_oil("SAE 30")


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("r134a", "R-134a"),
        ("R134a", "R-134a"),
        ("R-134A", "R-134a"),
        ("134a", "R-134a"),
        ("HFC-134a", "R-134a"),
        ("hfo 1234 YF", "R-1234yf"),
        ("R 1234yf", "R-1234yf"),
        ("R-1234ze", "R-1234ze(E)"),
        ("R404A", "R-404A"),
        ("r-404a", "R-404A"),
        ("CFC-12", "R-12"),
        ("HCFC22", "R-22"),
        ("CO2", "R-744"),
        ("carbon dioxide", "R-744"),
        ("Propane", "R-290"),
        ("isobutane", "R-600a"),
        ("re170", "R-E170"),
    ],
)
def test_other_spellings_are_refused_and_told_the_right_one(typed: str, meant: str) -> None:
    with pytest.raises(UnknownRefrigerant, match=rf"write {meant.replace('(', '.').replace(')', '.')}\."):
        refrigerant(typed)
    with pytest.raises(UnknownSubstance, match="is not the designation of a refrigerant: write R-"):
        substance(typed)


def test_near_designations_are_named() -> None:
    with pytest.raises(UnknownSubstance, match="Near it: .*R-1234yf"):
        substance("R-1234y")
    with pytest.raises(UnknownRefrigerant, match="Near it: .*R-407C"):
        refrigerant("R-407D")


@pytest.mark.parametrize("typed", ["", "   ", "water", "!!!", "R-", "zzzzzzzz", "\x00", "Öl 46"])
def test_what_is_near_nothing_is_told_how_to_write(typed: str) -> None:
    with pytest.raises(UnknownSubstance, match="neither a refrigerant nor an oil .* R-134a .* PAG 46"):
        substance(typed)
    with pytest.raises(UnknownRefrigerant, match="is written like R-134a"):
        refrigerant(typed)


def test_a_long_text_is_cut_in_the_sentence() -> None:
    with pytest.raises(UnknownSubstance) as caught:
        substance("x" * 10_000)
    assert len(str(caught.value)) < 300


@given(st.text(max_size=60))
def test_no_text_breaks_the_lookup(text: str) -> None:
    """Either a canonical code, which is then its own canonical code, or UnknownSubstance with a sentence."""
    try:
        code, is_oil = substance(text)
    except UnknownSubstance as error:
        assert str(error).endswith(".")
    else:
        assert substance(code) == (code, is_oil)
        assert is_oil or code in refrigerants()


@given(
    st.sampled_from(["PAG", "POE", "PVE", "Mineral", "AB"]),
    st.integers(5, 460),
    st.text(alphabet="ABCXYZ0123456789", max_size=12),
)
def test_every_code_of_an_oil_comes_back(family: str, grade: int, suffix: str) -> None:
    code = f"{family} {grade} {suffix}".rstrip()
    found = parse_oil(code)
    assert (found.code, found.family.code, found.grade, found.suffix) == (code, family, grade, suffix)


def test_common_oils_are_oils() -> None:
    codes = [oil.code for oil in common_oils()]
    assert len(codes) == len(set(codes))
    assert {"PAG 46", "PAG 100", "PAG 150", "POE 68", "PVE 32", "Mineral 100", "AB 46"} <= set(codes)
    assert [parse_oil(code).code for code in codes] == codes


@pytest.mark.parametrize(
    ("designation", "flammable", "mildly"),
    [
        ("R-134a", False, False),
        ("R-744", False, False),
        ("R-1234yf", True, True),
        ("R-152a", True, False),
        ("R-290", True, False),
        ("R-717", True, True),
        ("R-245fa", False, False),
    ],
)
def test_flammability_follows_the_safety_class(designation: str, flammable: bool, mildly: bool) -> None:
    found = refrigerant(designation)
    assert (found.is_flammable, found.is_mildly_flammable) == (flammable, mildly)


def test_kinds_of_a_blend_are_those_of_its_gases() -> None:
    assert refrigerant("R-455A").kinds == {"natural", "HFC", "HFO"}
    assert refrigerant("R-134a").kinds == {"HFC"}
    assert refrigerant("R-455A").is_fluorinated
    assert not refrigerant("R-744").is_fluorinated


@pytest.mark.parametrize(
    ("basis", "natural", "fluorinated"),
    [("ar4", None, None), ("eu-2024-573", 0, None), ("ar5", 0, None), ("us-exchange", 0, 0), ("us-84-64", None, None)],
)
def test_what_a_gas_without_a_value_counts_in_a_blend(basis: str, natural: int | None, fluorinated: int | None) -> None:
    """A basis either leaves such gases out of a blend, or the blend has no value; it never guesses."""
    unlisted = replace(refrigerant("R-744"), listed_gwp={}), replace(refrigerant("R-1234yf"), listed_gwp={})
    assert tuple(part_gwp(gas, GWP_BASES[basis]) for gas in unlisted) == (natural, fluorinated)


def test_a_mixture_with_a_missing_value_has_none() -> None:
    half = Decimal("0.5")
    assert weighted([(half, Decimal(1430)), (half, None)]) is None
    assert weighted([(half, Decimal(1430)), (half, Decimal(0))]) == 715


def test_a_refrigerant_can_be_kept_in_sets_and_not_changed() -> None:
    found = refrigerant("R-404A")
    assert len({found, refrigerant("R-404A")}) == 1
    with pytest.raises(AttributeError):
        found.safety_class = "A3"
    with pytest.raises(TypeError):
        found.listed_gwp["gwp:ar4"] = 1
    with pytest.raises(TypeError):
        refrigerants()["R-0"] = found


def test_every_value_names_a_source_and_how_well_it_is_known() -> None:
    for file_name in ("refrigerants.csv", "oils.csv"):
        for subject, facts in sourced.facts(file_name).items():
            for name, fact in facts.items():
                assert fact.value, (subject, name)
                assert fact.source.title and fact.source.confidence in sourced.CONFIDENCES
                if fact.source.confidence != "memory":
                    assert fact.source.read_on, (subject, name)


def test_every_source_is_used() -> None:
    listed = {row["key"] for row in sourced.rows("sources.csv")}
    used = {
        row["source"]
        for file_name in ("refrigerants.csv", "oils.csv", "oil_addback.csv", "transport.csv")
        for row in sourced.rows(file_name)
    }
    assert used | {"us-172-101"} == listed, "the last is named by transport.py"


def test_a_source_that_is_not_listed_is_an_error() -> None:
    with pytest.raises(ValueError, match="no source 'hearsay'"):
        sourced.source("hearsay", "seen")
    with pytest.raises(ValueError, match="not 'sure'"):
        sourced.source("coolprop", "sure")


def test_the_weakest_word_counts() -> None:
    assert sourced.weakest(["seen", "memory", "computed"]) == "memory"
    assert sourced.weakest(["seen", "computed"]) == "computed"


def test_a_source_says_how_well_it_is_known() -> None:
    assert str(refrigerant("R-1234yf").sources["gwp:ar4"]) == (
        "Regulation (EU) 517/2014, Annex II (from memory, to be confirmed). AR4 itself has no value"
    )


def test_names_in_a_sentence() -> None:
    assert [lookup.listed(names) for names in ([], ["a"], ["a", "b"], ["a", "b", "c"])] == [
        "",
        "a",
        "a or b",
        "a, b or c",
    ]
