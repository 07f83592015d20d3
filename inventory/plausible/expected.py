"""What is expected of a reading before it is taken: what can be, what is likely, what is near. Pure: no Django here.

Each bound says why it is there, as a whole sentence, and its source. Values are whole mg for masses, whole uL for
volumes, Pa absolute for pressures and degrees Celsius for temperatures.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from inventory.plausible.typed import Typed
from inventory.text.refusal import Refused

PRACTICE = "common practice, no source"
MEMORY = "from memory"

Value = int | float


def whole(number: Decimal, size: Fraction) -> int:
    """A number of units as whole mg or uL, half to even: the same that `quantity.parse` makes of it."""
    above, below = number.as_integer_ratio()
    value, rest = divmod(above * size.numerator, below * size.denominator)
    half = 2 * rest - below * size.denominator
    return value + (half > 0 or (half == 0 and value % 2))


@dataclass(frozen=True)
class Bound:
    """least, most: the limits themselves are within; None: none on that side. sure: nothing beyond it can be; otherwise
    that is only unlikely. right: what to do where a reading beyond it is right, as a whole sentence."""

    least: Value | None
    most: Value | None
    sure: bool
    why: str
    source: str
    right: str = "Read it again."

    def holds(self, value: Value) -> bool:
        return (self.least is None or value >= self.least) and (self.most is None or value <= self.most)


@dataclass(frozen=True)
class Band:
    """Where the reading should be, as far as is known. narrow: because of a figure that was measured, rather than
    because such readings mostly are there. times: a reading outside is only doubted for one inside that is at least so
    many times as much, or as little: many honest ones are outside."""

    least: Value
    most: Value
    why: str
    source: str
    narrow: bool = False
    times: int = 1

    def is_far(self, value: Value, other: Value) -> bool:
        low, high = sorted((abs(value), abs(other)))
        return high >= self.times * low

    def holds(self, value: Value) -> bool:
        return self.least <= value <= self.most

    @property
    def width(self) -> Value:
        return self.most - self.least

    @property
    def is_tight(self) -> bool:
        """Whether hardly anything gets into it by chance when a decimal mark is moved."""
        return self.narrow or 20 * self.width < abs(self.least + self.most)

    def distance(self, value: Value) -> float:
        """How far from its middle, of its half width; at most 1 within it."""
        return abs(2 * value - self.least - self.most) / max(float(self.width), 1e-9)


@dataclass(frozen=True)
class Expected:
    """bounds: none is broken by what fits. near: where the reading should be."""

    bounds: tuple[Bound, ...] = ()
    near: tuple[Band, ...] = ()

    def broken(self, value: Value, *, sure: bool) -> Bound | None:
        """The first bound of that sort that a value is beyond."""
        return next((one for one in self.bounds if one.sure is sure and not one.holds(value)), None)

    def band(self, value: Value) -> Band | None:
        """The narrowest band that a value is in."""
        return min((one for one in self.near if one.holds(value)), key=lambda one: one.width, default=None)

    def settles(self, value: Value) -> bool:
        """Whether nothing more is asked: it is in a narrow band, or in any where there is no narrow one."""
        narrow = [one for one in self.near if one.narrow]
        return any(one.holds(value) for one in narrow or self.near)

    def fits(self, value: Value) -> bool:
        return all(one.holds(value) for one in self.bounds)


@dataclass(frozen=True)
class Other:
    """Another reading than the typed one, one slip away from it. slip: a word of SLIPS."""

    slip: str
    typed: Typed
    value: Value


class Known:
    """What is known of a reading of some kind before it is taken. A kind of reading is a class of these.

    symbols: how units are typed, in lower case, and the unit. mistaken: the units that each is typed for.
    by_unit: whether what is expected differs with the unit, which then says which instrument was read.
    """

    symbols: Mapping[str, str] = {}
    mistaken: Mapping[str, tuple[str, ...]] = {}
    by_unit = False

    def value(self, number: Decimal, unit: str) -> Value:
        """What a number in a unit comes to."""
        raise NotImplementedError

    def expects(self, unit: str) -> Expected:
        """What is expected of a reading in that unit: another instrument may read other things."""
        raise NotImplementedError

    def besides(self, typed: Typed) -> Iterator[Other]:
        """The readings that may be meant beside those that differ by a unit or a digit."""
        return iter(())

    def unit_named(self, said: str) -> str:
        """The unit that is typed so. Raises Refused."""
        found = self.symbols.get(" ".join(said.lower().replace(".", " ").split()))
        if found is None:
            listed = ", ".join(dict.fromkeys(self.symbols.values()))
            raise Refused(f'The unit "{said[:20]}" is not known here; write one of {listed}.')
        return found
