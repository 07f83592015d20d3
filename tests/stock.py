"""Short ways for tests to say what happened to containers."""

import datetime as dt
import uuid

from inventory.containers.holdings import Weighed
from inventory.containers.placing import EntryHead
from inventory.containers.recorder import recording
from inventory.ledger.accounts import AccountClass, Spot
from inventory.ledger.models import Movement
from inventory.parties.actions import supplier_called
from inventory.receiving.actions import Arrival, receive

UNIT = AccountClass.UNIT.word


def came(code, kind="refillable", net=0, substance="R-134a", **said):
    """A line of a delivery: one container."""
    place, oil = said.pop("location", "Store"), kind == "oil"
    return Arrival(kind, substance, oil, said.pop("grade", ""), net, 1, place, code, **said)


def delivery(*lines, day, supplier="Acme", **head):
    """Posts what came; returns the voucher's number."""
    said = {"document": "", "by": "office", "key": str(uuid.uuid4()), **head}
    return receive(lines=list(lines), supplier=supplier_called(supplier), day=day, **said)


def charge(code, before=None, after=None, *, day, unit="U", quantity=None, **head):
    """Posts what a job takes out of a container, by weights or a quantity (mg); returns the voucher's number."""
    head = EntryHead("job", day, "tech", **head)
    with recording() as recorder:
        recorder.open(head, [code])
        weighed = Weighed(before, after, quantity, recorder.scale() if before is not None else None)
        recorder.holdings.draw(code, weighed, [(UNIT, unit, weighed.amount(1))], "R-134a")
        return recorder.post(head)


def recover(code, quantity, *, day, unit="U", **head):
    """Posts what a job puts into a container (mg); returns the voucher's number."""
    head = EntryHead("job", day, "tech", **head)
    with recording() as recorder:
        recorder.open(head, [code])
        recorder.holdings.fill(code, Weighed(quantity=quantity), Spot("R-134a", AccountClass.UNIT, unit))
        return recorder.post(head)


def weigh(code, gross, *, day, **head):
    head = EntryHead("count", day, "office", **head)
    with recording() as recorder:
        recorder.open(head, [code])
        recorder.holdings.count(code, gross, recorder.scale())
        return recorder.post(head)


def at(day, hour, minute=0):
    """A moment of a day, UTC."""
    return dt.datetime.combine(day, dt.time(hour, minute), dt.UTC)


def flows():
    """Net mg between classes of account, what was taken back taken off what it takes back."""
    found = {}
    for movement in Movement.objects.all():
        pair, quantity = (movement.source_class, movement.target_class), movement.quantity
        if movement.reversal:
            pair, quantity = pair[::-1], -quantity
        pair = tuple(AccountClass(cls).name for cls in pair)
        found[pair] = found.get(pair, 0) + quantity
    return {pair: quantity for pair, quantity in found.items() if quantity}
