"""Pressure classes of refrigerants, worked out from the saturation pressure of the liquid at 104 °F (40 °C).

40 CFR 82.152, "low-pressure", "medium-pressure", "high-pressure" and "very high-pressure appliance": low below
45 psia, medium up to 170, high up to 355, very high above, or where the critical temperature is below 104 °F.
The first limit was read in the text; the other two are from memory, to be confirmed with the authority.
"""

from decimal import Decimal

KPA_PER_PSI = Decimal("0.45359237") * Decimal("9.80665") / Decimal("0.00064516") / 1000  # exact definitions

CLASSES = ("low", "medium", "high", "very high")

LIMITS_PSIA = (Decimal(45), Decimal(170), Decimal(355))

CELSIUS = Decimal(40)  # 104 °F

# A pressure this near to a limit is not known well enough to say on which side of it the gas is.
NEAR = Decimal("0.03")


def _is_supercritical(critical_c: Decimal | None) -> bool:
    return critical_c is not None and critical_c < CELSIUS


def pressure_class(pressure_kpa: Decimal | None, critical_c: Decimal | None) -> str | None:
    """One of CLASSES, from the absolute bubble pressure at 40 °C in kPa; None where it is not known."""
    if _is_supercritical(critical_c):
        return "very high"
    if pressure_kpa is None:
        return None
    psia = pressure_kpa / KPA_PER_PSI
    low, medium, high = LIMITS_PSIA
    if psia < low:
        return "low"
    if psia <= medium:
        return "medium"
    return "high" if psia <= high else "very high"


def is_near_a_limit(pressure_kpa: Decimal | None, critical_c: Decimal | None) -> bool:
    """Whether the pressure is within 3 % of a limit between two classes."""
    if pressure_kpa is None or _is_supercritical(critical_c):
        return False
    psia = pressure_kpa / KPA_PER_PSI
    return any(abs(psia - limit) <= NEAR * limit for limit in LIMITS_PSIA)
