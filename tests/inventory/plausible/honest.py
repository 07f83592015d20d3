"""Honest readings, as shops take them: what was true, what the instrument showed, what was known beforehand.

Nothing here is taken from the limits of `inventory/plausible`: sizes, habits and mishaps are made up from the trade
(common practice, no source). Nothing is ever mistyped here; a slip is put in by `slipping.py`.
"""

import random
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from inventory.measures.tolerance import tolerance_mg
from inventory.measures.units import MASS_UNITS, VOLUME_UNITS
from inventory.plausible.expected import Known
from inventory.plausible.gauges import Pressure, Temperature, Vacuum
from inventory.plausible.masses import Amount, Net, Tare, Weight
from inventory.plausible.oils import OilVolume
from inventory.plausible.typed import Typed
from inventory.plausible.vessels import Vessel
from inventory.reference.properties import bubble_pressure

G, KG, LB = 1_000, 1_000_000, 453_592
GASES = ("R-134a", "R-1234yf", "R-12", "R-152a", "R-404A", "R-410A", "R-32", "R-290", "R-600a", "R-744")
DENSITY = dict(zip(GASES, (1.2, 1.09, 1.31, 0.9, 1.04, 1.06, 0.96, 0.49, 0.55, 0.71), strict=True))
PURE = ("R-134a", "R-1234yf", "R-12", "R-152a", "R-290", "R-600a", "R-32")  # whose saturation is quickly worked out


@dataclass(frozen=True)
class Case:
    """kind: of the table; resolution: a change up to that much does not matter. tare: of a gross weight."""

    kind: str
    known: Known
    typed: Typed
    resolution: float
    tare: int = 0

    @property
    def value(self) -> float:
        return self.known.value(self.typed.number, self.typed.unit)


@dataclass(frozen=True)
class Scale:
    unit: str
    step: Decimal

    @property
    def mg(self) -> int:
        return round(Fraction(self.step) * MASS_UNITS[self.unit].size)


def shown(rng: random.Random, value: float, step: Decimal, unit: str) -> Typed:
    """As a display has it; every third person leaves zeros at the end of the decimals off."""
    steps = round(value / float(step))
    number = (step * steps).quantize(step) if step < 1 else step * steps
    text = format(number, "f")
    if "." in text and rng.random() < 0.33:
        text = text.rstrip("0").rstrip(".")
    return Typed(Decimal(text), unit)


def pick(rng: random.Random, *choices: tuple[float, Callable[[], object]]) -> object:
    """One of some things, by their weights."""
    return rng.choices([make for _, make in choices], [weight for weight, _ in choices])[0]()


# -- containers: what is true of them, and what the book has ------------------------------------------------


@dataclass
class Thing:
    """A container as it is. vessel: as the book has it."""

    vessel: Vessel
    tare: int
    content: int
    scale: Scale
    weighed: bool  # before
    room: float = 0  # mg that it can still take, up to its last corner


SMALL = {
    False: [("g", "0.1"), ("g", "0.5"), ("g", "1"), ("g", "2"), ("kg", "0.001"), ("kg", "0.002")],
    True: [("oz", "0.05"), ("oz", "0.1"), ("oz", "0.5"), ("lb", "0.01")],
}
LARGE = {
    False: [("g", "1"), ("g", "2"), ("g", "5"), ("kg", "0.005"), ("kg", "0.01"), ("kg", "0.02"), ("kg", "0.05")],
    True: [("oz", "0.5"), ("lb", "0.01"), ("lb", "0.02"), ("lb", "0.05"), ("lb", "0.1")],
}


def scale(rng: random.Random, kinds: dict, pounds: bool) -> Scale:
    unit, step = rng.choice(kinds[pounds])
    return Scale(unit, Decimal(step))


def container(rng: random.Random) -> Thing:
    pounds = rng.random() < 0.45
    make = {"can": can, "disposable": disposable, "refillable": cylinder, "recovery": cylinder}
    kind = rng.choices(list(make), [35, 25, 20, 20])[0]
    return make[kind](rng, kind, pounds)


