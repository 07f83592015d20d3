"""Rules about selling refrigerant: what may be sold, what for, and what the seller sees and keeps."""

from dataclasses import dataclass, field

from inventory.reference.rule import BEARS, BEARS_NOT, ENFORCEMENTS, GRADES, Bearing, Gas, Scoped, selects_equipment

# What refrigerant is sold for.
ENDS = {"use": "for use in equipment", "resale": "to be sold again"}

# What a seller is shown, or keeps, of a sale.
PROOFS = {
    "invoice": "an invoice with the buyer's name, the day and the quantity",
    "certificate": "the buyer's certificate, or proof that the buyer employs a certified person",
    "certificate-number": "the number of the buyer's certificate",
    "resale-statement": "the buyer's written statement that it is bought to be sold again",
}

ORIGIN_ASKED = "what kind of equipment the refrigerant came out of"


@dataclass(frozen=True, kw_only=True)
class Sale(Scoped):
    """Refrigerant of some grades that may be sold, or may not. Its systems are those that it is sold for.

    ends: keys of ENDS. origins: selectors of the equipment that it came out of. needs: keys of PROOFS, which the seller
    must have.
    """

    grades: tuple[str, ...] = field(default=GRADES, metadata={"words": GRADES})
    ends: tuple[str, ...] = field(default=tuple(ENDS), metadata={"words": tuple(ENDS)})
    origins: tuple[str, ...] = field(default=("*",), metadata={"selectors": "equipment"})
    allowed: bool = True
    needs: tuple[str, ...] = field(default=(), metadata={"words": tuple(PROOFS)})
    enforcement: str = field(default="refuse", metadata={"words": ENFORCEMENTS})

    def is_of(self, gas: Gas, end: str) -> Bearing:
        """Whether it is about gas of that grade and origin, sold to that end."""
        if gas.grade not in self.grades or end not in self.ends:
            return BEARS_NOT
        if "*" in self.origins:
            return BEARS
        if not gas.origins:
            return Bearing(None, (ORIGIN_ASKED,))
        return BEARS if all(selects_equipment(self.origins, one) for one in gas.origins) else BEARS_NOT
