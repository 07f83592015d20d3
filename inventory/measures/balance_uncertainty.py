"""How much of a period's unexplained total weighing itself can explain. Pure: no Django here. Masses in mg.

A reading is R = m (1 + s) + e: e independent from reading to reading (rounding, d/sqrt(12); JCGM 100:2008, F.2.2.1),
s the scale's span error, the same for all readings of that scale, within its limit a (rectangular: a/sqrt(3); 4.3.7).
A total is a sum of readings with coefficients c (+1 what was read now, -1 what was read before). So for each scale

    V = u_ind^2 * sum(c^2) + u_s^2 * (sum(c R))^2            summed over scales; U = 2 sqrt(V), coverage factor 2

Independent errors add in quadrature; a shared one multiplies what is left over (JCGM 100:2008, 5.2.2 with its note).
A reading that counts once as now and once as before has c = 0 and drops out.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import sqrt

SPAN_PPM = 500  # 0.05 %, what makers of charging scales often claim: from memory, no source; a scale's own figure wins


@dataclass(frozen=True)
class Readings:
    """All readings of one scale that a total rests on. readability in mg; span in millionths; squares: sum of c^2;
    moment: sum of c R in mg. other: standard uncertainty of one reading from repeatability and load placement, mg."""

    readability: int
    span_ppm: int
    squares: int
    moment: int
    other: float = 0.0


def standard_uncertainty(scales: Iterable[Readings]) -> float:
    """u of the total, mg."""
    variance = 0.0
    for one in scales:
        independent = one.readability**2 / 12 + one.other**2
        shared = one.span_ppm / 1e6 / sqrt(3) * one.moment
        variance += independent * one.squares + shared**2
    return sqrt(variance)


def expanded_uncertainty(scales: Iterable[Readings]) -> int:
    """U = 2 u of the total, rounded up to whole mg: what weighing can explain, about 95 times in 100."""
    found = 2 * standard_uncertainty(scales)
    return int(found) + (found > int(found))


def proven(total: int, expanded: int) -> bool:
    """Whether a total is more than weighing can explain."""
    return abs(total) > expanded