def can(rng: random.Random, kind: str, pounds: bool) -> Thing:
    nominal = rng.choice([340 * G, 340_194, 170_097, 226_796, 250 * G, 420 * G, 500 * G, 793_787, 900 * G])
    true = round(nominal * rng.gauss(1.005, 0.008))  # cans are filled a little over
    tare = round(nominal * rng.uniform(0.2, 0.42) + rng.uniform(15, 45) * G)
    return single_use(
        rng,
        (kind, rng.choice(("R-134a", "R-1234yf", "R-12", "R-152a", "R-600a"))),
        nominal,
        true,
        tare,
        scale(rng, SMALL, pounds),
    )


def disposable(rng: random.Random, kind: str, pounds: bool) -> Thing:
    nominal = rng.choice([4_535_924, 5 * KG, 6_803_886, 10_886_217, 11_339_809, 10 * KG, 12 * KG, 13_607_771])
    true = round(nominal * rng.gauss(1.001, 0.003))
    tare = round(nominal * rng.uniform(0.15, 0.24) + rng.uniform(0.7, 1.4) * KG)
    return single_use(rng, (kind, rng.choice(GASES[:7])), nominal, true, tare, scale(rng, LARGE, pounds))


def single_use(rng: random.Random, what: tuple, nominal: int, true: int, tare: int, on: Scale) -> Thing:
    kind, gas = what
    if rng.random() < 0.3:  # sealed, and never weighed
        vessel = Vessel(kind, gas, nominal, nominal, nominal)
        return Thing(vessel, tare, true, on, False)
    kept = tare + true - nominal  # its tare was taken at its first weighing
    content = round(true * share_left(rng))
    book = max(0, content - (true - nominal))
    vessel = Vessel(kind, gas, book, nominal, nominal, kept, None, None, on.mg)
    return Thing(vessel, tare, content, on, True)


def share_left(rng: random.Random) -> float:
    """Sealed, nearly full, in between, nearly empty."""
    return pick(
        rng, (35, lambda: 1.0), (15, lambda: rng.uniform(0.9, 1)), (35, rng.random), (15, lambda: rng.uniform(0, 0.06))
    )


def cylinder(rng: random.Random, kind: str, pounds: bool) -> Thing:
    gas = rng.choice(GASES)
    water = rng.choice([11_884_100, 21_591_000, 43_318_100, 12 * KG, 27 * KG, 61 * KG, 5 * KG, 12_500_000])
    tare = round(water * rng.uniform(0.42, 0.85) + rng.uniform(0.5, 2) * KG)
    if gas == "R-744":
        tare = round(water * rng.uniform(0.9, 1.3))
    most = water * DENSITY[gas] * 0.8
    content = round(
        most
        * pick(
            rng,
            (20, lambda: 0),
            (30, lambda: rng.uniform(0.8, 1.0)),
            (47, rng.random),
            (3, lambda: rng.uniform(1.0, 1.15)),
        )
    )
    on = scale(rng, LARGE, pounds)
    stamped = rng.random() < 0.75
    known = rng.random() < 0.85
    off = 0 if rng.random() < 0.7 else round(tare * rng.gauss(0, 0.006))  # a valve changed, paint, a cap
    seen = rng.random() < 0.8
    vessel = Vessel(
        kind,
        gas if content or kind == "refillable" else "",
        content,
        content,
        content,
        tare + off if known else None,
        water if stamped else None,
        None,
        on.mg if seen else None,
    )
    return Thing(vessel, tare, content, on, seen, most * 1.15 - content)


def mishap(rng: random.Random, thing: Thing) -> int:
    """What is really in it: mostly what the book has; some leak, or were used without a word; hardly one that is sealed
    and was never opened."""
    if not thing.content or (not thing.weighed and thing.vessel.nominal and rng.random() < 0.9):
        return thing.content
    return pick(
        rng,
        (95.5, lambda: thing.content),
        (2, lambda: round(thing.content * rng.uniform(0.85, 0.99))),
        (2, lambda: round(thing.content * rng.uniform(0, 0.85))),
        (0.5, lambda: round(thing.content * rng.uniform(0.97, 1.05))),
    )


