"""What a weighing can resolve: maximum permissible errors, uncertainties and the tolerance of a difference.

Loads, readabilities and differences are whole milligrams; uncertainties are floats in the unit they are given
in, for display. No Django import.

A scale's limits of error are those of OIML R 76-1 for class III in service: twice those of table 6, which are
for verification. The verification interval e is taken to be the readability d, as a shop's charging scale
states no other. Limits and readability are type B information (JCGM 100:2008, 4.3.7 and F.2.2.1).
"""

from math import hypot, isqrt, sqrt

OIL_TOLERANCE_UL = 10_000  # 10 mL: what a look at a bottle's marks can tell; common practice, no source


def mpe_in_service_mg(load_mg: int, readability_mg: int) -> int:
    """The in-service maximum permissible error of a class III scale at a load, in mg.

    1 e up to and including 500 e, 2 e up to and including 2,000 e, 3 e above, with e the readability
    (OIML R 76-1, table 6, doubled for service).
    Raises ValueError for a load under 0 and for a readability that is not over 0.
    """
    if load_mg < 0:
        raise ValueError(f"a load cannot be under 0 mg, and {load_mg} is")
    if readability_mg <= 0:
        raise ValueError(f"a readability is over 0 mg, and {readability_mg} is not")
    if load_mg <= 500 * readability_mg:
        return readability_mg
    if load_mg <= 2_000 * readability_mg:
        return 2 * readability_mg
    return 3 * readability_mg


def within_tolerance(
    difference_mg: int,
    reading_mg: int,
    readability_mg: int,
    implied_gross_mg: int,
    implied_readability_mg: int,
) -> bool:
    """Whether weighing alone can explain a difference, decided in whole milligrams.

    difference_mg: net read less book, of either sign.
    reading_mg: the gross read, on a scale of readability_mg.
    implied_gross_mg: tare and book, as if read on the scale of the last weighing, of implied_readability_mg
    (of this scale where there was none).

    Each of the two has u^2 = MPE^2 / 3 + d^2 / 12; the limit is 2 * sqrt(u1^2 + u2^2), itself within.
    Squared and times three: 3 * difference^2 <= 4 * MPE1^2 + d1^2 + 4 * MPE2^2 + d2^2.
    """
    return 3 * difference_mg**2 <= _three_limits_squared(
        reading_mg, readability_mg, implied_gross_mg, implied_readability_mg
    )


def tolerance_mg(reading_mg: int, readability_mg: int, implied_gross_mg: int, implied_readability_mg: int) -> int:
    """The largest whole difference that is within, in mg: within_tolerance(x, ...) where abs(x) <= it.

    Exact, because a whole number's square is at most a number where it is at most that number's integer part.
    """
    squared = _three_limits_squared(reading_mg, readability_mg, implied_gross_mg, implied_readability_mg)
    return isqrt(squared // 3)


def within_oil_tolerance(difference_ul: int) -> bool:
    """Whether reading a bottle can explain a difference in volume left, in uL; the limit itself is within."""
    return abs(difference_ul) <= OIL_TOLERANCE_UL


def rectangular_uncertainty(half_width: float) -> float:
    """The standard uncertainty of a value within +-half_width: a / sqrt(3), JCGM 100:2008, 4.3.7.

    Half a scale's step d gives d / sqrt(12), JCGM 100:2008, F.2.2.1.
    """
    return half_width / sqrt(3)


def combined_uncertainty(*parts: float) -> float:
    """Standard uncertainties of independent inputs in quadrature: JCGM 100:2008, 5.1.2."""
    return hypot(*parts)


def standard_uncertainty_mg(load_mg: int, readability_mg: int) -> float:
    """The standard uncertainty of one reading in mg, for display: MPE and readability in quadrature."""
    return combined_uncertainty(
        rectangular_uncertainty(mpe_in_service_mg(load_mg, readability_mg)),
        rectangular_uncertainty(readability_mg / 2),
    )


def _three_limits_squared(reading_mg: int, d1_mg: int, implied_gross_mg: int, d2_mg: int) -> int:
    """Three times the square of the limit, a whole number of mg^2."""
    mpe1_mg = mpe_in_service_mg(reading_mg, d1_mg)
    mpe2_mg = mpe_in_service_mg(implied_gross_mg, d2_mg)
    return 4 * mpe1_mg**2 + d1_mg**2 + 4 * mpe2_mg**2 + d2_mg**2
