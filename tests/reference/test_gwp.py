"""GWP, ODP and compositions against published values and against packages that others keep."""

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

import pytest
from chemicals.environment import GWP, ODP, GWP_methods, ODP_methods

from inventory.reference.mixtures import weighted
from inventory.reference.refrigerants import (
    GWP_BASES,
    UnknownBasis,
    co2e_tonnes,
    display_gwp,
    gwp,
    gwp_source,
    refrigerant,
    refrigerants,
)

METHODS = {"ar4": "IPCC (2007) 100yr", "ar5": "IPCC (2014) 100yr", "ar6": "IPCC (2021) 100yr"}

# No report of the IPCC has a value for these; what stands in, and where that stands.
ANNEX_2, ANNEX_4, ANNEX_6 = "517/2014, Annex II", "517/2014, Annex IV", "2024/573, Annex VI"
STAND_INS = {
    ("R-1234yf", "ar4"): ("4", ANNEX_2),
    ("R-1234ze(E)", "ar4"): ("7", ANNEX_2),
    ("R-1233zd(E)", "ar4"): ("4.5", ANNEX_2),
    ("R-1336mzz(Z)", "ar4"): ("9", ANNEX_2),
    ("R-290", "ar4"): ("3", ANNEX_4),
    ("R-600a", "ar4"): ("3", ANNEX_4),
    ("R-600", "ar4"): ("4", ANNEX_4),
    ("R-601a", "ar4"): ("5", ANNEX_4),
    ("R-1270", "ar4"): ("2", ANNEX_4),
    ("R-170", "ar4"): ("6", ANNEX_4),
    ("R-717", "ar4"): ("0", ANNEX_4),
    ("R-600a", "ar6"): ("0", ANNEX_6),
    ("R-601a", "ar6"): ("0", ANNEX_6),
    ("R-1270", "ar6"): ("0", ANNEX_6),
    ("R-717", "ar6"): ("0", ANNEX_6),
    ("R-13I1", "ar4"): ("0.4", "CoolProp 8.0.0"),
    ("R-13I1", "ar5"): ("0.4", "CoolProp 8.0.0"),
}

SINGLE_GASES = [name for name, found in refrigerants().items() if not found.is_blend]
BLENDS = [name for name, found in refrigerants().items() if found.is_blend]


@pytest.mark.parametrize("basis", METHODS)
@pytest.mark.parametrize("designation", SINGLE_GASES)
def test_single_gas_has_the_value_of_the_chemicals_package(designation: str, basis: str) -> None:
    """chemicals 1.5.2, the 100-year method named; where the package has none, neither do we."""
    cas = refrigerant(designation).cas
    theirs = GWP(cas, method=METHODS[basis]) if METHODS[basis] in GWP_methods(cas) else None
    if (designation, basis) in STAND_INS:
        value, where = STAND_INS[designation, basis]
        assert theirs is None
        assert gwp(designation, basis) == Decimal(value)
        assert where in gwp_source(designation, basis).title
    elif theirs is None:
        assert gwp(designation, basis) is None
        assert gwp_source(designation, basis) is None
    else:
        assert gwp(designation, basis) == Decimal(str(theirs))


def test_chemicals_gives_a_20_year_value_where_no_method_is_named() -> None:
    """GWP(CAS) alone is AR6 over 20 years, as in the 20-year column of Regulation (EU) 2024/573 Annex I."""
    assert GWP("811-97-2") == 4140
    assert GWP("75-10-5") == 2690
    for basis in GWP_BASES:
        assert gwp("R-134a", basis) in (1430, 1300, 1530)


@pytest.mark.parametrize(
    ("designation", "value"),
    [
        # Annex I section 1
        ("R-32", "675"),
        ("R-125", "3500"),
        ("R-134a", "1430"),
        ("R-143a", "4470"),
        ("R-152a", "124"),
        ("R-227ea", "3220"),
        ("R-245fa", "1030"),
        ("R-23", "14800"),
        # Annex I section 2
        ("R-116", "12400"),
        ("R-218", "9290"),
        # Annex II section 1
        ("R-1234yf", "0.501"),
        ("R-1234ze(E)", "1.37"),
        ("R-1233zd(E)", "3.88"),
        ("R-1224yd(Z)", "0.06"),
        ("R-1336mzz(E)", "17.9"),
        ("R-1336mzz(Z)", "2.08"),
        # Annex VI
        ("R-170", "0.437"),
        ("R-290", "0.02"),
        ("R-600", "0.006"),
        ("R-600a", "0"),
        ("R-717", "0"),
        ("R-1270", "0"),
        ("R-E170", "1"),
        # Article 3(1): by definition
        ("R-744", "1"),
    ],
)
def test_eu_value_of_a_single_gas(designation: str, value: str) -> None:
    """Regulation (EU) 2024/573, Annexes I, II and VI."""
    assert gwp(designation, "eu-2024-573") == Decimal(value)


