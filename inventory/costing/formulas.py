"""What goes out of a stock costs what came in: first in, first out, or the moving average. Pure: no Django here.

IAS 2 Inventories, 25: the cost of interchangeable inventories is assigned by one of the two. 27: with first in, first
out, what was bought first goes first; with the weighted average, each item costs the average of what is held, here
worked out anew as each delivery comes in. Quantities and money are exact (integers and fractions); who shows a sum
rounds it once, half to even.

What has no price goes along as a quantity without one: it is never counted as if it had cost nothing.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

FORMULAS = {"fifo": "first in, first out", "average": "moving weighted average"}


class Part(NamedTuple):
    """A quantity, below zero where it goes back, and what a unit of it costs; None: it has no price."""

    quantity: Fraction
    unit: Fraction | None


@dataclass
class Amount:
    """A sum of parts. priced, bare: quantities with a price and without one; cost: of what has one."""

    priced: Fraction = Fraction(0)
    cost: Fraction = Fraction(0)
    bare: Fraction = Fraction(0)

    def add(self, parts: Iterable[Part], sign: int = 1) -> None:
        for quantity, unit in parts:
            if unit is None:
                self.bare += sign * quantity
            else:
                self.priced += sign * quantity
                self.cost += sign * quantity * unit

    def plus(self, other: "Amount", sign: int = 1) -> None:
        self.priced += sign * other.priced
        self.cost += sign * other.cost
        self.bare += sign * other.bare

    @property
    def quantity(self) -> Fraction:
        return self.priced + self.bare

    @property
    def minor(self) -> int:
        """The cost, rounded once, half to even."""
        return round(self.cost)

    @property
    def rounded(self) -> tuple[int, int]:
        """Quantities with a price and without one in whole units; together they are the whole."""
        priced = round(self.priced)
        return priced, round(self.quantity) - priced


class Fifo:
    """A stock of which what came first goes first. What goes back comes off what went last."""

    def __init__(self) -> None:
        self.layers: list[list] = []  # quantity, unit; in the order they came
        self.at, self.used = 0, Fraction(0)  # the layer that is drawn from, and what of it went
        self.held = Amount()

    @property
    def on_hand(self) -> Fraction:
        return self.held.quantity

    def put(self, part: Part) -> None:
        """Something comes in; below zero: a delivery was of less than was said, which comes off the last layers of
        that price that are still here, else off what goes next."""
        if part.quantity >= 0:
            self.layers.append([part.quantity, part.unit])
            self.held.add([part])
            return
        less = -part.quantity
        for at in range(len(self.layers) - 1, self.at - 1, -1):
            layer = self.layers[at]
            if layer[1] == part.unit and less:
                off = min(less, layer[0] - (self.used if at == self.at else 0))
                layer[0], less = layer[0] - off, less - off
                self.held.add([Part(off, part.unit)], -1)
        if less:
            self.take(less)

    def take(self, quantity: Fraction) -> list[Part]:
        """What goes out, by its parts. Beyond what is here it has no price."""
        if quantity < 0:
            return self._back(-quantity)
        parts = []
        while quantity and self.at < len(self.layers):
            layer = self.layers[self.at]
            part = min(quantity, layer[0] - self.used)
            if part:
                parts.append(Part(part, layer[1]))
            self.used, quantity = self.used + part, quantity - part
            if self.used == layer[0]:
                self.at, self.used = self.at + 1, Fraction(0)
        if quantity:
            parts.append(Part(quantity, None))
            self.layers.append([quantity, None])
            self.at, self.used = len(self.layers), Fraction(0)
        self.held.add(parts, -1)
        return parts

    def _back(self, quantity: Fraction) -> list[Part]:
        parts = []
        while quantity:
            if not self.used:
                if not self.at:  # more goes back than ever went
                    self.layers.insert(0, [quantity, None])
                    parts.append(Part(-quantity, None))
                    break
                self.at -= 1
                self.used = self.layers[self.at][0]
                continue
            part = min(quantity, self.used)
            parts.append(Part(-part, self.layers[self.at][1]))
            self.used, quantity = self.used - part, quantity - part
        self.held.add(parts, -1)
        return parts


class Average:
    """A stock of which every part costs the average of what is held. What has no price is in it in its share."""

    def __init__(self) -> None:
        self.held = Amount()
        self.last: list[Part] = []  # shares of the last that went, of one unit in all

    @property
    def on_hand(self) -> Fraction:
        return self.held.quantity

    def put(self, part: Part) -> None:
        """Something comes in; below zero: a delivery was of less than was said."""
        if part.quantity < 0 and not self._has(part):
            self.take(-part.quantity)
            return
        self.held.add([part])

    def _has(self, part: Part) -> bool:
        if part.unit is None:
            return self.held.bare + part.quantity >= 0
        left = self.held.priced + part.quantity
        cost = self.held.cost + part.quantity * part.unit
        return left > 0 and cost >= 0 or not left and not cost

    def take(self, quantity: Fraction) -> list[Part]:
        """What goes out, or goes back, at the average. Beyond what is here it has no price."""
        within = min(quantity, self.on_hand)
        shares = self._shares()
        parts = [Part(share * within, unit) for share, unit in shares] if shares else []
        rest = quantity - within if shares else quantity
        self.held.add(parts, -1)
        if rest:
            parts.append(Part(rest, None))
            self.held.add([Part(rest, None)], -1)
        return [part for part in parts if part.quantity]

    def _shares(self) -> list[Part]:
        whole = self.on_hand
        if whole <= 0:
            return self.last
        found = []
        if self.held.priced:
            found.append(Part(self.held.priced / whole, self.held.cost / self.held.priced))
        if self.held.bare:
            found.append(Part(self.held.bare / whole, None))
        self.last = found
        return found


def stock(formula: str) -> Fifo | Average:
    """An empty stock. formula: of FORMULAS."""
    return {"fifo": Fifo, "average": Average}[formula]()


class Flow(NamedTuple):
    """What moved on a day. source, target: names of the stocks, None for outside. unit: of what comes from outside,
    what it costs; None: it has no price. tag: under which what goes out is added up."""

    day: object
    source: object | None
    target: object | None
    quantity: int
    unit: Fraction | None = None
    tag: object = None


def walk(flows: Iterable[Flow], formula: str) -> tuple[dict[object, Amount], dict[object, Amount]]:
    """What each tag cost, and what each stock is worth after the last flow. flows: by day, within it in the order they
    were entered. Of a day what comes in counts first, then what goes out of a stock that holds it; what is taken out
    of a stock that does not hold it yet waits for the rest of the day."""
    stocks: dict[object, Fifo | Average] = {}
    spent: dict[object, Amount] = {}

    def of(name: object) -> Fifo | Average:
        return stocks.setdefault(name, stock(formula))

    for day in _days(flows):
        waiting = sorted(day, key=lambda one: one.source is not None or one.quantity < 0)
        while waiting:
            left = [flow for flow in waiting if not _ran(flow, of, spent)]
            if len(left) == len(waiting):
                _run(left.pop(0), of, spent)
            waiting = left
    return spent, {name: one.held for name, one in stocks.items()}


def _days(flows: Iterable[Flow]) -> Iterator[list[Flow]]:
    day: list[Flow] = []
    for flow in flows:
        if day and day[-1].day != flow.day:
            yield day
            day = []
        day.append(flow)
    if day:
        yield day


def _ran(flow: Flow, of: Callable[[object], "Fifo | Average"], spent: dict[object, Amount]) -> bool:
    """Runs a flow where what it takes out is there."""
    name, quantity = (flow.source, flow.quantity) if flow.quantity > 0 else (flow.target, -flow.quantity)
    if name is not None and of(name).on_hand < quantity:
        return False
    _run(flow, of, spent)
    return True


def _run(flow: Flow, of: Callable[[object], "Fifo | Average"], spent: dict[object, Amount]) -> None:
    quantity = Fraction(flow.quantity)
    if flow.source is None:
        of(flow.target).put(Part(quantity, flow.unit))
        return
    if flow.target is None:
        spent.setdefault(flow.tag, Amount()).add(of(flow.source).take(quantity))
        return
    source, target = (flow.source, flow.target) if quantity > 0 else (flow.target, flow.source)
    for part in of(source).take(abs(quantity)):
        of(target).put(part)
