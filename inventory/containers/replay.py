"""Containers' stories told again, with an act taken out or put in. Pure: no Django here, whole numbers in and out.

What is posted between any two accounts equals what the standing acts, told in their order, come to. When an act is
taken back, corrected, or entered after later ones, the stories of the containers it touches are told anew, and the
difference to what is posted is posted: then the same holds again, whatever was wrong and in whatever order it is put
right. Nothing that is posted is touched.
"""

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Protocol

from inventory.containers.events import Event, Op, Placed, placed
from inventory.containers.states import ContainerState, Reading
from inventory.containers.telling import OF_UNKNOWN, Postings, Telling
from inventory.ledger.accounts import HOLDING, AccountClass, Spot, Transfer
from inventory.measures.days import said_day
from inventory.measures.quantity import show
from inventory.reference.kinds import KINDS
from inventory.text.refusal import Refused

Pair = tuple[Spot, Spot]  # source and target
Flows = dict[Pair, int]  # what went from the one to the other, what was taken back taken off


@dataclass
class Told:
    """What stories come to. flows: of the containers that are counted. own: the transfers of the act without a voucher
    yet. readings: by voucher and line."""

    flows: Flows = field(default_factory=lambda: defaultdict(int))
    own: list[Transfer] = field(default_factory=list)
    readings: dict[tuple[int, int], Reading] = field(default_factory=dict)
    states: dict[str, ContainerState] = field(default_factory=dict)


def tell(
    story: Iterable[Placed],
    counted: Collection[str],
    halves: dict[tuple[int, int], tuple[Spot, int]] | None = None,
) -> Told:
    """Tell the stories of containers together, each op where it stands. counted: those whose flows and readings are
    wanted; others are told since something passed between them. halves: what left containers that were told before,
    for others. Raises Refused where an op cannot have been."""
    telling, told = Telling({}), Told()
    telling.halves = {} if halves is None else halves
    for one in _in_order(story):
        postings = _do(telling, one)
        if one.op.code in counted:
            for line, reading in enumerate(postings.readings, one.line):
                told.readings[one.voucher, line] = reading
        for transfer in postings.transfers:
            if _counts(transfer.source, counted) or _counts(transfer.target, counted):
                told.flows[transfer.source, transfer.target] += transfer.quantity
                if not one.voucher:
                    told.own.append(transfer)
    told.states = telling.containers
    return told


def _in_order(story: Iterable[Placed]) -> list[Placed]:
    return sorted(story, key=lambda one: (one.position, one.index))


def _do(telling: Telling, one: Placed) -> Postings:
    """What one op comes to. Raises Refused where it cannot have been."""
    telling.on, telling.voucher = one.on, one.voucher
    postings = telling.postings = Postings()
    try:
        telling.do(one.op, one.index)
    except Refused as refused:
        raise _impossible(one, telling.containers.get(one.op.code), refused) from None
    telling.containers[one.op.code].last = one.position
    return postings


def _counts(end: Spot, counted: Collection[str]) -> bool:
    return end.cls in HOLDING and end.name in counted


class World(Protocol):
    """What is on record, as questions."""

    def story(self, codes: Collection[str]) -> list[Placed]:
        """The ops on these containers of all standing vouchers."""

    def touched(self, vouchers: Collection[int]) -> set[str]:
        """The containers that these vouchers say something of."""

    def posted(self, codes: Collection[str]) -> Mapping[Pair, int]:
        """What is posted between two accounts of which one is of these containers, reversals taken off."""

    def moved(self, vouchers: Collection[int]) -> Mapping[Pair, int]:
        """The same, of these vouchers alone."""


@dataclass(frozen=True)
class Restatement:
    """own: what the new act posts. transfers: what is posted besides, so that what is posted agrees with the stories
    again. readings, states: of the containers whose stories were told anew; no state: the container never came."""

    own: tuple[Transfer, ...]
    transfers: tuple[Transfer, ...]
    readings: Mapping[tuple[int, int], Reading]
    states: Mapping[str, ContainerState | None]


