"""What each act does to the containers it touches. Pure: no Django here, whole numbers in and out.

Holdings are containers as they stand. Each verb checks what may be said, and says it as one or more ops
(`events.py`), which change the containers and note what is to be posted: transfers, readings, and which containers
changed (`telling.py`). A verb that refuses raises `Refused`; the caller then drops the holdings, or goes `back`.

Quantities are milligrams for refrigerants and microlitres for oils.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

from inventory.containers.apart import kept_apart, kept_for_another
from inventory.containers.events import CONTAINER, Event, Op
from inventory.containers.states import GRADES, NO_SCALE, ContainerState, Reading, ScaleSeen
from inventory.containers.telling import Postings, Telling, may_be_filled, same_substance
from inventory.ledger.accounts import AccountClass, Spot
from inventory.reference.kinds import KINDS
from inventory.text.refusal import Refused

PURPOSES = {
    "return": AccountClass.SUPPLIER,
    "reclaim": AccountClass.RECLAIMER,
    "destroy": AccountClass.DESTROYER,
    "sell": AccountClass.BUYER,
}
Share = tuple[str, str, int]  # what is drawn goes there: class of the account, its name, the quantity


@dataclass(frozen=True)
class Weighed:
    """What was taken out of a container or put into it: weights before and after (mg), or the quantity that a machine
    showed, or that is known otherwise."""

    before: int | None = None
    after: int | None = None
    quantity: int | None = None
    scale: ScaleSeen | None = None

    @property
    def on_scale(self) -> bool:
        return self.before is not None or self.after is not None

    def amount(self, sign: int) -> int:
        """sign: 1 where the container gets lighter, -1 where it gets heavier."""
        return self.quantity if self.quantity is not None else sign * (self.before - self.after)

    def said(self) -> tuple:
        """Its part of an op: before, after, quantity, scale, readability."""
        scale = self.scale if self.on_scale and self.scale else NO_SCALE
        return (self.before, self.after, self.quantity, scale.code, scale.readability)


class Holdings(Telling):
    """Containers by code, and the act being recorded. on, at: its day and moment. moment: of what is said next, where
    that is later."""

    def __init__(self, containers: dict[str, ContainerState]):
        super().__init__(containers)
        self.customer = ""  # whose equipment the act is about, by code
        self.begin()

    # -- one act after another -----------------------------------------------------------------------

    def begin(self, on: dt.date | None = None, at: str = "") -> None:
        """Begin a new act, of which nothing is said yet."""
        self.on, self.at, self.moment = on, at, at
        self.ops: list[Op] = []
        self.postings = Postings()
        self.halves.clear()
        self.meant.clear()
        self._saved: dict[str, ContainerState | None] = {}

    def back(self) -> None:
        """Undo what was done since `begin`: for an act that was refused half way."""
        for code, held in self._saved.items():
            if held is None:
                del self.containers[code]
            else:
                self.containers[code] = held
        self.begin(self.on, self.at)

    def event(self, position: tuple[int, ...] = ()) -> Event:
        """The act as it was said so far."""
        return Event(self.on, self.at, tuple(self.ops), position)

    def found(self, code: str) -> ContainerState | None:
        """A container as the act at hand found it; None where that brought it, or does not touch it."""
        return self._saved.get(code)

    def _say(self, verb: str, code: str, *what: object) -> None:
        """Note an op and do it. Its moment is never before that of the op before it on the same container: what is
        entered further down was done later."""
        earlier = max((op.at or self.at for op in self.ops if op.code == code), default=self.at)
        at = max(self.moment, earlier)
        op = Op(verb, code, what, "" if at == self.at else at)
        self.ops.append(op)
        if code not in self._saved:
            held = self.containers.get(code)
            self._saved[code] = replace(held) if held else None
        try:
            self.do(op, len(self.ops) - 1)
        except Refused:
            self.ops.pop()
            raise

    # -- coming in -----------------------------------------------------------------------------------

    def _code_is_free(self, code: str) -> None:
        old = self.containers.get(code)
        if old is not None and not old.void:
            raise Refused(f"The code {code} is in the book already; each container has a code of its own.", "container")

    def arrive(self, held: ContainerState, quantity: int, source: AccountClass, name: str = "") -> ContainerState:
        """A container new to the shop, with what came in it (0: it came empty)."""
        self._code_is_free(held.code)
        if held.kind not in KINDS:
            raise Refused(f"{held.kind!r} is not a kind of container; write one of {', '.join(KINDS)}.", "kind")
        if held.traits.is_oil != held.is_oil and held.substance:
            raise Refused(
                f"{held.substance} cannot be in a container of kind {held.kind}; oil goes with a kind for oil, "
                "a refrigerant with any other.",
                "kind",
            )
        grade = held.grade or held.traits.usual_grade
        if held.traits.is_oil and grade:
            raise Refused("An oil has no grade; leave it blank.", "grade")
        if not held.traits.is_oil and grade not in GRADES:
            raise Refused(f"{grade!r} is not a grade; write one of {', '.join(GRADES)}.", "grade")
        if quantity and not held.substance:
            raise Refused("Name what is in the container, or write 0 where it came empty.", "substance")
        said = (held.kind, held.substance, held.is_oil, grade, held.location, held.tare, quantity, source.word, name)
        self._say("arrive", held.code, *said)
        return self.containers[held.code]

    def find(self, held: ContainerState, gross: int, scale: ScaleSeen) -> ContainerState:
        """A container that was found or has no label: it is held, with nothing in the book, until it is identified.
        gross: mg, as it is."""
        if held.traits.is_oil:
            raise Refused("A bottle of oil is not found so: receive it, or enter it as opening stock.", "kind")
        _more_than_nothing(gross)
        self.arrive_empty(held)
        self._say("found", held.code, gross, *scale)
        return self.containers[held.code]

    def arrive_empty(self, held: ContainerState) -> None:
        """A container that came from nowhere that is known, and of which nothing is known."""
        self._code_is_free(held.code)
        said = (held.kind, "", False, "", held.location, None, 0, AccountClass.FOUND.word, "")
        self._say("arrive", held.code, *said)

    def identify(self, code: str, substance: str, grade: str, tare: int, weighed: tuple[int, ScaleSeen] | None) -> int:
        """What is in a container that was found, by an identifier; returns how much, mg. weighed: gross and scale,
        where it was weighed again since."""
        self.here(code, "container", True)
        if grade not in GRADES:
            raise Refused(f"{grade!r} is not a grade; write one of {', '.join(GRADES)}.", "grade")
        _more_than_nothing(tare, "tare")
        gross, scale = weighed or (None, NO_SCALE)
        self._say("identify", code, substance, grade, tare, gross, *scale)
        return self.containers[code].balance

    # -- a customer's own ----------------------------------------------------------------------------

    def keep_for(self, code: str, owner: str, again: bool = False) -> None:
        """An empty container is for the gas of a customer from now on; blank: the shop's again. again: as `regrade` has
        it."""
        held = self.here(code, "container")
        if owner and not held.traits.refillable:
            raise Refused(f"{code} is made for a single use, or for oil, and takes nobody's gas.", "container")
        if held.owner == owner and not again:
            whose = f"kept for {owner} already" if owner else "the shop's already"
            raise Refused(f"{code} is {whose}; there is nothing to change.", "customer")
        self._say("keep", code, owner)

    def give_back(self, code: str, stays: bool = False) -> int:
        """What is kept for a customer goes back to them, with the container; returns how much. stays: the container is
        the shop's, and stays."""
        held = self.here(code, "container")
        if not held.owner:
            raise Refused(
                f"{code} is kept for nobody, so it is given back to nobody; send it away instead.", "container"
            )
        left, owner = held.balance, held.owner
        self._say("leave", code, AccountClass.CUSTOMER.word, owner, None)
        if stays:
            self._say("keep", code, "")
        else:
            self._say("retire", code, "")
        return left

    def _own_gas(self, code: str, customer: str) -> None:
        """Say whose gas a container holds, where it is not the shop's. customer: whose equipment, or container, is at
        the other end."""
        held = self.here(code, "container")
        if held.owner and held.owner != customer:
            raise Refused(kept_for_another(code, held.owner), "container")
        if held.owner and (self.voucher, code) not in self.meant:
            self._say("whose", code, held.owner)

    # -- weighing ------------------------------------------------------------------------------------

    def count(self, code: str, gross: int, scale: ScaleSeen) -> Reading:
        """A weighing by itself. gross: mg on the scale; for an oil uL left in the bottle."""
        held = self.here(code, "container")
        seen = NO_SCALE if held.is_oil else scale
        self._say("count", code, gross, seen.code, seen.readability)
        return self.postings.readings[-1]

    def set_tare(self, code: str, tare: int) -> None:
        """The tare as it was found to be, mg; from the next weighing on."""
        held = self.here(code, "code")
        if held.is_oil:
            raise Refused(f"{code} is not a container in use that has a tare.", "code")
        if tare <= 0:
            raise Refused("A tare is more than nothing.", "tare_mg")
        self._say("tare", code, tare)

    # -- into the air --------------------------------------------------------------------------------

    def lose(self, code: str, weighed: Weighed) -> int:
        """What got out of a container by accident, whosever it was; returns how much. weighed: before and after; or
        after alone, beside which the book tells what was in it; or a quantity; or nothing, for all that is in it."""
        held = self.here(code, "container")
        air = AccountClass.OTHER_LOSS.word
        if not held.balance and not weighed.on_scale:
            raise Refused(f"{code} holds nothing by the book, so nothing of it got out. Weigh it first.", "container")
        if weighed.before is not None:
            self._may_draw(code, weighed, "", "container")
            _something(weighed.amount(1), "after")
            self._own_gas(code, held.owner)
            self._say("draw", code, *weighed.said(), ((air, "", weighed.amount(1)),))
            return weighed.amount(1)
        lost = weighed.quantity
        if weighed.on_scale and held.is_oil:
            raise Refused(f"{code} holds oil, which is told by volume; type how much got out.", "after")
        if weighed.on_scale:
            _scale_named(weighed.scale)
            lost = held.balance - _left(held, weighed.after)
        if lost is not None:
            _something(lost, "after" if weighed.on_scale else "quantity")
        out = held.balance if lost is None else lost
        self._say("leave", code, air, "", lost)
        if weighed.on_scale:
            self._say("count", code, weighed.after, *weighed.scale)
        return out

    def lose_nothing(self, code: str) -> int:
        """All that was in it got out, and an entry before that one, put in late, says that it was empty by then."""
        if self.here(code, "container").balance:
            _something(0, "quantity")
        self._say("leave", code, AccountClass.OTHER_LOSS.word, "", None)
        return 0

    # -- taking out and putting in -------------------------------------------------------------------

    def draw(self, code: str, weighed: Weighed, shares: Sequence[Share], substance: str = "") -> None:
        """Out of a container. shares: where it goes, together what the weights or the quantity say. substance: what it
        must be, blank for whatever is in it."""
        self._may_draw(code, weighed, substance, "container")
        self._own_gas(code, self.customer)
        self._say("draw", code, *weighed.said(), tuple(share for share in shares if share[2]))

    def _may_draw(self, code: str, weighed: Weighed, substance: str, field_name: str) -> ContainerState:
        held = self.here(code, field_name)
        same_substance(held, substance, field_name)
        if weighed.quantity is None:
            _scale_named(weighed.scale)
            if weighed.after > weighed.before:
                raise Refused(
                    f"After taking out, {code} cannot weigh more ({held.said(weighed.after)}) than before "
                    f"({held.said(weighed.before)}); check the two readings.",
                    "after",
                )
        return held

    def fill(self, code: str, weighed: Weighed, source: Spot) -> int:
        """Into a container, out of an account outside the shop's containers; returns the quantity."""
        held = self.here(code, "container")
        may_be_filled(held, source.substance, False, "container")
        if weighed.before is not None:
            _scale_named(weighed.scale)
            if weighed.after is not None and weighed.after < weighed.before:
                raise Refused(
                    f"After filling, {code} cannot weigh less ({held.said(weighed.after)}) than before "
                    f"({held.said(weighed.before)}); check the two readings.",
                    "after",
                )
        self._own_gas(code, self.customer)
        self._say("fill", code, *weighed.said(), source.substance, source.cls.word, source.name)
        return weighed.amount(-1)

    def decant(self, code: str, into: str, weighed: Weighed) -> int:
        """From one container into another; weights are those of the one it left. Returns the quantity."""
        if code == into:
            raise Refused(f"{code} cannot be filled from itself; name another container.", "to")
        held = self.here(code, "from")
        if held.traits.is_oil:
            raise Refused(f"{code} holds oil; only refrigerant is passed on by weight. Name another container.", "from")
        target = self.here(into, "to")
        may_be_filled(target, held.substance, False, "to")
        self._may_draw(code, weighed, "", "from")
        if target.owner != held.owner:
            raise Refused(kept_apart(into, target.owner, code, held.owner), "to")
        for one in (code, into):
            self._own_gas(one, held.owner)
        amount = weighed.amount(1)
        self._say("draw", code, *weighed.said(), ((CONTAINER, into, amount),))
        self._say("fill", into, *Weighed(quantity=amount).said(), held.substance, CONTAINER, code)
        return amount

    # -- moving, regrading, leaving ------------------------------------------------------------------

    def move(self, code: str, location: str) -> None:
        """To another place, with what is in it; where it stands already nothing moves."""
        self.here(code, "container", True)
        self._say("stand", code, location)

    def regrade(self, code: str, grade: str, again: bool = False) -> None:
        """again: also where it has that grade, as of an entry before which another one was put in or taken back."""
        held = self.here(code, "container")
        if held.is_oil:
            raise Refused(f"{code} holds oil, which has no grade.", "container")
        if grade not in GRADES:
            raise Refused(f"{grade!r} is not a grade; write one of {', '.join(GRADES)}.", "grade")
        if held.grade == grade and not again:
            raise Refused(f"{code} is graded {grade} already; name another grade.", "grade")
        self._say("regrade", code, grade)

    def ship(self, code: str, purpose: str, party: str, quantity: int | None = None) -> int:
        """Content that leaves for a supplier (return), reclaimer, destroyer or buyer (sell). quantity None: all."""
        if purpose not in PURPOSES:
            raise Refused(f"{purpose!r} is not a purpose; write one of {', '.join(PURPOSES)}.", "purpose")
        held = self.here(code, "container")
        if quantity is not None and quantity < 0:
            raise Refused("What leaves a container is never less than nothing; write how much left it.", "quantity")
        sent = held.balance if quantity is None else quantity
        self._say("leave", code, PURPOSES[purpose].word, party, quantity)
        return sent

    def retire(self, code: str, residue_into: str = "") -> int:
        """Out of use for good; what the book still holds goes to heel loss, or into the container named. Returns what
        was left."""
        held = self.here(code, "container")
        left = held.balance
        if residue_into:
            if residue_into == code:
                raise Refused(f"What is left in {code} cannot stay in it; name another container, or lost.", "residue")
            target = self.here(residue_into, "residue")
            if left:
                may_be_filled(target, held.substance, held.traits.is_oil, "residue")
        self._say("retire", code, residue_into)
        if residue_into:
            self._say("residue", residue_into, code)
        return left


def _more_than_nothing(weight: int, field_name: str = "gross") -> None:
    if weight <= 0:
        raise Refused("A weight is more than nothing; type what the scale shows.", field_name)


def _something(lost: int, field_name: str) -> None:
    if lost <= 0:
        said = "By these weights nothing got out" if field_name == "after" else "What got out is more than nothing"
        raise Refused(f"{said}; check what was typed.", field_name)


def _left(held: ContainerState, gross: int) -> int:
    """What is left in a container that weighs so much in all."""
    if held.tare is None:
        raise Refused(
            f"Nobody knows yet what {held.code} weighs empty, so its weight alone does not tell how much is left. Type "
            "the weight before as well, or estimate.",
            "after",
        )
    return max(0, gross - held.tare)


def _scale_named(scale: ScaleSeen | None) -> None:
    if scale is None:
        raise Refused("Name the scale of these weights; the shop has no usual one.", "scale")