def on_scale(rng: random.Random, thing: Thing, gross: float) -> Typed:
    """What the scale shows: its own error, and every seventh time a cap, frost or a hose."""
    step = thing.scale.mg
    gross += rng.gauss(0, step * 0.5)
    if rng.random() < 0.15:
        gross += rng.uniform(-1, 1) * min(80 * G, 2 * G + gross * 0.002)
    return shown(rng, max(0, gross) / float(MASS_UNITS[thing.scale.unit].size), thing.scale.step, thing.scale.unit)


def resolution(thing: Thing, gross: int) -> int:
    return tolerance_mg(max(0, gross), thing.scale.mg, max(0, gross), thing.scale.mg)


def weighing(rng: random.Random) -> Case:
    """A count, or the weight before a step."""
    thing = container(rng)
    gross = thing.tare + mishap(rng, thing)
    typed = on_scale(rng, thing, gross)
    capacity = rng.choice([None, 150 * KG, 200 * KG]) if thing.scale.mg > 900 else None
    known = Weight(thing.vessel, thing.scale.mg, capacity)
    kind = "known tare" if thing.vessel.tare is not None else "first weighing"
    return Case(f"{named(thing)}, {kind}", known, typed, resolution(thing, gross), thing.tare)


def named(thing: Thing) -> str:
    return {"can": "can", "disposable": "disposable"}.get(thing.vessel.kind, "cylinder")


LABELS = (
    (60, (350, 1100)),  # cars, g
    (15, (500, 3000)),  # split units
    (10, (80, 500)),  # refrigerators, hydrocarbons
    (15, (2000, 9000)),  # buses, coolers
)


def label(rng: random.Random) -> int:
    """The charge on a unit's label, in mg."""
    low, high = rng.choices([span for _, span in LABELS], [weight for weight, _ in LABELS])[0]
    return round(rng.uniform(low, high) / 10) * 10 * G


def after_charge(rng: random.Random) -> Case:
    thing = container(rng)
    while thing.content < 20 * G:
        thing = container(rng)
    before = max(0, thing.tare + mishap(rng, thing))
    inside = before - thing.tare
    full = label(rng)
    missing = round(full * rng.choice([1, 1, 1, rng.uniform(0.1, 1)]))  # after the cans before, or a top-up
    taken = pick(
        rng,
        (60, lambda: missing * rng.uniform(0.96, 1.04)),
        (22, lambda: missing * rng.uniform(0.05, 0.9)),
        (6, lambda: missing * rng.uniform(1.0, 1.2)),
        (12, lambda: inside),
    )
    heel = inside * rng.uniform(0, 0.04)
    taken = min(taken, inside - heel)
    if taken == inside - heel and taken > missing * 1.2:
        taken = min(taken, missing)
    gross = before - taken
    typed = on_scale(rng, thing, gross)
    read_before = before + round(rng.gauss(0, thing.scale.mg * 0.3))
    named_label = rng.random() < 0.8
    known = Weight(
        thing.vessel,
        thing.scale.mg,
        None,
        read_before,
        "out",
        round(missing * 0.97) if named_label else None,
        round(missing * 1.03) if named_label else None,
    )
    return Case("after a charge", known, typed, resolution(thing, round(gross)), thing.tare)


def after_recovery(rng: random.Random) -> Case:
    thing = cylinder(rng, "recovery", rng.random() < 0.45)
    while thing.room < 3 * KG:
        thing = cylinder(rng, "recovery", rng.random() < 0.45)
    before = thing.tare + thing.content
    room = thing.room
    full = label(rng)
    while full * 1.5 > room:
        full = label(rng)
    share = pick(
        rng,
        (50, lambda: rng.uniform(0.4, 1.02)),
        (30, lambda: rng.uniform(0.02, 0.5)),
        (15, lambda: rng.uniform(0.95, 1.05)),
        (5, lambda: rng.uniform(1.05, 1.5)),
    )
    gross = before + full * share
    typed = on_scale(rng, thing, gross)
    named_label = full if rng.random() < 0.75 else None
    read_before = before + round(rng.gauss(0, thing.scale.mg * 0.3))
    known = Weight(thing.vessel, thing.scale.mg, None, read_before, "in", None, named_label)
    return Case("after a recovery", known, typed, resolution(thing, round(gross)), thing.tare)


