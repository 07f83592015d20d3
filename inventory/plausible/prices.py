"""Whether a price can be, beside what was paid for the like. Pure: no Django here.

Prices of a gas move by tens of per cent in a year: one that is several times another is asked about. How many times is
common practice, no source.
"""

from inventory.measures.money import plain_money, show_money
from inventory.plausible.expected import PRACTICE
from inventory.plausible.judging import ASK, Answer, Reading

TIMES = 4  # as much, or as little, as was paid last
NEAR = 2  # times: within that a reading with its mark moved is what may be meant


def price_answer(price: int, paid: int, currency: str) -> Answer | None:
    """What is to be asked of a price, beside the one that was paid last for the like, both in minor units; None where
    nothing is."""
    if paid <= 0 or paid <= TIMES * price <= TIMES * TIMES * paid:
        return None
    typed = Reading(price, plain_money(price, currency))
    moved = [price * power for power in (10, 100, 1000)] + [price // power for power in (10, 100) if price % power == 0]
    others = [one for one in moved if paid <= NEAR * one <= NEAR * NEAR * paid]
    meant = tuple(Reading(one, plain_money(one, currency), "comma") for one in others[:1])
    why = f"{show_money(paid, currency)} was paid for the like last."
    return Answer(ASK, typed, (*meant, typed), why, PRACTICE)
