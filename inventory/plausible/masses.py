"""Weights as they are read off a scale, and quantities of refrigerant that are typed without one. Pure: no Django here.

All values are whole mg.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from inventory.measures.tolerance import tolerance_mg
from inventory.measures.units import MASS_UNITS
from inventory.plausible.expected import PRACTICE, Band, Bound, Expected, Known, Other, whole
from inventory.plausible.typed import Typed
from inventory.plausible.vessels import KG, Vessel, Write, sizes_of, writer
from inventory.reference.kinds import KINDS

IN, OUT = "in", "out"


class Mass(Known):
    """Anything in grams, kilograms, ounces or pounds."""

    symbols: Mapping[str, str] = {unit.lower(): unit for unit in MASS_UNITS}
    mistaken: Mapping[str, tuple[str, ...]] = {
        "mg": ("g",),
        "g": ("kg", "oz"),
        "kg": ("g", "lb"),
        "oz": ("g", "lb"),
        "lb": ("kg", "oz"),
    }

    def value(self, number: Decimal, unit: str) -> int:
        return whole(number, MASS_UNITS[unit].size)


# What a weighing may be off beside what its scale tells: caps, frost, a hose that hangs on it, another scale, a tare
# as it is stamped. Each is common practice, no source; the measurement in tests/inventory/plausible set them.
BESIDE_MG, BESIDE_SHARE = 3_000, Fraction(1, 250)
ABOUT_SHARE = Fraction(1, 25)  # what a stamped tare, or a little that nobody wrote down, may be off of the whole
TARE_OFF_MG, TARE_OFF_SHARE = 20_000, Fraction(1, 25)
# Far below the empty weight it is no such container at all.
NO_SUCH = Fraction(2, 3)
# A scale shows nothing above its capacity and nine of its steps: OIML R 76-1, limits of indication (from memory).
STEPS_OVER = 9
# How much more than its label asks for a unit is given, or gives: some are overfilled. Common practice, no source.
OVER_CHARGE, OVER_RECOVERED, OVER_MG = Fraction(5, 4), Fraction(8, 5), 100_000
# Of what a unit is to get, or holds by its label, so much is usual in one go.
USUAL_CHARGE, USUAL_RECOVERED = (Fraction(9, 10), Fraction(11, 10)), (Fraction(3, 10), Fraction(11, 10))
# Less than that is honest often enough that only a reading so many times off is doubted (see Band): a charge goes on in
# parts, and units that come for repair are mostly near empty. Common practice, no source.
PART_CHARGED, PART_RECOVERED = 4, 30
HEEL_SHARE, HEEL_MG = Fraction(6, 100), 20_000  # left in one that was emptied: see heel.py of inventory/containers
LITTLE = 2 * KG  # what a unit without a label takes to the last gram: common practice, no source
MOST_WITHOUT_LABEL = 40 * KG  # what one unit of a shop takes or gives, where nothing says what: common practice


@dataclass(frozen=True)
class Weight(Mass):
    """A gross weight. readability: of the scale; capacity: the most it weighs. before: the weight before, where this
    is the one after. moved: `out` after taking out, `in` after filling. least, most: what the step wants moved, such
    as what is missing to the least and the most on the unit's label (in: what its label says). counted: it is read to
    find out how far the book is off, so nothing is doubted because of what the book has in it."""

    vessel: Vessel
    readability: int
    capacity: int | None = None
    before: int | None = None
    moved: str = ""
    least: int | None = None
    most: int | None = None
    counted: bool = False

    def __post_init__(self) -> None:
        if (self.before is not None) != (self.moved in {IN, OUT}):
            raise ValueError("A weight after says what was moved, in or out, and what it was before; no other does.")

    @property
    def tare(self) -> int | None:
        """As it is kept, or as it will be taken from the weight before."""
        if self.vessel.tare is not None or self.before is None:
            return self.vessel.tare
        return self.before - self.vessel.content if self.before > self.vessel.content else None

    def expects(self, unit: str) -> Expected:
        write = writer(unit)
        bounds = [*self._of_scale(write), *self._of_vessel(write)]
        if self.before is None:
            return Expected(tuple(bounds), self._as_booked(write))
        return Expected((*bounds, *self._beside_before(write)), self._as_wanted(write))

    def besides(self, typed: Typed) -> Iterator[Other]:
        """The net typed for the gross."""
        if self.tare:
            value = self.value(typed.number, typed.unit) + self.tare
            gross = Typed.quantity(value, typed.unit, typed.style).as_fine_as(typed)
            yield Other("tare", gross, self.value(gross.number, gross.unit))

    def _of_scale(self, write: Write) -> Iterator[Bound]:
        yield Bound(0, None, True, "Nothing weighs less than nothing.", "physics", "Set the scale to zero.")
        if self.capacity:
            most = self.capacity + STEPS_OVER * self.readability
            why = f"The scale weighs up to {write(self.capacity)} and shows nothing above."
            right = "If another scale was used, name that one."
            yield Bound(None, most, True, why, "OIML R 76-1, limits of indication (from memory)", right)

    def _of_vessel(self, write: Write) -> Iterator[Bound]:
        tare = self.tare
        if tare is None:
            yield from self._without_tare(write)
            return
        weighs = f"It weighs {write(tare)} when it is empty."
        right = "If it is right, the tare that is kept is wrong: correct that first."
        slack = _slack(tare, self.readability, self.readability)
        yield Bound(int(tare * NO_SUCH), None, True, weighs, "its tare as it is kept", right)
        less = max(2 * slack, TARE_OFF_MG + int(tare * TARE_OFF_SHARE) if tare > KG else tare // 10)
        yield Bound(tare - less, None, False, weighs, "its tare as it is kept", right)
        for one in self.vessel.holds(write):
            yield Bound(None, tare + one.most + slack, one.sure, one.why, one.source, one.right)
        if self.vessel.traits.single_use and self.vessel.largest and self.before is None and not self.counted:
            most = tare + self.vessel.content + max(4 * slack, self.vessel.largest // 20)
            why = f"By the book it weighs {write(tare + self.vessel.content)}, and nobody can fill it."
            yield Bound(None, most, False, why, PRACTICE)

    def _without_tare(self, write: Write) -> Iterator[Bound]:
        if self.before is not None:
            return
        content = self.vessel.content
        least, most, why = self.vessel.empty(write)
        if content:
            booked = f"The book says that {write(content)} are in it, which leaves nothing for the container."
            yield Bound(content, None, True, booked, "the book", "If it is right, mend what it came with first.")
        yield Bound(content + least, content + most, False, why, PRACTICE)

    def _as_booked(self, write: Write) -> tuple[Band, ...]:
        if self.vessel.tare is None or self.counted:
            return ()
        implied = self.vessel.tare + self.vessel.content
        slack = _slack(implied, self.readability, self.vessel.last_readability)
        why = f"By the book it weighs {write(implied)}."
        about = slack + int(max(0, implied) * ABOUT_SHARE)
        return (
            Band(implied - slack, implied + slack, why, "its tare and the book", True),
            Band(implied - about, implied + about, why, "its tare and the book", times=2),
        )

    def _beside_before(self, write: Write) -> Iterator[Bound]:
        """What cannot be, and what is not likely, beside the weight before."""
        before = self.before
        slack = tolerance_mg(before, self.readability, before, self.readability)
        weighed, right = f"It weighed {write(before)} before.", "If it is right, the weight before is wrong."
        if self.moved == OUT:
            yield Bound(None, before + slack, True, f"{weighed} Nothing went in.", "the weight before", right)
            if self.most is not None:
                most = _over(self.most, OVER_CHARGE)
                why = f"{weighed} The unit is to get {write(max(0, self.most))}."
                yield Bound(before - most, None, False, why, PRACTICE)
            else:
                why = f"{weighed} Hardly a unit takes over {write(MOST_WITHOUT_LABEL)}."
                yield Bound(before - MOST_WITHOUT_LABEL, None, False, why, PRACTICE)
            return
        yield Bound(before - slack, None, True, f"{weighed} Nothing was taken out.", "the weight before", right)
        most = MOST_WITHOUT_LABEL if self.most is None else _over(self.most, OVER_RECOVERED)
        holds = "" if self.most is None else f" The unit holds {write(self.most)} by its label."
        yield Bound(None, before + most, False, f"{weighed}{holds}", PRACTICE)

    def _as_wanted(self, write: Write) -> tuple[Band, ...]:
        """Where the weight after mostly is: the unit got what was missing, or the container gave what it had."""
        before, found = self.before, []
        least, most = self.least if self.least is not None else self.most, self.most
        if most is not None and most > 0:
            shares = USUAL_CHARGE if self.moved == OUT else USUAL_RECOVERED
            low, high = int(max(0, least) * shares[0]), int(most * shares[1])
            ends = (before - high, before - low) if self.moved == OUT else (before + low, before + high)
            why = f"It weighed {write(before)} before, and {_span(least, most, write)} is the unit's."
            found.append(Band(*ends, why, PRACTICE))
        wanted = LITTLE if most is None else _over(most, OVER_CHARGE)
        if self.moved == OUT and self.tare is not None and before - self.tare <= wanted:
            slack = _slack(self.tare, self.readability, self.readability)
            left = max(HEEL_MG, int(self.vessel.content * HEEL_SHARE))
            why = f"It weighs {write(self.tare)} when it is empty."
            found.append(
                Band(self.tare - slack, self.tare + left + slack, why, "its tare as it is kept", times=PART_CHARGED)
            )
        return tuple(found)


CHARGE, RECOVER, LOSS, SHOWN, PASSED = "charge", "recover", "loss", "shown", "passed"


@dataclass(frozen=True)
class Amount(Mass):
    """A net quantity that was not weighed here. what: charge or recover, as a machine showed it; loss, of a hose;
    shown, what a machine says is in its tank; passed, what left a container otherwise than into a unit. least, most: as
    in Weight."""

    what: str
    vessel: Vessel | None = None
    least: int | None = None
    most: int | None = None

    def __post_init__(self) -> None:
        if self.what == SHOWN and self.vessel is None:
            raise ValueError("What a machine shows of its tank is judged beside what the book has of it.")

    def expects(self, unit: str) -> Expected:
        bounds = [Bound(0, None, True, "A quantity is not less than nothing.", "physics")]
        write = writer(unit)
        bounds += self._of_vessel(write) if self.vessel else []
        if self.what == LOSS:
            bounds.append(Bound(None, 300_000, False, "A hose holds up to 300 g.", PRACTICE))
        elif self.what not in {SHOWN, PASSED}:
            over = OVER_CHARGE if self.what == CHARGE else OVER_RECOVERED
            most = MOST_WITHOUT_LABEL if self.most is None else _over(self.most, over)
            holds = (
                f"Hardly a unit takes over {write(most)}."
                if self.most is None
                else f"The unit's is {write(self.most)}."
            )
            bounds.append(Bound(None, most, False, holds, PRACTICE))
        return Expected(tuple(bounds), self._near(write))

    def _of_vessel(self, write: Write) -> list[Bound]:
        vessel = self.vessel
        if self.what in {CHARGE, PASSED}:
            if not vessel.traits.single_use:
                booked = f"The book says that {write(vessel.content)} are in it."
                most = _over(vessel.content, OVER_CHARGE)
                return [*vessel.holds(write), Bound(None, most, False, booked, "the book")]
            most = vessel.largest * 5 // 4
            why = f"It was never recorded to hold more than {write(vessel.largest)}."
            return [Bound(None, most, True, why, PRACTICE, "Weigh the container first.")]
        return [
            Bound(None, max(0, one.most - (vessel.content if self.what == RECOVER else 0)), *_rest(one))
            for one in vessel.holds(write)
        ]

    def _near(self, write: Write) -> tuple[Band, ...]:
        if self.what == SHOWN:
            content = self.vessel.content
            slack = max(50_000, content // 25)
            why = f"The book says that {write(content)} are in it."
            return (Band(content - slack, content + slack, why, "the book", True),)
        if self.what == LOSS or not self.most or self.most < 0:
            return ()
        charged = self.what == CHARGE
        shares, times = (USUAL_CHARGE, PART_CHARGED) if charged else (USUAL_RECOVERED, PART_RECOVERED)
        least = self.least if self.least is not None else self.most
        low, high = int(max(0, least) * shares[0]), int(self.most * shares[1])
        return (Band(low, high, f"{_span(least, self.most, write)} is the unit's.", PRACTICE, times=times),)


@dataclass(frozen=True)
class Net(Mass):
    """The net content of each container of a delivery. sizes: of the same kind and gas that came before."""

    kind: str
    sizes: tuple[int, ...] = ()

    def expects(self, unit: str) -> Expected:
        write, sort = writer(unit), sizes_of(KINDS[self.kind])
        known = f"One of its kind holds {write(sort.likely[0])} to {write(sort.likely[1])}."
        most = f"None of its kind holds less than {write(sort.can[0])} or more than {write(sort.can[1])}."
        if any(not sort.likely[0] <= size <= sort.likely[1] for size in self.sizes):
            known = ""  # the shop has others
        bounds = [Bound(*sort.can, True, most, sort.source, "Check the kind of container.")]
        bounds += [Bound(*sort.likely, False, known, sort.source)] if known else []
        bands = (
            Band(size - size // 50, size + size // 50, f"{write(size)} came before.", "the book")
            for size in sorted(set(self.sizes))
        )
        return Expected(tuple(bounds), tuple(bands))


@dataclass(frozen=True)
class Tare(Mass):
    """The empty weight of a container, as it is stamped or typed. gross: it weighed at last, with what the book has."""

    vessel: Vessel
    gross: int | None = None

    def expects(self, unit: str) -> Expected:
        write = writer(unit)
        least, most, why = self.vessel.empty(write)
        bounds = [Bound(1, None, True, "A container weighs something.", "physics")]
        if self.gross is not None:
            whole = f"It weighed {write(self.gross)} with all that was in it."
            bounds.append(Bound(None, self.gross, True, whole, "its last weighing", "Weigh it again first."))
        bounds.append(Bound(least, most, False, why, PRACTICE))
        bands = ()
        if self.vessel.tare:
            off = TARE_OFF_MG + int(self.vessel.tare * TARE_OFF_SHARE)
            why = f"{write(self.vessel.tare)} is kept."
            bands = (Band(self.vessel.tare - off, self.vessel.tare + off, why, "its tare as it is kept"),)
        return Expected(tuple(bounds), bands)


def _slack(gross: int, readability: int, last_readability: int | None) -> int:
    gross = max(0, gross)
    weighing = tolerance_mg(gross, readability, gross, last_readability or readability)
    return weighing + BESIDE_MG + int(gross * BESIDE_SHARE)


def _over(wanted: int, share: Fraction) -> int:
    return int(max(0, wanted) * share) + OVER_MG


def _span(least: int, most: int, write: Write) -> str:
    return write(most) if least == most else f"{write(max(0, least))} to {write(most)}"


def _rest(bound: Bound) -> tuple[bool, str, str, str]:
    return bound.sure, bound.why, bound.source, bound.right
