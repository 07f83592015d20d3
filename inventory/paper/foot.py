"""The foot of this shop's papers."""

import datetime as dt

from inventory.ledger.queries import head
from inventory.paper.document import Foot
from inventory.shop.models import Shop


def foot(
    title: str,
    *,
    made_by: str,
    made_at: dt.datetime,
    place: str,
    substance: str | None = None,
    draft: bool = False,
    at: tuple[int, str] | None = None,
) -> Foot:
    """at: the voucher number and digest to name, where not the ledger's present head. place: of the cautions."""
    shop = Shop.current()
    rules = shop.rules
    number, digest = at or head()
    made = made_at.astimezone(shop.zone)
    cautions = tuple(caution.sentence for caution in rules.cautions(place, made.date(), substance))
    return Foot(
        shop.name, shop.address, title, made, made_by, str(rules), number, digest, cautions, shop.invented, draft
    )
