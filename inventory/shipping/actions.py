"""What came back on paper for a shipment."""

import json
from collections.abc import Collection, Mapping

from django.db.models import Sum
from django.utils import timezone

from inventory.containers.actions import record, some
from inventory.containers.entries import OnRecord
from inventory.containers.events import read
from inventory.containers.models import Container, ContainerEntry
from inventory.containers.placing import EntryHead
from inventory.containers.recorder import Recorder
from inventory.containers.replay import states_before
from inventory.ledger.actions import writing
from inventory.ledger.models import Voucher
from inventory.parties.models import Party
from inventory.reference.rule import Gas
from inventory.shipping.models import TheirWeight
from inventory.shipping.sales import SELL, SaleSaid, check_buyer, origins_of, seen_of, sold
from inventory.shop.models import Shop
from inventory.text.clean import clean
from inventory.text.refusal import Refused
from inventory.verdicts.selling import selling
from inventory.verdicts.single_use import single_use


def enter_their_weights(*, number: int, weights: Mapping[str, int], document: str, by: str) -> None:
    """Keep what their receipt says of each container (mg; oil uL). It moves nothing: the shop's own weight counts in
    its ledger, and the difference is shown."""
    with writing():
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
    """What a shipment took out of each container by the ledger: code and quantity. While it stands, what was sent as
    all that was in it follows what was corrected before it."""
    stands = dict(ContainerEntry.objects.filter(voucher=voucher).values_list("container__code", "position"))
    if not stands:
        return _posted_of(voucher)
    left = {op.code: op.quantity for op in read(json.loads(voucher.detail)["event"]).ops if op.verb == "leave"}
    whole = {code: stands[code] for code, quantity in left.items() if quantity is None}
    then = states_before(OnRecord(), whole) if whole else {}
    return sorted((code, then[code].balance if quantity is None else quantity) for code, quantity in left.items())


def _posted_of(voucher: Voucher) -> list[tuple[str, int]]:
    rows = voucher.movements.filter(source_class=1, reversal=False).exclude(target_class=1)
    found = rows.values_list("source__name").annotate(quantity=Sum("quantity"))
    return [(code, int(quantity)) for code, quantity in found.order_by("source__name")]


def ship(
    *,
    parcels: Mapping[str, int | None],
    purpose: str,
    party: Party,
    containers_go: bool = False,
    sale: SaleSaid | None = None,
    **head: object,
) -> int:
    """Content that leaves. parcels: code to quantity, None for all that is in it. containers_go: the containers leave
    with it for good, and their deposits are closed; then all that is in them goes. sale: what is said of one, where it
    is sold; what the rulebook refuses is refused. head: as in `containers/actions.py`."""
    entry, said = EntryHead("shipment", **head), sale or SaleSaid()
    if purpose == SELL:
        check_buyer(party)

    def run(recorder: Recorder) -> dict:
        if purpose == SELL:
            _check_sale(recorder, parcels, said, seen_of(said, party, entry.document))
        sent = {code: recorder.holdings.ship(code, purpose, party.code, quantity) for code, quantity in parcels.items()}
        for code in parcels if containers_go else ():
            if recorder.holdings.containers[code].balance:
                raise Refused(f"{code} leaves whole, so all that is in it does: leave its quantity blank.", "quantity")
            recorder.holdings.retire(code)
            # Whatever deposit it has: one that is entered later was given back then too.
            recorder.rows.by_code[code].deposit_back_on = entry.day
        more = {"sale": said.detail} if purpose == SELL and said.detail else {}
        return {"detail": {"party": party.code, "purpose": purpose, "containers": sent, **more}}

    return record(entry, run, some(list(parcels)))


def _check_sale(recorder: Recorder, codes: Collection[str], said: SaleSaid, seen: frozenset[str]) -> None:
    """Raises Refused for what the shop's rulebook does not let be sold so. What is missing, or cannot be judged, is a
    finding."""
    rules, origins = Shop.current().rules, origins_of(codes)
    for code in codes:
        held = recorder.holdings.here(code, "container")
        if held.is_oil:
            continue
        why = single_use(rules, held.kind, held.substance, "supply", recorder.holdings.on)
        if why.is_refused:
            raise Refused(f"{code}: {why.said} {why.cited}.", "purpose")
        gas = Gas(held.grade, origins=origins[code])
        asked = sold(said, held.substance, gas, seen, recorder.rows.by_code[code])
        verdict = selling(rules, asked, recorder.holdings.on)
        if verdict.is_refused:
            raise Refused(f"{code}: {verdict.said} {verdict.cited}.", "purpose")
