"""Rules about a charge itself: which refrigerant goes into equipment that was designed for another, and what is done
on the same visit before anything goes in."""

from dataclasses import dataclass, field

from inventory.reference.rule import ENFORCEMENTS, Scoped, selects_substance

SELECTS = {"selectors": "substances"}  # a field that holds selectors of substances


@dataclass(frozen=True, kw_only=True)
class ProhibitedCharging(Scoped):
    """Charging equipment that was designed for one refrigerant with another one of a higher GWP. substances: what is
    charged.

    designed_for: what the equipment was designed for. scheduled: what the law lists; into equipment that was designed
    for what it does not list, nothing of `substances` may go, whatever the two GWP are. excepted: words that go on
    after "It is allowed where".
    """

    designed_for: tuple[str, ...] = field(default=("*",), metadata=SELECTS)
    scheduled: tuple[str, ...] = field(default=("*",), metadata=SELECTS)
    excepted: str = ""
    enforcement: str = field(default="refuse", metadata={"words": ENFORCEMENTS})

    def is_about(self, designed_for: str, charged: str) -> bool:
        """Whether it is about these two refrigerants."""
        return (
            designed_for != charged
            and selects_substance(self.designed_for, designed_for)
            and selects_substance(self.substances, charged)
        )

    def lists(self, substance: str) -> bool:
        """Whether the law lists a refrigerant."""
        return selects_substance(self.scheduled, substance)


@dataclass(frozen=True, kw_only=True)
class LeakTest(Scoped):
    """A leak test on the same visit before anything is charged."""

    enforcement: str = field(default="refuse", metadata={"words": ENFORCEMENTS})