def machine(rng: random.Random) -> Case:
    """A quantity that a service machine shows, or what is in its tank."""
    unit, step = rng.choice(
        [("g", "1"), ("g", "5"), ("kg", "0.01"), ("kg", "0.001"), ("oz", "0.5"), ("lb", "0.01"), ("lb", "0.02")]
    )
    tank = round(rng.uniform(0.5, 18) * KG)
    vessel = Vessel("machine", "R-134a", tank, 0, 18 * KG, None, 22 * KG)
    full = label(rng)
    while full > 3 * KG or full > tank:
        full, tank = label(rng), round(rng.uniform(2, 18) * KG)
        vessel = Vessel("machine", "R-134a", tank, 0, 18 * KG, None, 22 * KG)
    what = rng.choice(["charge", "recover", "shown"])
    if what == "shown":
        value = tank * rng.choice([1, 1, 1, 1, 1, rng.gauss(1, 0.02), rng.gauss(1, 0.02), rng.uniform(0.7, 1.1)])
        known = Amount(what, vessel)
    elif what == "charge":
        value = pick(
            rng,
            (75, lambda: full * rng.uniform(0.97, 1.03)),
            (20, lambda: full * rng.uniform(0.1, 0.95)),
            (5, lambda: full * rng.uniform(1.0, 1.2)),
        )
        known = Amount(what, vessel, *([full, full] if rng.random() < 0.85 else []))
    else:
        value = full * pick(
            rng,
            (55, lambda: rng.uniform(0.4, 1.02)),
            (32, lambda: rng.uniform(0.01, 0.5)),
            (8, lambda: rng.uniform(0.95, 1.05)),
            (5, lambda: rng.uniform(1.05, 1.5)),
        )
        known = Amount(what, vessel, *([full, full] if rng.random() < 0.85 else []))
    typed = shown(rng, value / float(MASS_UNITS[unit].size), Decimal(step), unit)
    return Case("service machine", known, typed, round(15 * G + 0.005 * value))


def delivery(rng: random.Random) -> Case:
    sizes = {
        "can": [
            ("12", "oz"),
            ("340", "g"),
            ("6", "oz"),
            ("8", "oz"),
            ("28", "oz"),
            ("250", "g"),
            ("500", "g"),
            ("420", "g"),
            ("0.9", "kg"),
            ("2", "oz"),
        ],
        "disposable": [
            ("30", "lb"),
            ("25", "lb"),
            ("24", "lb"),
            ("10", "lb"),
            ("13.6", "kg"),
            ("12", "kg"),
            ("10", "kg"),
            ("5", "kg"),
            ("11.3", "kg"),
            ("15", "lb"),
            ("1", "kg"),
            ("6.5", "kg"),
        ],
        "refillable": [
            ("12", "kg"),
            ("22", "kg"),
            ("61", "kg"),
            ("9", "kg"),
            ("50", "lb"),
            ("125", "lb"),
            ("54", "kg"),
            ("10", "kg"),
            ("20", "kg"),
            ("57.5", "kg"),
        ],
    }
    kind = rng.choice(list(sizes))
    number, unit = rng.choice(sizes[kind])
    value = Net(kind).value(Decimal(number), unit)
    before = [Net(kind).value(Decimal(n), u) for n, u in rng.sample(sizes[kind], 2)]
    known = pick(rng, (60, lambda: (value, *before)), (15, lambda: tuple(before)), (25, lambda: ()))
    return Case("delivery, net", Net(kind, known), Typed(Decimal(number), unit), value * 0.01)


def stamp(rng: random.Random) -> Case:
    thing = cylinder(rng, "recovery", rng.random() < 0.45)
    vessel = Vessel("recovery", water_capacity=thing.vessel.water_capacity)
    unit = rng.choice(["kg", "lb"])
    step = Decimal("0.1") if unit == "lb" else Decimal("0.01")
    typed = shown(rng, thing.tare / float(MASS_UNITS[unit].size), step, unit)
    return Case("stamped tare", Tare(vessel), typed, thing.tare * 0.005)


