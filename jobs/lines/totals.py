"""What a job's lines come to. Pure: no Django here. Masses in mg, oils in uL."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol


class Entry(Protocol):
    """A line of a job, as it is stored or as the rules read it. amount: what it moved, None while that is not known."""

    action: str
    amount: int | None


def amount_of(action: str, before: int | None, after: int | None, quantity: int | None) -> int | None:
    """What one line moved; None while a weight is missing."""
    if quantity is not None:
        return quantity
    if before is None or after is None:
        return None
    return before - after if action == "charge" else after - before


@dataclass(frozen=True)
class Totals:
    """What a job took and gave back. left: what left the containers on its charge lines; line_loss: the part of it
    that reached no unit."""

    left: int = 0
    line_loss: int = 0
    recovered: int = 0
    oil_added: int = 0
    oil_drained: int = 0

    @property
    def charged(self) -> int:
        """What reached the unit; nothing, while a draft says that more was lost than left."""
        return max(0, self.left - self.line_loss)

    def columns(self) -> dict[str, int]:
        """As a signed job keeps them."""
        return {
            "charged_mg": self.charged,
            "recovered_mg": self.recovered,
            "line_loss_mg": self.line_loss,
            "oil_added_ul": self.oil_added,
            "oil_drained_ul": self.oil_drained,
        }


ADDS_TO = {
    "charge": "left",
    "line-loss": "line_loss",
    "recover": "recovered",
    "oil-add": "oil_added",
    "oil-drain": "oil_drained",
}


def totals_of(lines: Iterable[Entry]) -> Totals:
    """All lines of a job added up; one without an amount yet adds nothing."""
    sums = dict.fromkeys(ADDS_TO.values(), 0)
    for line in lines:
        sums[ADDS_TO[line.action]] += line.amount or 0
    return Totals(**sums)
