"""The days of the demonstration, and the dice of its story, which always fall the same way."""

import datetime as dt
import random
import uuid
from collections.abc import Callable

from inventory.containers.entries import OrderAsked
from shopledger.reporting.periods import quarter

VISITORS = 66


class Calendar:
    """From the first day of the quarter before until yesterday. random: the story's dice."""

    def __init__(self, today: dt.date):
        self.random = random.Random(7)  # noqa: S311 (a story, not a secret)
        self.today = today
        self.start = quarter(quarter(today).eve).first
        self.yesterday = today - dt.timedelta(days=1)

    def day(self, visit: float) -> dt.date:
        """The day of a visit; the shop is closed on Sundays."""
        day = self.start + dt.timedelta(days=round((self.yesterday - self.start).days * (visit + 1) / VISITORS))
        return day + dt.timedelta(days=1) if day.weekday() == 6 else day

    def key(self) -> str:
        return str(uuid.UUID(int=self.random.getrandbits(128), version=4))


def last_of_its_day(act: Callable, **said: object) -> object:
    """Enter an act of an earlier day: where it is asked after which other one it came, after all that are on record."""
    try:
        return act(**said)
    except OrderAsked as asked:
        return act(**said, follows=asked.acts[-1].voucher)
