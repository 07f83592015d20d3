"""What came back on paper for a shipment."""

from collections.abc import Mapping

from django.db import transaction
from django.utils import timezone

from inventory.containers.actions import record, some
from inventory.containers.models import Container
from inventory.containers.placing import EntryHead
from inventory.containers.recorder import Recorder
from inventory.ledger.models import Voucher
from inventory.parties.models import Party
from inventory.shipping.models import TheirWeight
from inventory.text.clean import clean
from inventory.text.refusal import Refused


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
                voucher=voucher,
                container=known[code],
                net=net,
                document=clean(document, "document", 200),
                by=by,
                at=timezone.now(),
            )


def sent_of(voucher: Voucher) -> list[tuple[str, int]]:
    """What a shipment took out of each container by the ledger: code and quantity."""
    rows = voucher.movements.filter(source_class=1, reversal=False).exclude(target_class=1).select_related("source")
    found: dict[str, int] = {}
    for row in rows:
        found[row.source.name] = found.get(row.source.name, 0) + row.quantity
    return sorted(found.items())


def ship(
    *, parcels: Mapping[str, int | None], purpose: str, party: Party, containers_go: bool = False, **head: object
) -> int:
    """Content that leaves. parcels: code to quantity, None for all that is in it. containers_go: the containers leave
    with it for good, and their deposits are closed; then all that is in them goes. head: as in
    `containers/actions.py`."""
    entry = EntryHead("shipment", **head)

    def run(recorder: Recorder) -> dict:
        sent = {code: recorder.holdings.ship(code, purpose, party.code, quantity) for code, quantity in parcels.items()}
        for code in parcels if containers_go else ():
            if recorder.holdings.containers[code].balance:
                raise Refused(f"{code} leaves whole, so all that is in it does: leave its quantity blank.", "quantity")
            recorder.holdings.retire(code)
        return {"detail": {"party": party.code, "purpose": purpose, "containers": sent}}

    with transaction.atomic():
        number = record(entry, run, some(list(parcels)))
        if containers_go:
            gone = Container.objects.filter(code__in=list(parcels), deposit_minor__isnull=False)
            gone.update(deposit_back_on=entry.day)
        return number
