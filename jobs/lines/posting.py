"""What a job's lines do to the containers they name. Pure: no Django here.

The same function serves signing on a page and the loading of a log.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.containers.holdings import Holdings, Weighed
from inventory.containers.states import ScaleSeen
from inventory.ledger.accounts import AccountClass, Spot
from inventory.text.refusal import Refused
from jobs.lines.totals import Totals, amount_of, totals_of

ACTIONS = {
    "recover": "recover",
    "oil-drain": "oil drained",
    "oil-add": "oil added",
    "charge": "charge",
    "line-loss": "line loss",
}
OIL_ACTIONS = frozenset({"oil-add", "oil-drain"})


@dataclass(frozen=True)
class Line:
    """One entry of a job: weights before and after in mg, or a quantity in mg (oil: uL). at: its moment as events have
    it, blank where it is not known: then that of the entry before it."""

    action: str
    container: str = ""
    before: int | None = None
    after: int | None = None
    quantity: int | None = None
    scale: ScaleSeen | None = None
    at: str = ""

    @property
    def weighed(self) -> Weighed:
        return Weighed(self.before, self.after, self.quantity, self.scale)

    @property
    def amount(self) -> int | None:
        return amount_of(self.action, self.before, self.after, self.quantity)


class LineRefused(Refused):
    """A refusal that names the line, counted from 0 in the order given."""

    def __init__(self, line: int, refused: Refused):
        super().__init__(refused.message, refused.field)
        self.line = line


def check_shape(line: Line) -> None:
    """Refuse a line that lacks what its action needs, or says more than it can mean."""
    if line.action not in ACTIONS:
        raise Refused(f"{line.action!r} is not an action; write one of {', '.join(ACTIONS)}.", "action")
    weighed = line.before is not None or line.after is not None
    if line.action in {"charge", "recover"}:
        if not line.container:
            raise Refused(f"Name the container of this {line.action}.", "container")
        if line.quantity is not None and line.after is not None:
            raise Refused("Give the weights before and after, or the quantity, not both.", "quantity")
        if line.quantity is not None and line.before is not None and line.action == "charge":
            raise Refused("Give the weights before and after, or the quantity, not both.", "quantity")
        if line.quantity is None and not weighed:
            raise Refused("Give the weights before and after, or the quantity that the machine showed.", "before")
        if line.quantity is None and line.before is None:
            raise Refused("The weight before is missing; without it the one after says nothing.", "before")
        if line.quantity is None and line.after is None:
            raise Refused("The weight after is missing; weigh the container again.", "after")
        return
    if weighed:
        raise Refused(f"{ACTIONS[line.action].capitalize()} is given as a quantity, not by weights.", "before")
    if line.quantity is None:
        raise Refused(f"Give the quantity of the {ACTIONS[line.action]}.", "quantity")
    if line.action == "oil-add" and not line.container:
        raise Refused("Name the bottle that the oil came from.", "container")
    if line.action == "line-loss" and line.container:
        raise Refused(
            "A line loss names no container: it is taken from the charge lines in their order. Leave it blank.",
            "container",
        )


def post_lines(
    holdings: Holdings, lines: Sequence[Line], unit: str, substance: str, apart: bool = False, graded: bool = False
) -> Totals:
    """Run a job's lines on the book, in their order. unit: its reference; substance: the unit's refrigerant,
    blank where it is not known. apart: what is recovered may only go where mixed refrigerant is kept.
    graded: an empty cylinder becomes one for recovered refrigerant by what comes into it; a log says grades itself.
    Raises LineRefused; the book must then be dropped or set back."""
    for number, line in enumerate(lines):
        try:
            check_shape(line)
        except Refused as refused:
            raise LineRefused(number, refused) from None
    left = _line_loss(lines)
    for number, line in enumerate(lines):
        holdings.moment = line.at or holdings.moment
        try:
            if line.action == "recover":
                if apart:
                    _keep_apart(holdings, line.container)
                elif graded:
                    _as_recovered(holdings, line.container)
                _recover(holdings, line, unit, substance)
            elif line.action == "charge":
                lost = _charge(holdings, line, unit, substance, left)
                left -= lost
            elif line.action == "oil-add":
                _add_oil(holdings, line, unit)
        except Refused as refused:
            raise LineRefused(number, refused) from None
    return totals_of(lines)


def _line_loss(lines: Sequence[Line]) -> int:
    """The job's line losses in all; refused where they are more than what left the containers."""
    left = sum(max(0, line.amount or 0) for line in lines if line.action == "charge")
    lost = 0
    for number, line in enumerate(lines):
        if line.action == "line-loss" and line.quantity is not None:
            lost += line.quantity
            if lost > left:
                message = (
                    "More is written as line loss than left the containers on this job; a line loss is a part of "
                    "what was charged."
                )
                raise LineRefused(number, Refused(message, "quantity"))
    return lost


def _charge(holdings: Holdings, line: Line, unit: str, substance: str, left: int) -> int:
    """left: the line loss that is still to be taken from charges; returns how much of it this one took."""
    taken = max(0, line.amount or 0)
    lost = min(left, taken)
    shares = [(AccountClass.LINE_LOSS.word, "", lost), (AccountClass.UNIT.word, unit, taken - lost)]
    holdings.draw(line.container, line.weighed, shares, substance)
    if holdings.containers[line.container].is_oil:
        raise Refused(f"{line.container} holds oil; add it as oil, or name a container of refrigerant.", "container")
    return lost


def _recover(holdings: Holdings, line: Line, unit: str, substance: str) -> None:
    held = holdings.containers.get(line.container)
    source = Spot(substance or (held.substance if held else ""), AccountClass.UNIT, unit)
    if held is not None and not source.substance:
        raise Refused("Name the refrigerant of the unit: the container says nothing of what it is for.", "container")
    holdings.fill(line.container, line.weighed, source)


def _as_recovered(holdings: Holdings, code: str) -> None:
    held = holdings.containers.get(code)
    if held is None or held.is_oil or held.traits.recycles or held.balance:
        return
    if held.grade not in {"recovered", "mixed"} and held.traits.refillable:
        holdings.regrade(code, "recovered")


def _keep_apart(holdings: Holdings, code: str) -> None:
    """An empty cylinder is marked as mixed by what comes into it; one that holds anything else is refused."""
    held = holdings.containers.get(code)
    if held is None or held.is_oil or held.grade == "mixed":
        return
    if held.traits.recycles or held.balance:
        holds = "is a service machine" if held.traits.recycles else f"holds {held.grade} {held.substance}"
        raise Refused(
            f"{code} {holds}; what was identified must be kept apart. Name an empty recovery cylinder, or one for "
            "mixed refrigerant.",
            "container",
        )
    holdings.regrade(code, "mixed")


def _add_oil(holdings: Holdings, line: Line, unit: str) -> None:
    held = holdings.containers.get(line.container)
    if held is not None and not held.is_oil:
        raise Refused(f"{line.container} holds refrigerant, not oil; name a bottle of oil.", "container")
    holdings.draw(line.container, line.weighed, [(AccountClass.UNIT.word, unit, line.quantity)])


# The step of the job page that holds an action.
STEP_OF = {"recover": "recover", "oil-drain": "oil", "oil-add": "oil", "charge": "charge", "line-loss": "charge"}
