"""The list of stock with 200 containers and with 20,000: first page, last page, a search, sorted by what they hold."""

import uuid

from django.conf import settings
from django.contrib.auth import get_user_model
from django.db import connection
from django.test import Client

from inventory.containers.models import Container, Location, Scale
from inventory.ledger.actions import writing
from inventory.parties.actions import supplier_called
from inventory.receiving.actions import Arrival, receive
from inventory.shop.clock import today
from tests.bench.timing import Found, ms, percentile

PAGES = {
    "first page": "/stock/",
    "last page": "/stock/?page=99999",
    "a search": "/stock/?text=C-0000",
    "sorted by content": "/stock/?sort=-content",
}
LINES = 100


def _deliver(upto: int) -> None:
    """Deliveries of a hundred lines, each with another net weight, until there are so many."""
    have = Container.objects.count()
    while have < upto:
        lines = [
            Arrival(
                "can",
                "R-134a",
                False,
                "virgin",
                300_000 + (have + n) % 997 * 100,
                1,
                "Store",
                f"C-{have + n:06d}",
                tare_mg=100_000,
            )
            for n in range(min(LINES, upto - have))
        ]
        receive(
            lines=lines,
            supplier=supplier_called("Acme"),
            document=f"D-{have}",
            day=today(),
            by="bench",
            key=str(uuid.uuid4()),
        )
        have += len(lines)


def measure(found: Found) -> None:
    settings.ALLOWED_HOSTS = ["testserver"]
    with writing():
        Scale.objects.update_or_create(code="bench", defaults={"readability_mg": 1000, "usual": True})
    Location.objects.get_or_create(name="Store")
    person = get_user_model().objects.create_user("lister", password=uuid.uuid4().hex, name="L", role="owner")
    client = Client()
    client.force_login(person)
    few: dict[str, float] = {}
    for count in (200, 20_000):
        _deliver(count)
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE" if connection.vendor == "postgresql" else "SELECT 1")
        for name, address in PAGES.items():
            client.get(address)
            median = percentile([ms(lambda address=address: client.get(address)) for _ in range(15)], 0.5)
            found[f"stock of {count:,}, {name}, ms"] = median
            if name in few:
                found[f"stock of {count:,}, {name}, to 200"] = median / few[name]
            few.setdefault(name, median)
