"""What an op does to its container. Pure: no Django here, whole numbers in and out.

An op's outcome follows from its own inputs and its container's state alone, so a container's story can be told again,
in another order or with another act in it (`replay.py`). Quantities are milligrams for refrigerants and microlitres
for oils.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from inventory.containers.apart import kept_apart, kept_for_another, not_known
from inventory.containers.events import CONTAINER, Op, spot
from inventory.containers.states import ContainerState, Reading, ScaleSeen
from inventory.ledger.accounts import AccountClass, Spot, Transfer
from inventory.measures.days import said_day
from inventory.measures.tolerance import OIL_TOLERANCE_UL, tolerance_mg
from inventory.text.refusal import Refused

OPENS = {AccountClass.UNIT.word, AccountClass.LINE_LOSS.word, CONTAINER}  # what is drawn for these opens a container
OF_UNKNOWN = {"found", "stand", "identify"}  # what can be said of a container before it is known what is in it
CUSTOMER = AccountClass.CUSTOMER.word
AIR = AccountClass.OTHER_LOSS.word  # what gets out by accident asks nobody whose it is


@dataclass
class Postings:
    """What one voucher will post."""

    transfers: list[Transfer] = field(default_factory=list)
    readings: list[Reading] = field(default_factory=list)
    changed: dict[str, ContainerState] = field(default_factory=dict)


class Telling:
    """Containers by code as their ops change them. on, voucher: the day of the act that is told, and its voucher (0
    where it has none yet). halves: what left a container for another one and did not get there yet, by voucher and
    index of the op. meant: the containers of which an act said whose gas it is, by voucher and code."""

    def __init__(self, containers: dict[str, ContainerState]):
        self.containers = containers
        self.on: dt.date | None = None
        self.voucher = 0
        self.postings = Postings()
        self.halves: dict[tuple[int, int], tuple[Spot, int]] = {}
        self.meant: set[tuple[int, str]] = set()

    def do(self, op: Op, index: int) -> None:
        """Change the container, and note what is to be posted. index: of the op in its event; where two ops are the
        two ends of one transfer, that of the target follows that of the source. Raises Refused where the container's
        state does not let it."""
        if op.verb == "arrive":
            self._arrive(op)
        else:
            DO[op.verb](self, self._touch(op.code, op.verb in OF_UNKNOWN), index, *op.what)

    def _touch(self, code: str, unknown: bool) -> ContainerState:
        held = self.here(code, "container", unknown)
        self.postings.changed[code] = held
        return held

    def _arrive(self, op: Op) -> None:
        kind, substance, is_oil, grade, location, tare, quantity, cls, name = op.what
        held = ContainerState(op.code, kind, substance, is_oil, grade, location, tare, quantity)
        held.nominal, held.most, held.arrival, held.arrived_on = quantity, quantity, self.voucher, self.on
        held.owner = name if cls == CUSTOMER else ""
        self.containers[op.code] = self.postings.changed[op.code] = held
        if quantity:
            self.postings.transfers.append(Transfer(spot(cls, name, substance), held.spot, quantity))

    def _count(self, held: ContainerState, _index: int, gross: int, scale: str, readability: int) -> None:
        self._weigh(held, gross, ScaleSeen(scale, readability), "count")

    def _draw(
        self, held: ContainerState, index: int, before: int | None, after: int | None, quantity: int | None, *more
    ) -> None:
        scale, readability, shares = more
        self._may_touch(held)
        seen = ScaleSeen(scale, readability)
        if before is not None:
            self._weigh(held, before, seen, "before")
        taken = quantity if quantity is not None else before - after
        if quantity is not None:
            _refuse_too_much(held, quantity)
        book, excess, outcome = held.balance - taken, taken - held.balance, "agrees"
        tolerance = 0 if before is None or held.is_oil else tolerance_mg(after, readability, held.tare, readability)
        if excess > 0:
            outcome = self._differs(held, excess, before is not None and excess <= tolerance)
        if before is not None:
            difference = max(excess, 0)
            said = (after, held.tare or 0, book, max(book, 0), difference, tolerance, outcome)
            self._read(held, "after", seen, *said)
        for cls, name, share in shares:
            self._out(held, index, cls, name, share)
            if cls in OPENS and held.opened_on is None:
                held.opened_on = self.on
        held.balance -= taken

    def _fill(
        self, held: ContainerState, index: int, before: int | None, after: int | None, quantity: int | None, *more
    ) -> None:
        scale, readability, substance, cls, name = more
        self._may_touch(held)
        seen, source = ScaleSeen(scale, readability), None
        if cls == CONTAINER:
            source, _ = self.halves.pop((self.voucher, index - 1), (None, 0))
            substance = source.substance if source else substance
            if source is not None and source.owner != held.owner:
                raise Refused(kept_apart(held.code, held.owner, source.name, source.owner), "to")
        else:
            source = spot(cls, name, substance)
        self._take_in(held, substance, False)
        if before is not None:
            self._weigh(held, before, seen, "before")
        self._in(held, source, quantity if quantity is not None else after - before)
        if after is not None:
            tolerance = tolerance_mg(after, readability, after, readability)
            said = (after, held.tare, held.balance, held.balance, 0, tolerance, "agrees")
            self._read(held, "after", seen, *said)

    def _stand(self, held: ContainerState, _index: int, location: str) -> None:
        if held.location != location:
            self._change_spot(held, "location", location)

    def _regrade(self, held: ContainerState, _index: int, grade: str) -> None:
        if held.grade != grade:
            self._change_spot(held, "grade", grade)

    def _tare(self, held: ContainerState, _index: int, tare: int) -> None:
        held.tare = tare

    def _leave(self, held: ContainerState, index: int, cls: str, name: str, quantity: int | None) -> None:
        quantity = held.balance if quantity is None else quantity
        if quantity > held.balance:
            raise Refused(
                f"{held.code} holds {held.said(held.balance)}; {held.said(quantity)} cannot leave it. "
                "Leave the quantity blank for all that is in it.",
                "quantity",
            )
        if cls != AIR and (name if cls == CUSTOMER else "") != held.owner:
            raise Refused(
                f"What is in {held.code} is kept for {held.owner} and goes back to them alone: give it back instead."
                if held.owner
                else f"{held.code} holds the shop's own gas, which is given back to no customer; send it away instead.",
                "container",
            )
        self._out(held, index, cls, name, quantity)
        held.balance -= quantity

    def _retire(self, held: ContainerState, index: int, into: str) -> None:
        if held.owner and held.balance:
            raise Refused(
                f"{held.code} holds {held.said(held.balance)} that are kept for {held.owner}; give them back first, on "
                "its page.",
                "containers",
            )
        cls, name = (CONTAINER, into) if into else (AccountClass.HEEL_LOSS.word, "")
        self._out(held, index, cls, name, held.balance)
        held.balance, held.retired_on = 0, self.on

    def _residue(self, held: ContainerState, index: int, _source: str) -> None:
        source, quantity = self.halves.pop((self.voucher, index - 1), (None, 0))
        if quantity:
            if held.owner:
                raise Refused(kept_apart(held.code, held.owner, source.name, source.owner), "residue")
            self._take_in(held, source.substance, held.traits.is_oil)
            self._in(held, source, quantity)

    # -- whose it is, and whether it is known ------------------------------------------------------------

    def _found(self, held: ContainerState, _index: int, gross: int, scale: str, readability: int) -> None:
        held.unknown = True
        self._seen(held, gross, scale, readability)

    def _identify(self, held: ContainerState, _index: int, substance: str, grade: str, tare: int, *weighed) -> None:
        """The gross weight alone tells how much is in it: as it was found, or as it was weighed since."""
        gross, scale, readability = weighed
        if not held.unknown:
            raise Refused(f"What is in {held.code} is known; nothing waits to be said of it.", "container")
        if gross is not None:
            self._seen(held, gross, scale, readability)
        if tare > held.last_gross:
            raise Refused(
                f"With {held.said(held.last_gross)} in all, {held.code} cannot weigh {held.said(tare)} empty. Check "
                "the tare, or weigh it again.",
                "tare",
            )
        held.unknown, held.substance, held.grade, held.tare = False, substance, grade, tare
        held.nominal = held.last_gross - tare
        self._in(held, Spot(substance, AccountClass.FOUND), held.nominal)

    def _seen(self, held: ContainerState, gross: int, scale: str, readability: int) -> None:
        held.last_scale, held.last_weighed_on, held.last_gross = scale, self.on, gross
        held.readability = readability

    def _keep(self, held: ContainerState, _index: int, owner: str) -> None:
        if held.balance:
            whose = f"is kept for {held.owner}" if held.owner else "is the shop's"
            raise Refused(
                f"{held.code} holds {held.said(held.balance)} that {whose}; only an empty container changes whose gas "
                "it is for. Empty it first, or name another one.",
                "container",
            )
        held.owner = owner

    def _whose(self, held: ContainerState, _index: int, owner: str) -> None:
        if held.owner != owner:
            raise Refused(kept_for_another(held.code, held.owner), "container")
        self.meant.add((self.voucher, held.code))

    def _may_touch(self, held: ContainerState) -> None:
        if held.owner and (self.voucher, held.code) not in self.meant:
            raise Refused(kept_for_another(held.code, held.owner), "container")

    def here(self, code: str, field_name: str, unknown: bool = False) -> ContainerState:
        """A container that something can be said of now. unknown: also where nobody knows yet what is in it."""
        held = self.containers.get(code)
        if held is not None and held.void and self.on and held.arrived_on and held.arrived_on > self.on:
            raise Refused(f"{code} came in on {said_day(held.arrived_on)}; date it that day or later.", "day")
        if held is None or held.void:
            raise Refused(f"There is no container {code!r}; receive it first, or mend the code.", field_name)
        if held.retired:
            raise Refused(f"{code} is retired and can no longer change; name a container that is in use.", field_name)
        if held.unknown and not unknown:
            raise Refused(not_known(code), field_name)
        return held

    # -- the pieces ----------------------------------------------------------------------------------

    def _weigh(self, held: ContainerState, gross: int, scale: ScaleSeen, role: str) -> None:
        """Put the book right to the scale; the difference is posted in the open."""
        book, outcome = held.balance, "agrees"
        if held.is_oil:
            net, tolerance, tare = gross, OIL_TOLERANCE_UL, 0
        else:
            if held.tare is None:
                if gross < book:
                    raise Refused(
                        f"The book says {held.said(book)} are in {held.code}; {held.said(gross)} in all leaves no "
                        "weight for the container itself. Check the reading.",
                        "gross" if role == "count" else role,
                    )
                held.tare, outcome = gross - book, "tare taken"
            tare, net = held.tare, max(0, gross - held.tare)
            tolerance = tolerance_mg(gross, scale.readability, tare + book, held.readability or scale.readability)
            held.readability = scale.readability
        difference = net - book
        if not held.substance and abs(difference) <= tolerance:
            net, difference = book, 0  # it came empty and is empty still: a few grams on the display are not content
        if difference:
            outcome = self._differs(held, difference, abs(difference) <= tolerance)
        held.most = max(held.most, held.balance)
        self._read(held, role, scale, gross, tare, book, net, difference, tolerance, outcome)

    def _read(self, held: ContainerState, role: str, scale: ScaleSeen, gross: int, *said) -> None:
        self.postings.readings.append(Reading(held.code, role, scale.code, scale.readability, gross, *said))
        held.last_scale, held.last_weighed_on, held.last_gross = scale.code, self.on, gross

    def _differs(self, held: ContainerState, difference: int, within: bool) -> str:
        """Between the container and the account that differences of this size belong to; returns its word."""
        if not held.substance:
            raise Refused(
                f"{held.code} came empty and nothing says what is in it, so {held.said(abs(difference))} cannot be "
                "booked. Record what was filled into it first, or check the reading.",
                "container",
            )
        if within:
            other = AccountClass.WEIGHING_DIFFERENCE
        else:
            other = AccountClass.UNEXPLAINED_GAIN if difference > 0 else AccountClass.UNEXPLAINED_LOSS
        ends = Spot(held.substance, other), held.spot
        self.postings.transfers.append(Transfer(*(ends if difference > 0 else ends[::-1]), abs(difference)))
        held.balance += difference
        return other.word

    def _take_in(self, held: ContainerState, substance: str, oil: bool) -> None:
        may_be_filled(held, substance, oil, "container")
        held.substance = held.substance or substance

    def _in(self, held: ContainerState, source: Spot | None, quantity: int) -> None:
        """source None: a container whose story is not told here."""
        if quantity and source:
            self.postings.transfers.append(Transfer(source, held.spot, quantity))
        held.balance += quantity
        held.most = max(held.most, held.balance)

    def _out(self, held: ContainerState, index: int, cls: str, name: str, quantity: int) -> None:
        """What leaves a container; the caller lowers its balance. Into another container: its other half follows."""
        if quantity and cls == CONTAINER:
            self.halves[self.voucher, index] = (held.spot, quantity)
        elif quantity:
            self.postings.transfers.append(Transfer(held.spot, spot(cls, name, held.substance), quantity))

    def _change_spot(self, held: ContainerState, name: str, value: str) -> None:
        """An account is a container at a location in a grade: where either changes, the content moves."""
        old = held.spot
        setattr(held, name, value)
        if held.balance:
            self.postings.transfers.append(Transfer(old, held.spot, held.balance))


DO = {
    "count": Telling._count,
    "draw": Telling._draw,
    "fill": Telling._fill,
    "stand": Telling._stand,
    "regrade": Telling._regrade,
    "tare": Telling._tare,
    "leave": Telling._leave,
    "retire": Telling._retire,
    "residue": Telling._residue,
    "found": Telling._found,
    "identify": Telling._identify,
    "keep": Telling._keep,
    "whose": Telling._whose,
}


def _refuse_too_much(held: ContainerState, quantity: int) -> None:
    if not held.cannot_give(quantity):
        return
    ever = (
        f"never recorded to hold more than {held.said(held.most)}" if held.most else "never recorded to hold anything"
    )
    raise Refused(
        f"{held.code} was {ever}, so {held.said(quantity)} cannot have come out of it. Check the quantity and its "
        "unit, or weigh the container first.",
        "quantity",
    )


def may_be_filled(held: ContainerState, substance: str, oil: bool, field_name: str) -> None:
    """oil: what goes in is an oil."""
    code = held.code
    if held.traits.single_use:
        raise Refused(
            f"{code} is a single-use container and must not be filled; name a refillable or recovery cylinder "
            "or a service machine.",
            field_name,
        )
    if held.traits.is_oil != oil:
        raise Refused(
            f"{code} is for refrigerant; oil cannot go into it. Name a bottle of the same oil."
            if oil
            else f"{code} is for oil; refrigerant cannot go into it. Name a refillable or recovery cylinder or a "
            "service machine.",
            field_name,
        )
    if held.substance:
        same_substance(held, substance, field_name)


def same_substance(held: ContainerState, substance: str, field_name: str) -> None:
    if substance and held.substance != substance:
        raise Refused(
            f"{held.code} is for {held.substance or 'nothing yet'}, not for {substance}; substances are not mixed "
            "in one container, nor charged from one that holds another.",
            field_name,
        )