@pytest.mark.parametrize("designation", ["R-11", "R-12", "R-22", "R-113", "R-115", "R-123", "R-124", "R-142b"])
def test_gases_of_the_ozone_regulation_have_no_eu_value(designation: str) -> None:
    """Missing is missing, not 0: neither Regulation (EU) 2024/573 nor 42 U.S.C. 7675(c) lists them."""
    for basis in ("eu-2024-573", "us-exchange", "us-84-64"):
        assert gwp(designation, basis) is None
        assert co2e_tonnes(designation, basis, 1) is None


@pytest.mark.parametrize(
    ("designation", "value"),
    [("R-32", 675), ("R-125", 3500), ("R-134a", 1430), ("R-143a", 4470), ("R-152a", 124), ("R-227ea", 3220)],
)
def test_us_exchange_value(designation: str, value: int) -> None:
    """42 U.S.C. 7675(c)(1)."""
    assert gwp(designation, "us-exchange") == value


def test_annex_vi_worked_example() -> None:
    """Regulation (EU) 2024/573, Annex VI: 60 % DME, 10 % HFC-152a, 30 % isobutane = 13.0, from our values."""
    parts = (("0.6", "R-E170"), ("0.1", "R-152a"), ("0.3", "R-600a"))
    assert weighted((Decimal(share), gwp(gas, "eu-2024-573")) for share, gas in parts) == 13


@pytest.mark.parametrize(
    ("shares", "values", "expected"),
    [
        (("0.60", "0.10", "0.30"), ("1", "124", "3"), "13.9"),  # Regulation (EU) 517/2014, Annex IV
        (
            ("0.23", "0.25", "0.52"),
            ("550", "3400", "1300"),
            "1652.5",
        ),  # Regulation (EC) 842/2006, Annex I part 2
    ],
)
def test_older_worked_examples_of_the_mixture_rule(shares, values, expected) -> None:
    pairs = zip(map(Decimal, shares), map(Decimal, values), strict=True)
    assert weighted(pairs) == Decimal(expected)


@pytest.mark.parametrize(
    ("designation", "value"),
    [
        ("R-404A", "3921.6"),
        ("R-407C", "1773.85"),
        ("R-410A", "2087.5"),
        ("R-513A", "629.48056"),
        ("R-454C", "145.518285"),
        ("R-452A", "2139.4003"),
        ("R-407A", "2107"),
        ("R-407F", "1824.5"),
        ("R-507A", "3985"),
        ("R-455A", "145.503255"),  # R-744 counts 0 in a mixture: Annex VI does not list it
    ],
)
def test_eu_value_of_a_blend_is_exact(designation: str, value: str) -> None:
    """Regulation (EU) 2024/573: values of Annexes I and II by the formula of Annex VI, unrounded."""
    assert gwp(designation, "eu-2024-573") == Decimal(value)


def test_r744_counts_one_alone_and_nothing_in_an_eu_blend() -> None:
    """Two readings of Regulation (EU) 2024/573 differ by its share: 145.503 or 145.533, both shown as 146."""
    assert gwp("R-744", "eu-2024-573") == 1
    alone = gwp("R-455A", "eu-2024-573") + Decimal("0.03")
    assert display_gwp(alone) == display_gwp(gwp("R-455A", "eu-2024-573")) == "146"
    assert "conflict" in refrigerant("R-744").sources["gwp_in_blend:eu-2024-573"].note


