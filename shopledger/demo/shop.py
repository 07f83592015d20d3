"""The demonstration shop: what it holds and what it did, told through the same actions as the pages.

Its days are counted back from the day it is loaded, so that it looks lived in: from the first day of the quarter
before until yesterday. What happens is always the same, only the days lie closer or wider.
"""

import datetime as dt

from django.apps import apps

from inventory.ledger.models import ChainHead, Voucher
from inventory.shop.clock import answer_in
from inventory.shop.models import Shop
from shopledger.demo.apart import Apart
from shopledger.demo.bay import Bay
from shopledger.demo.buying import Buying
from shopledger.demo.calendar import VISITORS, Calendar
from shopledger.demo.founding import Founding
from shopledger.demo.office import Office


class Story:
    """Loads the shop, day after day, always the same way."""

    def __init__(self, today: dt.date):
        self.calendar = Calendar(today)

    def tell(self) -> None:
        founding = Founding(self.calendar)
        founding.people()
        answer_in(Shop.current().zone)  # asked once, and not for each of two thousand days
        try:
            self._what_happened(founding)
        finally:
            answer_in(None)

    def _what_happened(self, founding: Founding) -> None:
        founding.things()
        office, bay = Office(self.calendar), Bay(self.calendar, founding)
        buying = Buying(self.calendar)
        apart = Apart(self.calendar, founding)
        for number in range(VISITORS):
            office.before_visit(number)
            buying.before_visit(number)
            apart.before_visit(number)
            bay.visit(number)
        bay.loose_ends()


def anything_there() -> bool:
    """Whether the database holds anything at all: every table of this project but the chain's one row."""
    models = [model for app in ("inventory", "jobs", "shopledger") for model in apps.get_app_config(app).get_models()]
    return any(model.objects.exists() for model in models if model is not ChainHead)


def demonstration_there() -> bool:
    return Shop.objects.filter(invented=True).exists()


def first_day() -> dt.date:
    """The day on which the story begins: the first of a quarter."""
    return Voucher.objects.get(number=1).day
