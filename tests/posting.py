"""What a process that posts has at hand: the program on the database that POSTED_INTO names, a can to draw from."""

import datetime as dt
import os

import django

os.environ["DJANGO_SETTINGS_MODULE"] = "shopledger.settings"
django.setup()

from django.db import connection  # noqa: E402

from inventory.ledger import verify  # noqa: E402
from inventory.ledger.accounts import AccountClass, Spot, Transfer  # noqa: E402
from inventory.ledger.actions import Draft, post  # noqa: E402
from inventory.ledger.models import Account, Voucher  # noqa: E402, F401
from inventory.text.refusal import Refused  # noqa: E402, F401

connection.settings_dict["NAME"] = os.environ["POSTED_INTO"]
verify.extra_checks.clear()  # these post without containers' rows
CAN = Spot("R-134a", AccountClass.CONTAINER, "CAN-1", "Store", "virgin")
UNIT = Spot("R-134a", AccountClass.UNIT, "U-1")


def stock() -> int:
    opening = Transfer(Spot("R-134a", AccountClass.OPENING), CAN, 340_000)
    return post(Draft("opening", dt.date(2026, 3, 1), "x", (opening,)))


def draw(quantity: int, **more: object) -> int:
    return post(Draft("job", dt.date(2026, 3, 2), "x", (Transfer(CAN, UNIT, quantity),), **more))
