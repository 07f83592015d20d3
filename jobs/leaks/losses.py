"""What a unit lost between two visits. Pure: no Django here. Masses in mg."""

import datetime as dt
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class Visit:
    """emptied: it was evacuated, so that what was charged then was all there was in it."""

    day: dt.date
    charged: int
    recovered: int
    emptied: bool


@dataclass(frozen=True)
class Loss:
    """lost: mg, None where the figures do not allow it; sentence says why then. percent_a_year: of the full charge."""

    lost: int | None
    days: int
    percent_a_year: Fraction | None
    sentence: str = ""


def loss_between(first: Visit, then: Visit, full_mg: int | None) -> Loss:
    """What was lost from one visit to the next: put into the emptied unit at the first, less what the next one
    recovered. A year is 365 days. It holds as far as the recovery got out all that was left."""
    days = (then.day - first.day).days
    if not first.emptied:
        return Loss(None, days, None, f"On {first.day} it was topped up, so nobody knows how much was in it then.")
    if not first.charged:
        return Loss(None, days, None, f"On {first.day} it was left empty.")
    if not (then.recovered and then.emptied):
        return Loss(None, days, None, f"On {then.day} it was not recovered and evacuated: what was left is not known.")
    lost = first.charged - then.recovered
    if lost < 0:
        return Loss(
            None, days, None, f"On {then.day} more came out than was put in on {first.day}: someone else filled it."
        )
    percent = Fraction(lost * 100 * 365, full_mg * days) if full_mg and days else None
    return Loss(lost, days, percent)
