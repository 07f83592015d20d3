"""The foot of this shop's papers."""

import datetime as dt
from dataclasses import dataclass

from inventory.ledger.queries import head
from inventory.paper.document import Foot
from inventory.shop.models import Shop


@dataclass(frozen=True)
class Origin:
    """Who made a paper, and when. head: the voucher number and digest to name, where not the ledger's present head."""

    by: str
    at: dt.datetime
    head: tuple[int, str] | None = None


def foot(
    title: str,
    origin: Origin,
    *,
    place: str,
    substance: str | None = None,
    draft: bool = False,
    shop: Shop | None = None,
) -> Foot:
    """place: of the cautions. shop: as it was, for a paper of then; else as it is now."""
    shop = shop or Shop.current()
    rules = shop.rules
    number, digest = origin.head or head()
    at = origin.at.astimezone(shop.zone)
    cautions = tuple(caution.sentence for caution in rules.cautions(place, at.date(), substance))
    return Foot(
        shop.name, shop.address, title, at, origin.by, str(rules), number, digest, cautions, shop.invented, draft
    )
