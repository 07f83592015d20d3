"""Rules about containers: what may be done with them, how far they are filled, how often they are tested, what their
label says, how they end, and what a small can is."""

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from inventory.reference.kinds import KINDS, with_trait
from inventory.reference.refrigerants import DENSITY_TEMPERATURES
from inventory.reference.rule import ENFORCEMENTS, GRADES, Rule

CONTAINER_KINDS = tuple(KINDS)

# What may be done with a container, in words that go on after "must not be".
ACTS = {
    "fill": "filled",
    "use": "charged from",
    "purchase": "bought",
    "supply": "handed on",
}

# What a container's label may have to say, in words that go on after "it does not say".
LABEL_SAYS = {
    "grade": "that it is recycled or reclaimed",
    "batch": "the number of the batch",
    "facility": "name and address of the facility",
    "statement": "how much virgin refrigerant is in it at most",
}

# Who puts a label on: the reclaimer before it is sold, or whoever holds the container.
LABELLERS = {"reclaimer": "the reclaimer, before it is sold", "holder": "whoever filled it or hands it on"}

# Who may take a used container over.
TAKERS = ("reclaimer", "fire-suppressant recycler", "final processor", "refrigerant supplier")

SAFE_FILL_METHODS = {
    "share-of-liquid": "a share of the water capacity × the liquid density at a temperature",
    "p200": "the filling ratio of ADR P200, from table 2 or by (5)(c)",
    "liquid-full": "not full of liquid at a temperature",
    "filling-density": "the filling density of 49 CFR 173.304a(a)(2) and (d)(1)",
}

# What a limit on filling is: asked by a law, or kept in the trade.
BINDING = {"law": "asked by the text", "practice": "kept in the trade"}


@dataclass(frozen=True, kw_only=True)
class SingleUse(Rule):
    """What may not be done with containers that are made for a single use (acts: of ACTS), by the refrigerant that they
    are for. fill: neither from another container nor by recovery."""

    kinds: tuple[str, ...] = field(metadata={"words": CONTAINER_KINDS})
    acts: tuple[str, ...] = field(metadata={"words": tuple(ACTS)})
    substances: tuple[str, ...] = ("*",)
    enforcement: str = field(default="refuse", metadata={"words": ENFORCEMENTS})


@dataclass(frozen=True, kw_only=True)
class Retest(Rule):
    """How often a container is tested. years: what to suggest where the container's stamp names no day.
    tare_loss_percent: one whose tare is down by so much or more is tested again before its day."""

    kinds: tuple[str, ...] = field(metadata={"words": CONTAINER_KINDS})
    years: int
    fill_when_overdue: bool = False
    use_when_overdue: bool = True
    through_month_end: bool = True
    tare_loss_percent: Decimal | None = None
    enforcement: str = field(default="refuse", metadata={"words": ENFORCEMENTS})


@dataclass(frozen=True, kw_only=True)
class ContainerLabel(Rule):
    """What the label of a container says (says: of LABEL_SAYS), by its kind and the grade of what is in it. statement:
    its text, where the rule words it. by: who labels it; what the reclaimer labels is judged by the day on which it
    came."""

    kinds: tuple[str, ...] = field(metadata={"words": CONTAINER_KINDS})
    grades: tuple[str, ...] = field(metadata={"words": GRADES})
    says: tuple[str, ...] = field(metadata={"words": tuple(LABEL_SAYS)})
    substances: tuple[str, ...] = ("*",)
    by: str = field(metadata={"words": tuple(LABELLERS)})
    statement: str = ""


@dataclass(frozen=True, kw_only=True)
class ContainerDisposal(Rule):
    """How a container ends. recover_residue: what is left in it is recovered first. goes_to: who may take it over, of
    TAKERS; evacuate_inhg: or a certified person evacuates it so far and says so in a statement."""

    kinds: tuple[str, ...] = field(metadata={"words": CONTAINER_KINDS})
    substances: tuple[str, ...] = ("*",)
    recover_residue: bool = False
    goes_to: tuple[str, ...] = field(default=(), metadata={"words": TAKERS})
    evacuate_inhg: Decimal | None = None

    @property
    def asks_proof(self) -> bool:
        """Whether it asks for who took it over, or for the statement."""
        return bool(self.goes_to) or self.evacuate_inhg is not None


@dataclass(frozen=True, kw_only=True)
class SmallCan(Rule):
    """Cans made to hold so little that buying them needs no certificate, and selling them no record.

    self_sealing_from: cans made on or after that day close by themselves and leak at most that many g a year.
    """

    holds_most_mg: int
    substances: tuple[str, ...] = ("*",)
    self_sealing_from: date | None = None
    leak_most_g_year: Decimal | None = None

    def is_small(self, designed_for_mg: int) -> bool:
        return designed_for_mg <= self.holds_most_mg


@dataclass(frozen=True, kw_only=True)
class SafeFill(Rule):
    """One limit on what a refillable container may hold; the lowest limit governs. share: a fraction. at_celsius: one
    of the temperatures that densities are kept for."""

    method: str = field(metadata={"words": tuple(SAFE_FILL_METHODS)})
    binding: str = field(default="law", metadata={"words": tuple(BINDING)})
    at_celsius: Decimal | None = None
    share: Decimal | None = None
    kinds: tuple[str, ...] = field(default=tuple(with_trait("refillable")), metadata={"words": CONTAINER_KINDS})

    def __post_init__(self) -> None:
        if self.method in ("share-of-liquid", "liquid-full") and self.at_celsius is None:
            raise ValueError(f"at_celsius: is missing: {self.method} needs a temperature.")
        if self.at_celsius is not None and self.at_celsius not in DENSITY_TEMPERATURES:
            raise ValueError(f"at_celsius: write one of {', '.join(map(str, DENSITY_TEMPERATURES))}.")
        if self.method == "share-of-liquid" and not (self.share and 0 < self.share <= 1):
            raise ValueError("share: write a fraction above 0 and up to 1.")
