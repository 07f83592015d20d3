"""Which containers to charge from, how much from each, and at what reading to stop. Pure: no Django here.

All masses are whole milligrams. The plan finishes opened containers first, opens the fewest new ones that
reach the least charge, and never goes over the most.
"""

from collections.abc import Sequence
from dataclasses import dataclass

# An opened container with less than this gives vapour alone: it is not planned with. A can of 0.35 L full of
# saturated R-134a vapour at 30 degrees C holds 13 g (CoolProp 8.0.0); rounded up, common practice, no source.
WORTH_TAKING_MG = 15_000


@dataclass(frozen=True)
class Available:
    """A container that could be charged from. gross: what it weighs now by the book, None where its tare is
    not known yet; opened: something was taken out of it before."""

    code: str
    content: int
    gross: int | None = None
    opened: bool = False


@dataclass(frozen=True)
class Draw:
    """Take `amount` out of a container; stop when the scale shows `stop_at` (None: first weigh it)."""

    code: str
    amount: int
    stop_at: int | None
    empties: bool

    @property
    def wanted(self) -> int:
        """The figure to look out for: the reading to stop at, or the amount where there is none yet."""
        return self.amount if self.stop_at is None else self.stop_at


@dataclass(frozen=True)
class Plan:
    """What to take from what, in order. short: how much of the least charge the containers cannot give."""

    draws: tuple[Draw, ...]
    total: int
    short: int


@dataclass(frozen=True)
class Missing:
    """What is still to be charged to reach the least, the aim and the most; negative: so much over."""

    least: int
    aim: int
    most: int

    @property
    def to_least(self) -> int | None:
        """None where the least is reached."""
        return self.least if self.least > 0 else None

    @property
    def to_aim(self) -> int | None:
        """None where the aim is reached."""
        return self.aim if self.aim > 0 else None

    @property
    def room(self) -> int | None:
        """Up to the most; None where there is more than that."""
        return self.most if self.most >= 0 else None


def missing(charged: int, least: int | None, most: int | None, nominal: int | None = None) -> Missing | None:
    """What is missing to a label's range; None where the label's charge is not known.

    The aim is the nominal charge, or the middle of the range where the label names none.
    """
    least, most = least if least is not None else most, most if most is not None else least
    if least is None:
        return None
    aim = nominal if nominal is not None else (least + most) // 2
    return Missing(least - charged, min(max(aim, least), most) - charged, most - charged)


def plan(need: Missing, containers: Sequence[Available]) -> Plan:
    """The draws that bring the charge into the range.

    Opened containers come first, the emptiest first, so that they get finished. Of the sealed ones the fewest
    that reach the least are opened: the fullest, and as the last the smallest that suffices.
    """
    aim, least = max(0, need.aim), max(0, need.least)
    opened = sorted((c for c in containers if c.opened and c.content > 0), key=lambda c: (c.content, c.code))
    sealed = sorted((c for c in containers if not c.opened and c.content > 0), key=lambda c: (-c.content, c.code))
    chosen = _opened_to(opened, aim)
    chosen += _sealed_to(sealed, least - sum(c.content for c in chosen), aim - sum(c.content for c in chosen))
    draws, left = [], aim
    for container in chosen:
        amount = min(container.content, left)
        if amount <= 0:
            break
        left -= amount
        stop_at = None if container.gross is None else container.gross - amount
        draws.append(Draw(container.code, amount, stop_at, amount == container.content))
    total = sum(draw.amount for draw in draws)
    return Plan(tuple(draws), total, max(0, least - total))


def _opened_to(opened: Sequence[Available], aim: int) -> list[Available]:
    """Opened containers until the aim is reached; the one that reaches it is the smallest that can."""
    chosen: list[Available] = []
    given = 0
    for container in opened:
        if given >= aim:
            break
        chosen.append(container)
        given += container.content
    return chosen


def _sealed_to(sealed: Sequence[Available], least: int, aim: int) -> list[Available]:
    """The fewest sealed containers that together hold `least`; of the last, the one that comes nearest the aim."""
    chosen: list[Available] = []
    given = 0
    for container in sealed:
        if given >= least:
            break
        enough = [c for c in sealed if c not in chosen and given + c.content >= least]
        if enough:
            reaching = [c for c in enough if given + c.content >= aim]
            chosen.append(min(reaching, key=lambda c: (c.content, c.code)) if reaching else enough[0])
            break
        chosen.append(container)
        given += container.content
    return chosen
