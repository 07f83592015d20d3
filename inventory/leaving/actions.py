"""What came back on paper for a shipment."""

from collections.abc import Mapping

from django.db import transaction
from django.utils import timezone

from inventory.containers.models import Container
from inventory.leaving.models import TheirWeight
from inventory.ledger.actions import clean
from inventory.ledger.models import Voucher
from inventory.ledger.refusal import Refused


def enter_their_weights(*, number: int, weights: Mapping[str, int], document: str, by: str) -> None:
    """Keep what their receipt says of each container (mg; oil uL). It moves nothing: the shop's own weight counts in
    its ledger, and the difference is shown."""
    with transaction.atomic():
        voucher = Voucher.objects.filter(number=number, kind="shipment").first()
        if voucher is None:
            raise Refused("That is no shipment.")
        if not weights:
            raise Refused("Enter at least one weight from their receipt.")
        sent = dict(sent_of(voucher))
        known = Container.objects.in_bulk(list(weights), field_name="code")
        for code, net in weights.items():
            if code not in sent or code not in known:
                raise Refused(f"{code} was not in this shipment.", f"net-{code}")
            TheirWeight.objects.create(
                voucher=voucher, container=known[code], net=net, document=clean(document, "document", 200), by=by,
                at=timezone.now(),
            )  # fmt: skip


def sent_of(voucher: Voucher) -> list[tuple[str, int]]:
    """What a shipment took out of each container by the ledger: code and quantity."""
    rows = voucher.movements.filter(source_class=1, reversal=False).exclude(target_class=1).select_related("source")
    found: dict[str, int] = {}
    for row in rows:
        found[row.source.name] = found.get(row.source.name, 0) + row.quantity
    return sorted(found.items())