def oil(rng: random.Random) -> Case:
    what = rng.choice(["add", "drain", "level", "bought"])
    unit = rng.choice(["mL", "mL", "fl oz"])
    step = Decimal("1") if unit == "mL" else Decimal("0.1")
    bottle = rng.choice([237, 250, 500, 946, 1000])
    if what == "bought":
        size = rng.choice(
            [
                ("8", "fl oz"),
                ("250", "mL"),
                ("237", "mL"),
                ("1", "L"),
                ("946", "mL"),
                ("5", "L"),
                ("500", "mL"),
                ("32", "fl oz"),
                ("50", "mL"),
            ]
        )
        value = OilVolume(what).value(Decimal(size[0]), size[1])
        before = (value,) if rng.random() < 0.6 else ()
        return Case("oil", OilVolume(what, sizes=before), Typed(Decimal(size[0]), size[1]), value * 0.01)
    left = rng.randint(60, bottle)
    if what == "add":
        asked = rng.choice([5, 10, 20, 30, 60, 90, 120])
        value = min(left, max(4, asked * rng.uniform(0.8, 1.2)))
        unit, step = ("mL", Decimal(1)) if value < 10 else (unit, step)
        known = OilVolume(what, left * G, bottle * G, *([asked * 800, asked * 1200] if rng.random() < 0.7 else []))
    elif what == "drain":
        value = pick(rng, (70, lambda: rng.uniform(0, 40)), (30, lambda: rng.uniform(30, 240)))
        known = OilVolume(what)
    else:
        value = max(0, left + rng.gauss(0, 5)) if rng.random() < 0.93 else rng.uniform(0, left)
        known = OilVolume(what, left * G, bottle * G)
    typed = shown(rng, value * G / float(VOLUME_UNITS[unit].size), step, unit)
    return Case("oil", known, typed, 10 * G if what == "level" else max(2 * G, value * G * 0.05))


# -- instruments -------------------------------------------------------------------------------------------


def air(rng: random.Random) -> tuple[float, float]:
    """Pressure of the air that the shop's altitude says, and as it is on the day and at the place of the work."""
    metres = pick(
        rng,
        (60, lambda: rng.uniform(0, 250)),
        (30, lambda: rng.uniform(250, 1700)),
        (10, lambda: rng.uniform(1700, 3000)),
    )
    standard = 101_325 * (1 - 0.0065 * metres / 288.15) ** 5.25588
    return standard, standard * rng.gauss(1, 0.007)


def outside(rng: random.Random) -> tuple[float, list[float]]:
    """The air about the work in °C, and what was read in the weeks before: out of doors, or in a heated shop."""
    season = rng.choice([rng.uniform(-8, 12), rng.uniform(8, 24), rng.uniform(20, 38)])

    def one() -> float:
        heated = season < 15 and rng.random() < 0.5
        return rng.uniform(16, 23) if heated else min(47.0, rng.gauss(season, 4))

    return one(), [one() for _ in range(6)]


def temperature(rng: random.Random) -> Case:
    ambient, before = outside(rng)
    recent = (round(min(before), 1), round(max(before), 1)) if rng.random() < 0.75 else None
    what = rng.choices(["ambient", "vent", "engine"], [60, 30, 10])[0]
    if what == "ambient":
        value, known = ambient, Temperature(what, recent=recent)
    elif what == "vent":
        cooling = max(2.0, ambient - rng.uniform(12, 28))
        value = pick(
            rng,
            (62, lambda: min(cooling, rng.uniform(2, 14))),
            (25, lambda: cooling),
            (12, lambda: ambient - rng.uniform(0, 8)),
            (1, lambda: rng.uniform(30, 55)),
        )
        known = Temperature(what, ambient_c=ambient if rng.random() < 0.85 else None)
    else:
        value, known = rng.uniform(15, 112), Temperature(what)
    unit = rng.choice(["°C", "°C", "°F"])
    number = value * 1.8 + 32 if unit == "°F" else value
    return Case("temperature", known, shown(rng, number, Decimal(rng.choice(["1", "0.1", "0.5"])), unit), 1.5)