def restate(world: World, removed: Collection[int] = (), added: Event | None = None, number: int = 0) -> Restatement:
    """What putting an act in, or taking acts out, comes to. removed: vouchers that are taken back. added: the act that
    is put in; number: the one that its voucher will have. Raises Refused where what is on record cannot have been
    then, naming the voucher to correct first."""
    new = list(placed(added, 0, number)) if added else []
    counted, ops = _stories(world, world.touched(removed) | {one.op.code for one in new}, removed, new)
    _refuse_other_measure(world, removed, new, ops)
    told = tell(ops, counted)
    rest: Flows = defaultdict(int, told.flows)
    for flows, sign in ((world.posted(counted), -1), (world.moved(removed), 1)):
        for pair, quantity in flows.items():
            rest[pair] += sign * quantity
    for transfer in told.own:
        rest[transfer.source, transfer.target] -= transfer.quantity
    return Restatement(
        tuple(told.own),
        tuple(_transfer(*pair, quantity) for pair, quantity in sorted(rest.items()) if quantity),
        told.readings,
        {code: told.states.get(code) for code in counted},
    )


def _transfer(source: Spot, target: Spot, quantity: int) -> Transfer:
    """What was posted too little is posted; what was posted too much goes back, and counts as taken back."""
    if quantity > 0:
        return Transfer(source, target, quantity)
    return Transfer(target, source, -quantity, reversal=True)


def states_before(
    world: World, positions: Mapping[str, str], removed: Collection[int] = ()
) -> Mapping[str, ContainerState]:
    """Containers as they stood right before a position each, without the vouchers that are taken back; those that had
    not come by then are left out."""
    _, ops = _stories(world, set(positions), removed, ())
    ops, telling, done, found = _in_order(ops), Telling({}), 0, {}
    for code in sorted(positions, key=positions.get):
        end = bisect_left(ops, positions[code], lo=done, key=lambda one: one.position)
        for one in ops[done:end]:
            _do(telling, one)
        done = end
        if code in telling.containers:
            found[code] = replace(telling.containers[code])
    return found


def _stories(
    world: World, touched: set[str], removed: Collection[int], new: Iterable[Placed]
) -> tuple[set[str], list[Placed]]:
    """The containers whose stories count, and the ops to tell them by. Besides those that were touched, a container
    counts that took in what was left in one that counts, since how much that was follows from the other's story; and
    one that came with no substance named, since it takes its own from what was passed on to it. Those at the other end
    of any other transfer are told too, for the account at which they stood."""
    gone = set(removed)
    stories: dict[str, list[Placed]] = {}

    def load(codes: Iterable[str]) -> None:
        missing = set(codes) - stories.keys()
        stories.update({code: [] for code in missing})
        for one in world.story(missing) if missing else ():
            if one.voucher not in gone:
                stories[one.op.code].append(one)
        for one in new:
            if one.op.code in missing:
                stories[one.op.code].append(one)

    def ends(codes: Iterable[str], *verbs: str) -> set[str]:
        told = (one.op for code in codes for one in stories[code])
        return {other for op in told if op.verb in verbs for other in op.others}

    counted, more = set(), touched
    while more:
        load(more)
        counted |= more
        passed_on = ends(more, "draw") - counted
        load(passed_on)
        unnamed = {code for code in passed_on if any(_came_unnamed(one.op) for one in stories[code])}
        more = (ends(more, "retire") | unnamed) - counted
    besides, more = set(), ends(counted, "draw", "fill", "residue") - counted
    while more:
        load(more)
        besides |= more
        more = ends(more, "residue") - counted - besides
    return counted, [one for ops in stories.values() for one in ops]


def _came_unnamed(op: Op) -> bool:
    return op.verb == "arrive" and not op.substance


# -- what cannot have been -------------------------------------------------------------------------------