@pytest.mark.parametrize(
    ("designation", "printed"),
    [
        ("R-404A", 3922),
        ("R-407C", 1774),
        ("R-410A", 2088),
        ("R-448A", 1386),
        ("R-449A", 1396),
        ("R-450A", 601),
        ("R-452A", 2140),
        ("R-454B", 465),
        ("R-454C", 146),
        ("R-455A", 146),
        ("R-507A", 3985),
        ("R-513A", 630),
    ],
)
def test_us_84_64_blends_round_to_what_the_epa_prints(designation: str, printed: int) -> None:
    """40 CFR 84.64; the whole numbers as the EPA prints them for its rules under part 84."""
    assert display_gwp(gwp(designation, "us-84-64")) == str(printed)


@pytest.mark.parametrize(
    ("designation", "value"),
    [
        ("R-1234yf", "1"),
        ("R-1234ze(E)", "1"),
        ("R-1336mzz(Z)", "2"),
        ("R-1336mzz(E)", "26"),
        ("R-1233zd(E)", "4"),
        ("R-290", "3.3"),
        ("R-600a", "1"),
        ("R-717", "1"),
        ("R-744", "1"),
    ],
)
def test_us_84_64_table_1(designation: str, value: str) -> None:
    """40 CFR 84.64(b), table 1, as read on 2026-11-28."""
    assert gwp(designation, "us-84-64") == Decimal(value)
    assert gwp_source(designation, "us-84-64").confidence == "seen"


@pytest.mark.parametrize("designation", ["R-417A", "R-438A", "R-466A", "R-508B", "R-416A"])
def test_a_blend_with_a_gas_in_neither_table_has_no_value_by_84_64(designation: str) -> None:
    """R-600, R-601a, R-13I1, R-116 and R-124 stand in neither; their HFC part has an exchange value all the same."""
    assert gwp(designation, "us-84-64") is None
    assert gwp(designation, "us-exchange") > 0


def test_us_values_of_r513a() -> None:
    """40 CFR 84.64 counts R-1234yf as 1; 42 U.S.C. 7675(c) gives it no value: the HFC part counts."""
    assert gwp("R-513A", "us-84-64") == Decimal("629.76")
    assert gwp("R-513A", "us-exchange") == Decimal("629.2")
    assert gwp("R-1234yf", "us-exchange") is None


@pytest.mark.parametrize(
    ("designation", "printed"),
    [
        ("R-404A", 3922),
        ("R-407A", 2107),
        ("R-407F", 1825),
        ("R-410A", 2088),
        ("R-513A", 631),
        ("R-450A", 605),
        ("R-448A", 1387),
        ("R-449A", 1397),
        ("R-452A", 2140),
        ("R-454B", 466),
        ("R-454C", 148),
        ("R-455A", 148),
    ],
)
def test_ar4_blends_round_half_up_to_the_printed_values(designation: str, printed: int) -> None:
    """GOV.UK, "Calculate the CO2 equivalent quantity of an F gas" (the first four); Regulation (EU) 517/2014.

    R-410A is 2087.5 and R-407F 1824.5: rounding half to even would print 1824.
    """
    assert display_gwp(gwp(designation, "ar4")) == str(printed)


def test_small_values_are_shown_as_published() -> None:
    assert display_gwp(gwp("R-1234yf", "ar6")) == "0.501"
    assert display_gwp(gwp("R-1234ze(E)", "ar6")) == "1.37"
    assert display_gwp(Decimal("10.5")) == "11"
    assert display_gwp(Decimal("4.0")) == "4"
    assert display_gwp(Decimal("0")) == "0"
    assert display_gwp(None) == "no value"


@pytest.mark.parametrize(
    ("designation", "kilograms", "basis", "tonnes"),
    [
        ("R-134a", 1, "ar4", "1.43"),  # NetRegs, "Calculating the equipment charge as CO2 equivalent"
        ("R-404A", 10, "ar4", "39.22"),  # GOV.UK, with the rounded 3922
        ("R-404A", 1, "ar4", "3.92"),  # NetRegs
    ],
)
def test_tonnes_of_co2_equivalent_as_authorities_print_them(designation, kilograms, basis, tonnes) -> None:
    ours = co2e_tonnes(designation, basis, kilograms * 10**6)
    assert ours.quantize(Decimal("0.01"), ROUND_HALF_UP) == Decimal(tonnes)


