"""Oils and oil add-back against published figures."""

from decimal import Decimal

import pytest

from inventory.reference.addback import addback, addbacks
from inventory.reference.oils import common_oils, oil_families, parse_oil

US_FLUID_OUNCE_ML = Decimal("29.5735295625")  # 231 in³ / 128, exact


def test_one_fluid_ounce_of_pag() -> None:
    """1 US fl oz at the default 0.99 kg/L is 29.278 g, not the 28.35 g of an ounce of weight."""
    assert US_FLUID_OUNCE_ML * parse_oil("PAG 46").density_kg_l == pytest.approx(
        Decimal("29.2778"), abs=Decimal("0.0001")
    )


@pytest.mark.parametrize(
    ("family", "default", "low", "high"),
    [
        ("PAG", "0.99", "0.95", "1.05"),  # a specification for VG 46, at 15.6 °C
        ("POE", "0.97", "0.954", "1.023"),  # Burton 1999 0.954; a safety data sheet 1.023 at 15 °C
        ("PVE", "0.93", "0.92", "0.94"),  # from memory
        ("Mineral", "0.88", "0.862", "0.91"),  # Grebner and Crawford: paraffinic 0.862; TRG 102
        ("AB", "0.87", "0.82", "0.92"),  # from memory
    ],
)
def test_default_densities_lie_in_what_is_published(family, default, low, high) -> None:
    found = oil_families()[family]
    assert found.density_kg_l == Decimal(default)
    assert Decimal(low) <= found.density_kg_l <= Decimal(high)
    assert found.sources["density_kg_l"].title


def test_order_in_which_oils_take_up_water() -> None:
    """Trade publications: PAG > PVE > POE > mineral."""
    families = oil_families()
    order = sorted(("POE", "Mineral", "PAG", "PVE"), key=lambda code: families[code].hygroscopicity_rank)
    assert order == ["PAG", "PVE", "POE", "Mineral"]


def test_which_oils_suit_a_high_voltage_compressor() -> None:
    """The motor sits in the refrigerant: POE and PVE insulate, about 1 % of PAG takes the insulation away."""
    suits = {code for code, family in oil_families().items() if family.suits_high_voltage}
    assert suits == {"POE", "PVE"}
    assert "insulation" in parse_oil("PAG 46").high_voltage_reason
    for oil in common_oils():
        assert "label" in oil.high_voltage_reason
        assert oil.high_voltage_source.title


@pytest.mark.parametrize(
    ("part", "drained", "low", "typical", "high"),
    [
        ("condenser", 0, 20, 30, 60),  # about 1 fl oz
        ("evaporator", 0, 30, 60, 90),  # 1 fl oz in some manuals, 3 in others
        ("receiver-drier", 0, 15, 30, 30),
        ("hose", 0, 0, 0, 10),
        ("hose-burst", 0, 60, 60, 60),  # 2 fl oz
        ("sudden-loss", 0, 60, 90, 90),  # about 3 fl oz
        ("recharge", 0, 0, 20, 20),
        ("accumulator", 40, 70, 85, 100),  # the same and 1 to 2 fl oz
        # Compressor: under 3 fl oz drained add 3; from 3 to 5 add the same and 1; over 5 add the same
        ("compressor", 0, 90, 90, 90),
        ("compressor", "89.999", 90, 90, 90),
        ("compressor", 90, 120, 120, 120),
        ("compressor", 150, 180, 180, 180),
        ("compressor", "150.001", "150.001", "150.001", "150.001"),
        ("compressor", 200, 200, 200, 200),
        # Recovery: add back what was drained where it is more than 1/2 fl oz
        ("recovery", 15, 0, 0, 0),
        ("recovery", "15.001", "15.001", "15.001", "15.001"),
    ],
)
def test_oil_to_add_back(part, drained, low, typical, high) -> None:
    """Service manuals of vehicle makers, model years 1989 to 2001; 30 mL to the fluid ounce."""
    amount = addback(part).amount(Decimal(drained))
    assert (amount.low_ml, amount.typical_ml, amount.high_ml) == (
        Decimal(low),
        Decimal(typical),
        Decimal(high),
    )
    assert amount.source.title and amount.rule


def test_every_part_has_a_range_that_is_one() -> None:
    for part, rule in addbacks().items():
        for drained in (0, 10, 90, 120, 150, 400):
            amount = rule.amount(drained)
            assert 0 <= amount.low_ml <= amount.typical_ml <= amount.high_ml, part
    asks = {part for part, rule in addbacks().items() if rule.needs_drained}
    assert asks == {"accumulator", "compressor", "recovery"}


def test_unknown_part_and_negative_drain() -> None:
    with pytest.raises(LookupError, match="write condenser, evaporator"):
        addback("Condenser")
    with pytest.raises(ValueError, match="negative"):
        addback("condenser").amount(-1)
