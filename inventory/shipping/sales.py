"""Refrigerant that is sold: what is said of a sale, and what the rulebook says to it."""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass

from inventory.containers.models import Container
from inventory.parties.models import Party
from inventory.reference.rule import EQUIPMENT, USES, Gas, System
from inventory.reference.trade_rules import ENDS, PROOFS
from inventory.text.refusal import Refused
from inventory.verdicts.selling import Sold

SELL = "sell"  # of PURPOSES
TICKED = ("certificate", "resale-statement")  # of PROOFS: what a form asks for; the others follow from what is entered

# Of containers, by code, the kinds of equipment that their content came out of: a floor above this one knows them.
came_from: list[Callable[[Collection[str]], Mapping[str, frozenset[str]]]] = []


@dataclass(frozen=True)
class SaleSaid:
    """What is said of a sale. end: of ENDS; equipment, use: of EQUIPMENT and USES; each blank where nobody said it.
    seen: of TICKED."""

    end: str = ""
    equipment: str = ""
    use: str = ""
    seen: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        known = {"end": (self.end, ENDS), "equipment": (self.equipment, EQUIPMENT), "use": (self.use, USES)}
        for field, (said, words) in known.items():
            if said and said not in words:
                raise Refused(f"{said!r} is not known here; write one of {', '.join(words)}.", f"sale_{field}")

    @property
    def detail(self) -> dict[str, object]:
        """What its voucher says: words of the rulebooks only."""
        said = {"end": self.end, "equipment": self.equipment, "use": self.use, "seen": list(self.seen)}
        return {name: value for name, value in said.items() if value}

    @classmethod
    def of(cls, detail: Mapping[str, object]) -> "SaleSaid":
        """What a voucher's detail says; nothing where it is of a log."""
        said = dict(detail.get("sale", {}))
        return cls(**{**said, "seen": tuple(said.get("seen", ()))})


def seen_of(said: SaleSaid, party: Party | None, document: str) -> frozenset[str]:
    """Of PROOFS, what the seller has: what was ticked, what is on file of the buyer, and the document of the sale."""
    seen = set(said.seen) & PROOFS.keys()
    seen |= {"invoice"} if document else set()
    seen |= {"certificate", "certificate-number"} if party is not None and party.registration else set()
    return frozenset(seen)


def sold(said: SaleSaid, substance: str, gas: Gas, seen: frozenset[str], container: Container | None = None) -> Sold:
    """A sale of one container's content, as the rulebook is asked about it."""
    system = System(said.equipment or None, substance, use=said.use)
    return Sold(system, gas, said.end, seen, can_of(container) if container else None)


def origins_of(codes: Collection[str]) -> dict[str, frozenset[str]]:
    """Of containers the kinds of equipment that their content came out of; none where that is not known."""
    found: dict[str, frozenset[str]] = dict.fromkeys(codes, frozenset())
    for ask in came_from:
        found.update(ask(codes))
    return found


def check_buyer(party: Party) -> None:
    """Raises Refused for whoever is no buyer."""
    if party.role != "buyer":
        raise Refused(f"{party.name} is a {party.role}, and a sale goes to a buyer: enter them as one first.", "party")


def can_of(container: Container) -> int | None:
    """What a single-use container, which is sold as it is, was made to hold; None of any other."""
    return container.nominal if container.traits.single_use else None