def test_mass_of_five_tonnes() -> None:
    """GOV.UK, NetRegs: 5 t CO2e are 3.5 kg of R-134a and 1.27 kg of R-404A; 620 g of R-134a are 0.8866 t."""
    for designation, kilograms in (("R-134a", "3.5"), ("R-404A", "1.27")):
        mass = Fraction(5000) / Fraction(gwp(designation, "eu-2024-573"))
        assert abs(mass - Fraction(kilograms)) < Fraction(5, 1000)
    assert co2e_tonnes("R-134a", "us-exchange", 620_000) == Decimal("0.8866")


@pytest.mark.parametrize(("designation", "value"), [("R-12", "1"), ("R-22", "0.055")])
def test_odp_is_the_one_of_the_regulations(designation: str, value: str) -> None:
    """40 CFR part 82 subpart A, Appendices A and B: ODP1 Max in chemicals, whose default is another value."""
    ours, cas = refrigerant(designation).odp, refrigerant(designation).cas
    assert ours == Decimal(value) == Decimal(str(ODP(cas, method="ODP1 Max")))
    assert Decimal(str(ODP(cas))) != ours


@pytest.mark.parametrize("designation", SINGLE_GASES)
def test_odp_of_every_single_gas(designation: str) -> None:
    """chemicals 1.5.2, ODP1 Max; gases that it has no value for do not deplete ozone by the regulations."""
    found = refrigerant(designation)
    if "ODP1 Max" in ODP_methods(found.cas):
        published = Decimal(str(ODP(found.cas, method="ODP1 Max")))
        # R-1233zd(E) is in no appendix of 40 CFR part 82 subpart A.
        assert found.odp == (0 if found.kind == "HCFO" else published)
    else:
        assert found.odp == (None if found.kind == "iodofluorocarbon" else 0)
    assert found.depletes_ozone == (found.kind in ("CFC", "HCFC", "iodofluorocarbon"))


@pytest.mark.parametrize(
    ("designation", "odp"),
    [
        ("R-409A", "0.04825"),
        ("R-406A", "0.0569"),
        ("R-414B", "0.042255"),
        ("R-416A", "0.00869"),
        ("R-502", "0.33404"),
        ("R-500", "0.738"),
        ("R-401A", "0.03663"),
        ("R-402A", "0.0209"),
        ("R-408A", "0.02585"),
    ],
)
def test_odp_of_blends_follows_from_their_gases(designation: str, odp: str) -> None:
    """Regulation (EU) 2024/590, Annex I, by mass fraction; blends without such a gas have 0."""
    assert refrigerant(designation).odp == Decimal(odp)
    depleting = {name for name in BLENDS if refrigerant(name).kinds & {"CFC", "HCFC", "iodofluorocarbon"}}
    assert {refrigerant(name).odp for name in BLENDS if name not in depleting} == {0}


@pytest.mark.parametrize("designation", BLENDS)
def test_mass_fractions_add_up_and_name_gases_that_there_are(designation: str) -> None:
    composition = refrigerant(designation).composition
    assert sum(fraction for _, fraction in composition) == 1
    assert all(not refrigerant(part).is_blend for part, _ in composition)
    assert len({part for part, _ in composition}) == len(composition) >= 2


@pytest.mark.parametrize("designation", BLENDS)
def test_no_file_types_the_gwp_of_a_blend(designation: str) -> None:
    """It is computed on every basis, and the source names every gas in it."""
    assert dict(refrigerant(designation).listed_gwp) == {}
    for basis in GWP_BASES:
        told = gwp_source(designation, basis)
        assert (told is None) == (gwp(designation, basis) is None)
        if told is None:
            continue
        assert all(part in told.title for part, _ in refrigerant(designation).composition)
        assert told.title.startswith("Computed from the composition")


def test_a_blend_is_known_no_better_than_its_weakest_value() -> None:
    assert gwp_source("R-404A", "eu-2024-573").confidence == "computed"
    assert gwp_source("R-513A", "ar4").confidence == "memory"
    assert gwp_source("R-513B", "eu-2024-573").confidence == "memory"  # its composition is from memory


def test_unknown_basis_lists_those_there_are() -> None:
    with pytest.raises(UnknownBasis, match="ar4, ar5, ar6, eu-2024-573, us-exchange or us-84-64"):
        gwp("R-134a", "AR4")
