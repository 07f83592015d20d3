"""What stands in the demonstration shop, and what its scales show."""

from django.db.models import QuerySet

from inventory.containers.models import Container
from shopledger.demo.calendar import Calendar

G, ML = 1_000, 1_000  # mg, uL
CAN_TARE = 98 * G
NET = {"R-134a": 340 * G, "R-1234yf": 227 * G}  # of a can
VAPOUR = 4 * G  # stays in a can that is emptied as liquid and vapour
STEP = {"bench": 1 * G, "floor": 5 * G}


def sealed(gas: str) -> list[str]:
    return list(cans(gas).filter(opened_on=None).order_by("code").values_list("code", flat=True))


def cans(gas: str) -> QuerySet[Container]:
    return Container.objects.filter(
        kind="can", substance__code=gas, account__balance__gt=VAPOUR, retired_on=None, location__name="Store"
    )


def scale_of(code: str) -> str:
    return "bench" if code.startswith("CAN") else "floor"


def gross(calendar: Calendar, code: str) -> int:
    """What the scale shows, in its steps: the book, and now and then a step beside it."""
    container = Container.objects.select_related("account").get(code=code)
    step = STEP[scale_of(code)]
    shown = round((container.tare_mg + container.content) / step) + calendar.random.choice([0, 0, 0, 1, -1])
    return max(shown * step, -(-container.tare_mg // step) * step)
