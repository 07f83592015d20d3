"""Rules about recovery and recycling machines: which standards are approved for which refrigerant, and what their owner
tells the authority."""

from dataclasses import dataclass, field

from inventory.reference.rule import Rule

# What a machine does with refrigerant.
DOES = {"recover": "recover", "recycle": "recycle"}

# What an owner's statement about a machine says, in words that go on after "without".
STATED = {
    "purchaser": "the name of its owner",
    "establishment": "the address of the establishment",
    "maker": "its maker",
    "model": "its model number",
    "made-on": "the day it was made",
    "serial": "its serial number",
    "signed": "the signature of the owner or a responsible officer",
    "sent-on": "the day the statement was sent",
    "sent-to": "whom it was sent to",
    "copy": "a copy of the statement",
}


@dataclass(frozen=True, kw_only=True)
class MachineStandard(Rule):
    """Standards of which a machine must meet one, to do this work (does: of DOES) on refrigerant of equipment."""

    equipment: tuple[str, ...] = ("*",)
    substances: tuple[str, ...] = ("*",)
    standards: tuple[str, ...]
    does: tuple[str, ...] = field(metadata={"words": tuple(DOES)})

    def met_by(self, standards: frozenset[str]) -> bool:
        """Whether a machine that meets these standards is approved by it."""
        return any(named(one) == named(other) for one in self.standards for other in standards)


@dataclass(frozen=True, kw_only=True)
class MachineStatement(Rule):
    """What the owner of a machine for that equipment tells the authority. fields: of STATED. to: whom."""

    equipment: tuple[str, ...]
    fields: tuple[str, ...] = field(metadata={"words": tuple(STATED)})
    to: str


def named(standard: str) -> str:
    """A standard as it is compared: case, blanks and the name of its society do not matter."""
    return "".join(standard.casefold().split()).removeprefix("sae")