def _impossible(one: Placed, held: ContainerState | None, refused: Refused) -> Refused:
    """Why an act cannot have been. One that is about to be posted is refused as it is; one that is on record is named,
    with what its container would have been then."""
    if not one.voucher:
        return refused
    if held is None:
        state = "not have been here yet"
    elif apart := _apart(one.op, held):
        state = apart
    elif one.op.verb in {"fill", "residue"} and held.traits.single_use:
        state = "be a single-use container"
    elif held.retired:
        state = f"have been retired on {said_day(held.retired_on)} already"
    elif one.op.verb == "draw" and one.op.quantity is not None and held.cannot_give(one.op.quantity):
        state = f"never have held more than {held.said(held.most)}"
    else:
        what = f" of {held.substance}" if one.op.verb in {"fill", "residue"} and held.substance else ""
        state = f"have held {held.said(held.balance)}{what}"
    return Refused(
        f"With this, {one.op.code} would {state} on {said_day(one.on)}, when voucher {one.voucher} "
        f"{_deed(one.op, held)}. Correct voucher {one.voucher} first."
    )


def _apart(op: Op, held: ContainerState) -> str:
    """What a container would be that is not the shop's, or not known, where an act on record says otherwise; else
    blank."""
    if held.unknown and op.verb not in OF_UNKNOWN:
        return "not have been identified yet"
    if held.owner and op.verb in {"whose", "draw", "fill", "residue", "leave", "retire"}:
        return f"have been kept for {held.owner}"
    given = op.verb == "leave" and op.cls == AccountClass.CUSTOMER.word
    return "have been the shop's" if op.verb == "whose" or given else ""


def _refuse_other_measure(world: World, removed: Collection[int], new: Iterable[Placed], ops: Iterable[Placed]) -> None:
    """A container of refrigerant is no container of oil once something else was said of it: that was in grams, and
    would count as millilitres."""
    arrivals = {one.op.code: one.op for one in new if one.op.verb == "arrive"} if removed else {}
    if not arrivals:
        return
    for was in world.story(arrivals):
        code = was.op.code
        if was.voucher not in removed or was.op.verb != "arrive":
            continue
        oil = KINDS[arrivals[code].kind].is_oil
        later = [one for one in ops if one.op.code == code and one.voucher]
        if later and oil != KINDS[was.op.kind].is_oil:
            first = min(later, key=lambda one: (one.position, one.index))
            holds, measured = ("oil", "grams") if oil else ("refrigerant", "millilitres")
            raise Refused(
                f"With this, {code} would hold {holds}, and voucher {first.voucher} of {said_day(first.on)} says "
                f"{measured} of it. Correct voucher {first.voucher} first."
            )


def _deed(op: Op, held: ContainerState | None) -> str:
    """What an op did, in words, e.g. `sent 340 g away`."""

    def said(quantity: int) -> str:
        return show(quantity, "mL" if held is not None and held.is_oil else "g")

    if op.verb == "count":
        return f"weighed it: {said(op.gross)} in all"
    if op.verb == "draw":
        if op.before is not None:
            return f"weighed it: {said(op.before)} in all before, {said(op.after)} after"
        return f"took {said(op.quantity)} out of it"
    if op.verb == "fill":
        amount = op.quantity if op.quantity is not None else op.after - op.before
        return f"put {said(amount)} of {op.substance} into it"
    if op.verb == "leave" and op.cls == AccountClass.OTHER_LOSS.word:
        return "lost what was in it" if op.quantity is None else f"lost {said(op.quantity)} out of it"
    if op.verb == "leave":
        return "sent it away" if op.quantity is None else f"sent {said(op.quantity)} away"
    return {
        "arrive": "brought it in",
        "stand": "moved it",
        "regrade": "graded it",
        "tare": "gave it another tare",
        "retire": "retired it",
        "found": "found it",
        "identify": "said what is in it",
        "keep": f"kept it for {op.what[0]}" if op.what and op.what[0] else "ended its keeping",
        "whose": "used it for its customer",
        "residue": f"put what was left in {op.others[0] if op.others else ''} into it",
    }[op.verb]
