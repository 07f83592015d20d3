"""What of an order came. Pure: no Django here."""

from collections import Counter
from collections.abc import Sequence
from typing import NamedTuple


class Sort(NamedTuple):
    """Of containers what makes them equal to those that were ordered. net: mg or uL each."""

    kind: str
    substance: str
    grade: str
    net: int


class Ordered(NamedTuple):
    """A line: so many of a sort. given_up: it is not waited for any more."""

    sort: Sort
    count: int
    given_up: bool = False


def matched(lines: Sequence[Ordered], came: Counter[Sort]) -> tuple[list[int], Counter[Sort]]:
    """Of each line how many came, in the order of the lines, those that were given up last; and what came that none of
    them ordered, or beyond what they did. The last line of a sort takes no more than it ordered either."""
    rest, found = Counter(came), [0] * len(lines)
    for at, line in sorted(enumerate(lines), key=lambda one: one[1].given_up):
        found[at] = min(line.count, rest[line.sort])
        rest[line.sort] -= found[at]
    return found, +rest
