"""What a voucher will say, before it is posted."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from inventory.ledger.accounts import Transfer


@dataclass(frozen=True)
class Draft:
    """All that a voucher will say. transfers may be empty (an empty container that moves)."""

    kind: str
    day: dt.date
    recorded_by: str
    transfers: tuple[Transfer, ...] = ()
    done_by: str = ""
    document: str = ""
    note: str = ""
    detail: Mapping[str, object] = field(default_factory=dict)
    reverses: int | None = None
    first_revision: int | None = None
    key: str = ""
