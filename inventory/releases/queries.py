"""What got out by accident, as it stands in the ledger."""

import datetime as dt
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from inventory.containers.entries import OnRecord
from inventory.containers.events import Op, read
from inventory.containers.models import Container, ContainerEntry
from inventory.containers.queries import in_stock
from inventory.containers.replay import states_before
from inventory.ledger.models import Voucher


@dataclass(frozen=True)
class Released:
    """quantity: mg, or uL of an oil; None of an entry that was taken back. cause: of CAUSES."""

    voucher: Voucher
    container: Container
    cause: str
    quantity: int | None

    @property
    def substance(self) -> str:
        return self.container.substance.code if self.container.substance else ""


def released_in(first: dt.date, last: dt.date) -> list[Released]:
    """What got out in a period, by the vouchers that stand; the earliest first."""
    standing = Voucher.objects.standing().filter(kind="release", day__gte=first, day__lte=last)
    return list(_told(standing.order_by("number")))


def released_by(voucher: Voucher) -> Released | None:
    """What one voucher says that got out; None where it says nothing of that."""
    return next(_told([voucher]), None) if voucher.kind == "release" else None


def in_stock_codes() -> list[str]:
    """Codes of what is in stock, as suggestions."""
    return list(in_stock().filter(account__balance__gt=0).order_by("code").values_list("code", flat=True)[:200])


def _told(vouchers: Iterable[Voucher]) -> Iterator[Released]:
    found = []
    for voucher in vouchers:
        detail = json.loads(voucher.detail)
        op = next(one for one in read(detail["event"]).ops if one.verb in {"draw", "leave"})
        found.append((voucher, detail["cause"], op))
    known = Container.objects.select_related("substance").in_bulk([op.code for *_, op in found], field_name="code")
    for voucher, cause, op in found:
        yield Released(voucher, known[op.code], cause, _quantity(voucher, op))


def _quantity(voucher: Voucher, op: Op) -> int | None:
    """What was said; where that is all there was in it, what the container's story has by then."""
    if op.quantity is not None:
        return op.quantity
    if op.verb == "draw":
        return op.before - op.after
    stands = ContainerEntry.objects.filter(voucher=voucher).values_list("position", flat=True).first()
    return states_before(OnRecord(), {op.code: stands})[op.code].balance if stands else None
