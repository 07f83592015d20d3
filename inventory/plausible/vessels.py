"""What a container can hold and weigh, as far as anything is known of it. Pure: no Django here, whole mg.

What a kind of container is like is asked of its traits. Where nothing is stamped and nothing was recorded, the ranges
are those of the trade's usual sizes, made wide: common practice, no source.
"""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from inventory.measures.quantity import show
from inventory.plausible.expected import MEMORY, PRACTICE, Bound
from inventory.reference.kinds import KINDS, Kind
from inventory.reference.refrigerants import refrigerants

G, KG, POUND = 1_000, 1_000_000, 453_592
Write = Callable[[int], str]

# A liquid at -30 °C beside the same at 25 °C: at most 1.216 times as dense among the gases kept here whose critical
# temperature is above 65 °C, up to 1.8 times among the others (worked out with CoolProp 8.0.0).
COLDER, COLDER_NEAR_CRITICAL = Fraction(5, 4), Fraction(2)
HEAVIEST = Fraction(21, 10)  # kg of any liquid kept here for each kg of water, 2.034 at most: worked out with CoolProp
USUAL = Fraction(3, 2)  # the same for those that a shop has: common practice, no source
# What a container that is filled once holds is not much over its label; see also MOST_OVER of inventory/containers.
OVER_LABEL, OVER_ANY_LABEL = Fraction(11, 10), Fraction(2)


@dataclass(frozen=True)
class Sizes:
    """mg. likely: the net of what is bought of a sort; can: what is made of it at all. tare: the empty weight likely
    beside nothing known; tare_share: least and most of it for each mg of net."""

    likely: tuple[int, int]
    can: tuple[int, int]
    tare: tuple[int, int]
    tare_share: tuple[Fraction, Fraction]
    source: str


CARTRIDGE = Sizes(
    (30 * G, 1_500 * G),
    (10 * G, 3 * KG),
    (15 * G, 1_200 * G),
    (Fraction(1, 12), Fraction(6, 5)),
    f"UN 2037 has at most 1 L of water capacity ({MEMORY}); sizes: {PRACTICE}",
)
SINGLE_USE = Sizes(
    (250 * G, 26 * KG),
    (50 * G, 60 * KG),
    (200 * G, 9 * KG),
    (Fraction(1, 9), Fraction(3, 4)),
    f"a single-use cylinder has at most 25 kg of water capacity under 49 CFR 178.65 ({MEMORY}); sizes: {PRACTICE}",
)
REFILLABLE = Sizes(
    (250 * G, 150 * KG),
    (20 * G, 2_000 * KG),
    (500 * G, 120 * KG),
    (Fraction(1, 5), Fraction(4)),
    PRACTICE,
)
TARE_OF_WATER = (Fraction(1, 5), Fraction(9, 5))  # an empty cylinder beside its water capacity: common practice


def sizes_of(kind: Kind) -> Sizes:
    if kind.small_receptacle:
        return CARTRIDGE
    return SINGLE_USE if kind.single_use else REFILLABLE


@dataclass(frozen=True)
class Vessel:
    """What is known of a container of refrigerant. content: by the book; nominal: what it came with; most: what it was
    recorded to hold at most so far; last_readability: of the scale of its last weighing. None: not known."""

    kind: str
    substance: str = ""
    content: int = 0
    nominal: int = 0
    most: int = 0
    tare: int | None = None
    water_capacity: int | None = None
    stamped_most: int | None = None
    last_readability: int | None = None

    @property
    def traits(self) -> Kind:
        return KINDS[self.kind]

    @property
    def sizes(self) -> Sizes:
        return sizes_of(self.traits)

    @property
    def largest(self) -> int:
        """The most that is recorded of it in any way."""
        return max(self.nominal, self.most, self.content)

    def holds(self, write: Write) -> list[Bound]:
        """Bounds of what can be in it. write: writes a mass."""
        if self.water_capacity:
            return self._by_water(self.water_capacity, write)
        if self.traits.single_use and self.largest:
            return self._by_label(write)
        likely, can = self.sizes.likely[1], self.sizes.can[1]
        if self.stamped_most:
            likely = self.stamped_most * 3 // 2
        found = [Bound(None, can, True, f"No container of its kind holds more than {write(can)}.", self.sizes.source)]
        return [*found, Bound(None, likely, False, f"Hardly one of its kind holds over {write(likely)}.", PRACTICE)]

    def _by_water(self, water: int, write: Write) -> list[Bound]:
        gas = refrigerants().get(self.substance)
        density = gas.liquid_density_25_kg_m3 if gas else None
        right = "If it is right, the water capacity that is kept of it is wrong: mend that first."
        if density is None:
            can, likely, source = HEAVIEST * COLDER, USUAL, f"the densities of the gases kept here; {PRACTICE}"
        else:
            likely = Fraction(density) / 1000
            cold = gas.critical_temperature_c is not None and gas.critical_temperature_c < 65
            can = likely * (COLDER_NEAR_CRITICAL if cold else COLDER)
            source = str(gas.sources["liquid_density_25_kg_m3"])
        most, full = int(can * water), int(likely * water)
        sure = f"Full of the coldest liquid it would hold {write(most)}."
        return [
            Bound(None, most, True, sure, source, right),
            Bound(None, full, False, f"Full of liquid at 25 °C it holds {write(full)}.", source),
        ]

    def _by_label(self, write: Write) -> list[Bound]:
        most, likely = int(self.largest * OVER_ANY_LABEL), int(self.largest * OVER_LABEL)
        came = f"It came with {write(self.nominal or self.largest)}, and nobody can fill it."
        right = "If it is right, the label or its tare was entered wrong: mend that first."
        return [Bound(None, most, True, came, PRACTICE, right), Bound(None, likely, False, came, PRACTICE)]

    def empty(self, write: Write) -> tuple[int, int, str]:
        """Least and most that it likely weighs empty, where its tare is not known, and why."""
        if self.water_capacity:
            least, most = (int(share * self.water_capacity) for share in TARE_OF_WATER)
            return least, most, f"Of its size, empty ones weigh {write(least)} to {write(most)}."
        if self.nominal:
            least, most = (int(share * self.nominal) for share in self.sizes.tare_share)
            if self.traits.refillable:  # it may have come with little in it
                most = max(most, self.sizes.tare[1])
            return (
                least,
                most,
                f"Beside {write(self.nominal)} of content, empty ones weigh {write(least)} to {write(most)}.",
            )
        least, most = self.sizes.tare
        return least, most, f"Of its kind, empty ones weigh {write(least)} to {write(most)}."


def writer(unit: str) -> Write:
    """How a mass is written to somebody who typed in that unit: g below 10 kg, else kg; oz below a pound, else lb."""
    if unit in {"oz", "lb"}:
        return lambda milligrams: show(milligrams, "lb" if abs(milligrams) >= POUND else "oz")
    return lambda milligrams: show(milligrams, "g")