def pressure(rng: random.Random) -> Case:
    ambient, _ = outside(rng)
    standard, today = air(rng)
    gas = rng.choices(PURE, [45, 25, 4, 6, 6, 4, 10])[0]
    what = rng.choice(["static", "low", "high"])

    def saturated(celsius: float) -> float:
        return bubble_pressure(gas, round(min(celsius, 70), 0))

    if what == "static":
        value = pick(
            rng,
            (58, lambda: saturated(ambient + rng.uniform(-3, 3))),
            (14, lambda: saturated(ambient + rng.uniform(5, 25))),
            (18, lambda: rng.uniform(today, saturated(ambient))),
            (5, lambda: today),
            (5, lambda: saturated(ambient) + rng.uniform(0.2e5, 1.5e5)),
        )
    elif what == "low":
        value = pick(
            rng,
            (85, lambda: saturated(rng.uniform(-12, 12))),
            (10, lambda: saturated(rng.uniform(-30, -12))),
            (5, lambda: saturated(ambient)),
        )
    else:
        value = pick(rng, (90, lambda: saturated(ambient + rng.uniform(6, 28))), (10, lambda: saturated(ambient + 2)))
    unit, pascal, step = rng.choice(
        [
            ("psi", 6894.757, "1"),
            ("psi", 6894.757, "5"),
            ("bar", 1e5, "0.1"),
            ("bar", 1e5, "0.05"),
            ("kPa", 1e3, "10"),
            ("MPa", 1e6, "0.01"),
        ]
    )
    typed = shown(rng, (value - today) / pascal, Decimal(step), unit)
    known = Pressure(what, standard, gas, round(ambient, 1) if rng.random() < 0.8 else None)
    return Case("pressure", known, typed, 0.3e5)


def deep(rng: random.Random) -> float:
    """micron that an electronic gauge shows: mostly a few hundred, of a wet or leaking unit thousands."""
    return rng.uniform(1500, 6000) if rng.random() < 0.02 else max(30, rng.lognormvariate(6.1, 0.6))


def vacuum(rng: random.Random) -> Case:
    standard, today = air(rng)
    instrument = rng.choices(["micron", "mbar", "Pa", "kPa", "inHg"], [45, 18, 5, 4, 28])[0]
    needle = instrument == "inHg"
    reached = rng.uniform(0.2, 2.2) * 3386 if needle else deep(rng) * 0.133322
    what = rng.choice(["reached", "start", "end"])
    start = reached
    if what == "end":
        held = pick(
            rng,
            (60, lambda: 1 + rng.random() * 0.5),
            (30, lambda: rng.uniform(1.2, 3)),
            (10, lambda: rng.uniform(3, 200)),
        )
        reached = min(today, start * held if not needle else start + (held - 1) * 1000)
    sizes = {"micron": 0.133322, "mbar": 100.0, "Pa": 1.0, "kPa": 1000.0, "inHg": 3386.389}
    value = (today - reached if needle else reached) / sizes[instrument]
    steps = {"micron": "1", "mbar": "0.01", "Pa": "1", "kPa": "0.001", "inHg": rng.choice(["0.1", "0.25", "0.5"])}
    if instrument == "micron" and value > 1000:
        steps["micron"] = "10"
    typed = shown(rng, max(0, value), Decimal(steps[instrument]), instrument)
    begun = None
    if what == "end":
        begun = max(0.0, standard - (today - start)) if needle else start
        begun = begun if rng.random() < 0.9 else None
    return Case("vacuum", Vacuum(what, standard, begun), typed, 700 if needle else max(5, reached * 0.1))


MAKERS = (
    (22, weighing),
    (16, after_charge),
    (10, after_recovery),
    (9, machine),
    (6, delivery),
    (3, stamp),
    (8, oil),
    (9, temperature),
    (9, pressure),
    (8, vacuum),
)


def readings(seed: int, number: int) -> list[Case]:
    """The same for the same seed."""
    rng = random.Random(seed)
    made = rng.choices([make for _, make in MAKERS], [weight for weight, _ in MAKERS], k=number)
    return [make(rng) for make in made]
