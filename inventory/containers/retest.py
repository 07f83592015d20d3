"""Whether a container is so worn that it is tested before its day. Pure: no Django here."""

from decimal import Decimal


def worn(first_tare_mg: int, tare_mg: int, percent: Decimal) -> bool:
    """Whether a container has lost so much of its tare, in percent, that it is tested before its day: rust or a part
    that is missing (49 CFR 180.209(c): 5 % or more). Equal counts."""
    return (first_tare_mg - tare_mg) * 100 >= first_tare_mg * percent
