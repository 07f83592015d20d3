"""What each event does to the containers it touches. Pure: no Django here, whole numbers in and out.

The same rules serve the web pages, which load the containers concerned, and the loading of a whole log,
which keeps every container in memory. Quantities are milligrams for refrigerants and microlitres for oils.

A book holds containers as they stand; each verb changes them and notes on the book's sheet what is to be
posted: transfers, readings, and which containers changed. A verb that refuses raises `Refused`; the caller
then drops book and sheet, or restores them (`Holdings.mark`, `Holdings.back_to`).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from inventory.ledger.accounts import AccountClass, Spot, Transfer
from inventory.measures.quantity import show
from inventory.measures.tolerance import OIL_TOLERANCE_UL, tolerance_mg
from inventory.reference.kinds import KINDS, Kind
from inventory.text.refusal import Refused

GRADES = ("virgin", "recycled", "reclaimed", "recovered", "mixed")
PURPOSES = {
    "return": AccountClass.SUPPLIER,
    "reclaim": AccountClass.RECLAIMER,
    "destroy": AccountClass.DESTROYER,
}


@dataclass
class ContainerState:
    """A container as the book has it. tare None: to be taken at the first weighing. readability: that of
    the scale of its last weighing, None before the first."""

    code: str
    kind: str
    substance: str = ""
    is_oil: bool = False
    grade: str = ""
    location: str = ""
    tare: int | None = None
    balance: int = 0
    readability: int | None = None
    retired: bool = False
    void: bool = False  # its arrival was reversed: the code may be given again

    @property
    def traits(self) -> Kind:
        return KINDS[self.kind]

    @property
    def spot(self) -> Spot:
        return Spot(self.substance, AccountClass.CONTAINER, self.code, self.location, self.grade)

    def said(self, quantity: int) -> str:
        return show(quantity, "mL" if self.is_oil else "g")


@dataclass(frozen=True)
class ScaleSeen:
    """The scale of a reading. readability in mg."""

    code: str
    readability: int


@dataclass(frozen=True)
class Reading:
    """A gross weight (for oil: the volume left) and what it said. difference = net - book, as posted."""

    code: str
    role: str  # before, after, count
    scale: str
    readability: int
    gross: int
    tare: int
    book: int
    net: int
    difference: int
    tolerance: int
    outcome: str  # agrees, tare taken, weighing difference, unexplained gain, unexplained loss


@dataclass
class Postings:
    """What one voucher will post. taken: what came out of containers by weight or quantity, in order."""

    transfers: list[Transfer] = field(default_factory=list)
    readings: list[Reading] = field(default_factory=list)
    changed: dict[str, ContainerState] = field(default_factory=dict)


class Holdings:
    """Containers by code, and the sheet of the event being recorded."""

    def __init__(self, containers: dict[str, ContainerState]):
        self.containers = containers
        self.postings = Postings()
        self._saved: dict[str, ContainerState | None] = {}

    # -- one event after another -------------------------------------------------------------------

    def mark(self) -> None:
        """Begin a new event with an empty sheet."""
        self.postings = Postings()
        self._saved = {}

    def back(self) -> None:
        """Undo what was done since `mark`: for an event that was refused half way."""
        for code, held in self._saved.items():
            if held is None:
                del self.containers[code]
            else:
                self.containers[code] = held
        self.mark()

    def replace(self, code: str, held: ContainerState) -> None:
        """Put another state in a container's place, as part of this event."""
        self._saved.setdefault(code, self.containers[code])
        self.containers[code] = held

    def changes(self) -> dict[str, dict[str, list]]:
        """What of the containers themselves (not their content) this event changed: code, field, old and new."""
        found = {}
        for code, held in sorted(self.postings.changed.items()):
            old = self._saved.get(code)
            if old is None or old.void:
                continue
            fields = {
                name: [getattr(old, name), getattr(held, name)]
                for name in ("grade", "location", "retired")
                if getattr(old, name) != getattr(held, name)
            }
            if fields:
                found[code] = fields
        return found

    def _touch(self, held: ContainerState) -> ContainerState:
        if held.code not in self._saved:
            self._saved[held.code] = replace(held)
        self.postings.changed[held.code] = held
        return held

    def _get(self, code: str, field_name: str = "container") -> ContainerState:
        held = self.containers.get(code)
        if held is None:
            raise Refused(f"There is no container {code!r}; receive it first, or mend the code.", field_name)
        if held.retired:
            raise Refused(f"{code} is retired and can no longer change; name a container that is in use.", field_name)
        return self._touch(held)

    # -- coming in ---------------------------------------------------------------------------------

    def add(self, held: ContainerState, quantity: int, source: AccountClass, name: str = "") -> ContainerState:
        """A container new to the book, with what came in it (0: it came empty)."""
        old = self.containers.get(held.code)
        if old is not None and not old.void:
            raise Refused(
                f"The code {held.code} is in the book already; each container has a code of its own.",
                "container",
            )
        if held.kind not in KINDS:
            raise Refused(f"{held.kind!r} is not a kind of container; write one of {', '.join(KINDS)}.", "kind")
        if held.traits.is_oil != held.is_oil and held.substance:
            raise Refused(
                f"{held.substance} cannot be in a container of kind {held.kind}; oil goes with a kind for oil, "
                "a refrigerant with any other.",
                "kind",
            )
        if not held.grade:
            held.grade = held.traits.usual_grade
        if held.traits.is_oil and held.grade:
            raise Refused("An oil has no grade; leave it blank.", "grade")
        if not held.traits.is_oil and held.grade not in GRADES:
            raise Refused(f"{held.grade!r} is not a grade; write one of {', '.join(GRADES)}.", "grade")
        if quantity and not held.substance:
            raise Refused("Name what is in the container, or write 0 where it came empty.", "substance")
        held.balance = quantity
        self.containers[held.code] = held
        self._saved[held.code] = old
        self.postings.changed[held.code] = held
        if quantity:
            self.postings.transfers.append(Transfer(Spot(held.substance, source, name), held.spot, quantity))
        return held

    # -- weighing ----------------------------------------------------------------------------------

    def count(self, code: str, gross: int, scale: ScaleSeen) -> Reading:
        """A weighing by itself. gross: mg on the scale; for an oil uL left in the bottle."""
        return self._weigh(self._get(code), gross, scale, "count", "gross")

    def _weigh(self, held: ContainerState, gross: int, scale: ScaleSeen, role: str, field_name: str) -> Reading:
        """Put the book right to the scale; the difference is posted in the open."""
        book = held.balance
        if held.is_oil:
            net, tolerance, tare, outcome = gross, OIL_TOLERANCE_UL, 0, "agrees"
        else:
            outcome = "agrees"
            if held.tare is None:
                if gross < book:
                    raise Refused(
                        f"The book says {held.said(book)} are in {held.code}; {held.said(gross)} in all leaves no "
                        "weight for the container itself. Check the reading.",
                        field_name,
                    )
                held.tare, outcome = gross - book, "tare taken"
            tare, net = held.tare, max(0, gross - held.tare)
            tolerance = tolerance_mg(gross, scale.readability, tare + book, held.readability or scale.readability)
            held.readability = scale.readability
        difference = net - book
        if not held.substance and abs(difference) <= tolerance:
            net, difference = book, 0  # it came empty and is empty still: a few grams on the display are not content
        if difference:
            outcome = self._post_difference(held, difference, abs(difference) <= tolerance)
        reading = Reading(
            held.code,
            role,
            scale.code,
            scale.readability,
            gross,
            tare,
            book,
            net,
            difference,
            tolerance,
            outcome,
        )
        self.postings.readings.append(reading)
        return reading

    def _post_difference(self, held: ContainerState, difference: int, within: bool) -> str:
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
        spot = Spot(held.substance, other)
        if difference > 0:
            self.postings.transfers.append(Transfer(spot, held.spot, difference))
        else:
            self.postings.transfers.append(Transfer(held.spot, spot, -difference))
        held.balance += difference
        return other.word

    # -- taking out and putting in -----------------------------------------------------------------

    def take(
        self, code: str, *, before: int | None = None, after: int | None = None, quantity: int | None = None,
        scale: ScaleSeen | None = None, substance: str = "", field_name: str = "container",
    ) -> int:  # fmt: skip
        """What comes out of a container, by the weights before and after or by `quantity` as a machine
        showed it; the container's balance is brought so far that it can give it, and is not yet lowered.
        Returns the quantity. The caller says with `give` where it goes."""
        held = self._get(code, field_name)
        self._same_substance(held, substance, field_name)
        if quantity is not None:
            if quantity > held.balance:
                self._post_difference(held, quantity - held.balance, within=False)
            return quantity
        assert before is not None and after is not None
        self._scale_named(scale)
        if after > before:
            raise Refused(
                f"After taking out, {code} cannot weigh more ({held.said(after)}) than before ({held.said(before)}); "
                "check the two readings.",
                "after",
            )
        self._weigh(held, before, scale, "before", "before")
        taken = before - after
        excess, outcome, tolerance = taken - held.balance, "agrees", 0
        book = held.balance - taken
        if not held.is_oil:
            tolerance = tolerance_mg(after, scale.readability, held.tare, scale.readability)
        if excess > 0:
            outcome = self._post_difference(held, excess, abs(excess) <= tolerance)
        self.postings.readings.append(
            Reading(
                code, "after", scale.code, scale.readability, after, held.tare or 0, book, max(book, 0),
                max(excess, 0), tolerance, outcome,
            )
        )  # fmt: skip
        return taken

    @staticmethod
    def _scale_named(scale: ScaleSeen | None) -> None:
        if scale is None:
            raise Refused("Name the scale of these weights; the shop has no usual one.", "scale")

    def give(self, code: str, target: Spot, quantity: int) -> None:
        """Post what `take` made ready."""
        held = self.containers[code]
        if quantity:
            self.postings.transfers.append(Transfer(held.spot, target, quantity))
            held.balance -= quantity

    def put(
        self, code: str, source: Spot, *, before: int | None = None, after: int | None = None,
        quantity: int | None = None, scale: ScaleSeen | None = None,
    ) -> int:  # fmt: skip
        """Into a container, by weights or by `quantity`. source: where it comes from. Returns the quantity."""
        held = self._filled(code, source.substance, False, "container")
        if before is not None:
            self._scale_named(scale)
            if after is not None and after < before:
                raise Refused(
                    f"After filling, {code} cannot weigh less ({held.said(after)}) than before ({held.said(before)}); "
                    "check the two readings.",
                    "after",
                )
            self._weigh(held, before, scale, "before", "before")
        if quantity is None:
            quantity = after - before
        if quantity:
            self.postings.transfers.append(Transfer(source, held.spot, quantity))
            held.balance += quantity
        if after is not None:
            tolerance = tolerance_mg(after, scale.readability, after, scale.readability)
            self.postings.readings.append(
                Reading(
                    code, "after", scale.code, scale.readability, after, held.tare, held.balance, held.balance, 0,
                    tolerance, "agrees",
                )
            )  # fmt: skip
        return quantity

    def decant(
        self, code: str, into: str, *, before: int | None = None, after: int | None = None,
        quantity: int | None = None, scale: ScaleSeen | None = None,
    ) -> int:  # fmt: skip
        """From one container into another; weights are those of the one it left."""
        if code == into:
            raise Refused(f"{code} cannot be filled from itself; name another container.", "to")
        held = self._get(code, "from")
        if held.traits.is_oil:
            raise Refused(f"{code} holds oil; only refrigerant is passed on by weight. Name another container.", "from")
        target = self._filled(into, held.substance, False, "to")
        taken = self.take(code, before=before, after=after, quantity=quantity, scale=scale, field_name="from")
        self.give(code, target.spot, taken)
        target.balance += taken
        return taken

    def _filled(self, code: str, substance: str, oil: bool, field_name: str) -> ContainerState:
        """The container that something goes into; oil: what goes in is an oil."""
        held = self._get(code, field_name)
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
        if not held.substance:
            held.substance = substance
        self._same_substance(held, substance, field_name)
        return held

    @staticmethod
    def _same_substance(held: ContainerState, substance: str, field_name: str) -> None:
        if substance and held.substance != substance:
            raise Refused(
                f"{held.code} is for {held.substance or 'nothing yet'}, not for {substance}; substances are not mixed "
                "in one container, nor charged from one that holds another.",
                field_name,
            )

    # -- moving, regrading, leaving -----------------------------------------------------------------

    def move(self, code: str, location: str) -> None:
        held = self._get(code)
        if held.location == location:
            raise Refused(f"{code} is at {location} already; name another location.", "to_location")
        self._change_spot(held, location=location)

    def regrade(self, code: str, grade: str) -> None:
        held = self._get(code)
        if held.is_oil:
            raise Refused(f"{code} holds oil, which has no grade.", "container")
        if grade not in GRADES:
            raise Refused(f"{grade!r} is not a grade; write one of {', '.join(GRADES)}.", "grade")
        if held.grade == grade:
            raise Refused(f"{code} is graded {grade} already; name another grade.", "grade")
        self._change_spot(held, grade=grade)

    def _change_spot(self, held: ContainerState, **to: str) -> None:
        """An account is a container at a location in a grade: where either changes, the content moves."""
        old = held.spot
        for name, value in to.items():
            setattr(held, name, value)
        if held.balance:
            self.postings.transfers.append(Transfer(old, held.spot, held.balance))

    def ship(self, code: str, purpose: str, party: str, quantity: int | None = None) -> int:
        """Content that leaves for a supplier (return), reclaimer or destroyer. quantity None: all of it."""
        if purpose not in PURPOSES:
            raise Refused(f"{purpose!r} is not a purpose; write one of {', '.join(PURPOSES)}.", "purpose")
        held = self._get(code)
        quantity = held.balance if quantity is None else quantity
        self._holds(held, quantity)
        self.give(code, Spot(held.substance, PURPOSES[purpose], party), quantity)
        return quantity

    def lose(self, code: str, quantity: int, to: AccountClass) -> None:
        """A known loss from a container: heel loss, line loss or other loss."""
        held = self._get(code)
        self._holds(held, quantity)
        self.give(code, Spot(held.substance, to), quantity)

    def retire(self, code: str, residue_into: str = "") -> int:
        """Out of use for good; what the book still holds goes to heel loss, or into the container named."""
        held = self._get(code)
        left = held.balance
        if residue_into and left:
            if residue_into == code:
                raise Refused(f"What is left in {code} cannot stay in it; name another container, or lost.", "residue")
            target = self._filled(residue_into, held.substance, held.traits.is_oil, "residue")
            self.give(code, target.spot, left)
            target.balance += left
        elif residue_into:
            self._get(residue_into, "residue")
        elif left:
            self.give(code, Spot(held.substance, AccountClass.HEEL_LOSS), left)
        held.retired = True
        return left

    @staticmethod
    def _holds(held: ContainerState, quantity: int) -> None:
        if quantity < 0:
            raise Refused("What leaves a container is never less than nothing; write how much left it.", "quantity")
        if quantity > held.balance:
            raise Refused(
                f"{held.code} holds {held.said(held.balance)}; {held.said(quantity)} cannot leave it. "
                "Leave the quantity blank for all that is in it.",
                "quantity",
            )
