"""What is in a container beside what may be in it, as a verdict that says which limit governs. Pure: no Django here."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

from inventory.containers.safe_fill import Cylinder, Limit, limits
from inventory.measures.quantity import show
from inventory.reference.container_rules import SafeFill
from inventory.verdicts.verdict import Figure, Verdict, cannot_be_judged

Mass = Callable[[int], str]


def in_grams(milligrams: int) -> str:
    return show(milligrams, "g")


@dataclass(frozen=True)
class Fill:
    """A container and its content. rules: those about its kind; none where no limit on filling it is named."""

    cylinder: Cylinder
    substance: str
    content_mg: int
    rules: tuple[SafeFill, ...]

    @cached_property
    def limits(self) -> list[Limit]:
        """The lowest, which governs, before the others."""
        return sorted(limits(self.cylinder, self.substance, self.rules), key=lambda one: one.mg)

    @property
    def room_mg(self) -> int | None:
        """What may still go in; negative where it holds too much, None where no limit is known."""
        return self.limits[0].mg - self.content_mg if self.limits else None

    def verdict(self, mass: Mass = in_grams, more_mg: int = 0) -> Verdict | None:
        """What it comes to once `more_mg` went in; None where no limit is named for its kind, or published for the gas.
        mass: writes a mass."""
        if not self.limits:
            return self._open()
        governs, held = self.limits[0], self.content_mg + more_mg
        more = {"rules": self._leant_on, "figures": self._figures(mass, held), "changes": self._changes(mass)}
        if self.cylinder.water_capacity_mg:
            more["readings"] = ("1 kg of water capacity counts as 1 L, which is the safe side.",)
        most = f"its safe fill of {mass(governs.mg)}"
        if held > governs.mg:
            return Verdict(answer="refused", said=f"{mass(held)} is {mass(held - governs.mg)} over {most}.", **more)
        return Verdict(answer="met", said=f"There is room for {mass(governs.mg - held)} up to {most}.", **more)

    def _open(self) -> Verdict | None:
        if not self.rules or self.cylinder.water_capacity_mg:
            return None
        return cannot_be_judged("Its safe fill", ["what water capacity is stamped on it"], self.rules)

    @property
    def _leant_on(self) -> tuple[SafeFill, ...]:
        return tuple(one.source for one in self.limits if one.source is not None)

    def _figures(self, mass: Mass, held: int) -> tuple[Figure, ...]:
        water = self.cylinder.water_capacity_mg
        found = [Figure("refrigerant", self.substance), Figure("content", mass(held))]
        found += [Figure("water capacity", f"{mass(water)} of water")] if water else []
        for number, one in enumerate(self.limits):
            how = ", worked out here from densities" if one.worked_out else ""
            label = "another limit" if number else "limit that governs"
            found.append(Figure(label, f"{mass(one.mg)}: {one.rule}{how}"))
        return tuple(found)

    def _changes(self, mass: Mass) -> tuple[str, ...]:
        found = []
        if len(self.limits) > 1:
            found.append(
                f"Without the limit that governs it would be {mass(self.limits[1].mg)}: {self.limits[1].rule}."
            )
        if self.cylinder.test_pressure_kpa is None and any(one.method == "p200" for one in self.rules):
            found.append("The test pressure that is stamped on it, once it is entered, may allow more.")
        return tuple(found)
