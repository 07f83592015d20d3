"""Temperatures, pressures and vacuums as they are read off an instrument. Pure: no Django here.

Temperatures are degrees Celsius, pressures Pa absolute, as a job keeps them. The pressure of the air comes with what is
known: the shop's altitude says it.
"""

from dataclasses import dataclass
from decimal import Decimal

from inventory.measures.pressure import KPA
from inventory.plausible.expected import MEMORY, PRACTICE, Band, Bound, Expected, Known
from inventory.reference.properties import PropertyUnavailable, bubble_pressure, dew_pressure

ABSOLUTE_ZERO_C = -273.15
AMBIENT, VENT, ENGINE = "ambient", "vent", "engine"

# (least and most that can be, least and most that are likely, why)
TEMPERATURES = {
    AMBIENT: ((-90.0, 60.0), (-30.0, 48.0), "Work is done at -30 to 48 °C."),
    VENT: ((-90.0, 100.0), (-8.0, 35.0), "A vent blows at -8 to 35 °C, or as warm as the air about the unit."),
    ENGINE: ((-90.0, 400.0), (-40.0, 130.0), "A line or a part near an engine is at -40 to 130 °C."),
}
AIR_RECORDS = f"the air's records of -89.2 and 56.7 °C ({MEMORY})"
DAYS_APART_K = 8.0  # how much warmer or colder than the readings before a day may be: common practice
HEATED_C, HEATS_BELOW_C = 60.0, 15.0  # °C at a vent of one that heats, which it does in cold air: common practice
COLD_AIR = (1.0, 18.0)  # °C at a vent of a unit that cools: common practice


@dataclass(frozen=True)
class Temperature(Known):
    """what: ambient (of the air where the work is), vent, engine (a line or part near one). ambient_c: of the air,
    where it is known. recent: the least and most of the same kind that the shop read in the last weeks, None where
    there are fewer than five."""

    what: str
    ambient_c: float | None = None
    recent: tuple[float, float] | None = None

    symbols = {"°c": "°C", "c": "°C", "°f": "°F", "f": "°F", "k": "K"}
    mistaken = {"°C": ("°F", "K"), "°F": ("°C",), "K": ("°C",)}

    def value(self, number: Decimal, unit: str) -> float:
        if unit == "°F":
            return float((number - 32) * 5 / 9)
        return float(number + Decimal(str(ABSOLUTE_ZERO_C))) if unit == "K" else float(number)

    def expects(self, unit: str) -> Expected:
        can, (least, most), why = TEMPERATURES[self.what]
        if self.what == VENT and self.ambient_c is not None:
            least = min(least, self.ambient_c - 5)
            most = HEATED_C if self.ambient_c < HEATS_BELOW_C else self.ambient_c + 5
            why = f"In air of {self.ambient_c:.1f} °C a vent blows at {least:.0f} to {most:.0f} °C."
        bounds = (
            Bound(ABSOLUTE_ZERO_C, None, True, "Nothing is colder than -273.15 °C.", "the definition of the kelvin"),
            Bound(*can, True, f"It cannot be outside {can[0]:g} to {can[1]:g} °C.", AIR_RECORDS),
            Bound(least, most, False, why, PRACTICE),
        )
        return Expected(bounds, tuple(self._near()))

    def _near(self) -> list[Band]:
        if self.recent is not None and self.what != ENGINE:
            least, most = self.recent
            why = f"Lately it was {least:g} to {most:g} °C."
            return [Band(least - DAYS_APART_K, most + DAYS_APART_K, why, "the shop's readings")]
        if self.what == VENT and self.ambient_c is not None and self.ambient_c >= COLD_AIR[1]:
            return [
                Band(*COLD_AIR, f"The air is at {self.ambient_c:.1f} °C, and a unit that cools blows colder.", PRACTICE)
            ]
        return []


PASCALS = {"psi": float(KPA["psi"] * 1000), "bar": 1e5, "kPa": 1e3, "MPa": 1e6}
STATIC, LOW, HIGH, TEST = "static", "low", "high", "test"
HOT_K = 35.0  # how much warmer than the air a unit beside a hot engine can stand, and a condenser run: common practice
STANDS_K = 10.0  # within so many kelvin of the air a unit mostly stands: common practice; the plan's own limit is 3
# Units at rest are nearly empty often enough that a little less says nothing (see Band); running ones seldom are.
TIMES = {STATIC: 3, LOW: 2, HIGH: 1}
MOST_LIKELY_PA, MOST_PA = 50e5, 400e5  # without any gas known; nothing in the trade is built for more
NOT_KNOWN_C = (-20.0, 45.0)


@dataclass(frozen=True)
class Pressure(Known):
    """A gauge reading above the air's. what: static, low, high (side of a running unit), test (with nitrogen).
    air_pa: pressure of the air at the shop; ambient_c: of the air about the unit, None where it is not known."""

    what: str
    air_pa: float
    substance: str = ""
    ambient_c: float | None = None

    symbols = {one.lower() + suffix: one for one in PASCALS for suffix in ("", "g")}
    mistaken = {
        "psi": ("bar", "kPa"),
        "bar": ("psi", "kPa"),  # a little in bar is too often honest to be doubted for MPa, which few gauges show
        "kPa": ("psi", "bar"),
        "MPa": ("bar", "psi"),
    }

    def value(self, number: Decimal, unit: str) -> float:
        return float(number) * PASCALS[unit] + self.air_pa

    def expects(self, unit: str) -> Expected:
        bounds = [
            Bound(0.0, None, True, "No pressure is less than none at all.", "physics"),
            Bound(None, MOST_PA, True, "Nothing in the trade is built for more than 400 bar.", PRACTICE),
        ]
        cold, hot = (self.ambient_c, self.ambient_c) if self.ambient_c is not None else NOT_KNOWN_C
        if self.what == TEST:
            bounds.append(Bound(None, MOST_LIKELY_PA, False, "Leak tests are done at up to 50 bar.", PRACTICE))
            return Expected(tuple(bounds), ())
        most = self._saturated(hot + HOT_K if self.what != LOW else hot + STANDS_K, bubble_pressure)
        why = "No unit stands at more than 150 bar." if most is None else self._at(most, hot)
        # A little air or nitrogen in it adds to the saturation pressure: 2 bar, common practice.
        most = MOST_LIKELY_PA * 3 if most is None else most + 2e5
        least = self.air_pa * 0.1 if self.what != LOW else 0.0
        bounds.append(Bound(least, most, False, why, f"saturation pressures by CoolProp; {PRACTICE}"))
        return Expected(tuple(bounds), self._near(cold, hot))

    def _at(self, most: float, hot: float) -> str:
        return (
            f"{self.substance} at {hot:g} °C, hot as the unit may be, stands at {most / 1e5:.1f} bar absolute at most."
        )

    def _near(self, cold: float, hot: float) -> tuple[Band, ...]:
        if self.what == LOW:
            ends, what = (-24.0, max(18.0, hot + 3)), f"The low side with {self.substance} mostly runs"
        elif self.what == HIGH:
            ends, what = (cold, hot + HOT_K), f"The high side with {self.substance} mostly runs"
        else:
            ends, what = (cold - STANDS_K, hot + STANDS_K), f"{self.substance} with liquid in it stands"
        low, high = self._saturated(ends[0], dew_pressure), self._saturated(ends[1], bubble_pressure)
        if low is None or high is None:
            return ()
        gauge = f"{(low - self.air_pa) / 1e5:.1f} to {(high - self.air_pa) / 1e5:.1f} bar"
        return (Band(low, high, f"{what} at {gauge}.", "saturation pressures by CoolProp", times=TIMES[self.what]),)

    def _saturated(self, celsius: float, pressure) -> float | None:
        """At whole degrees, so that the same state is worked out once."""
        try:
            return pressure(self.substance, round(celsius))
        except (PropertyUnavailable, LookupError):
            return None


MICRON_PA = 0.133322387415  # 0.001 mm of mercury: NIST SP 811, B.8
INHG_PA = 3386.388640341  # the conventional inch of mercury: NIST SP 811, B.8
ABSOLUTE = {"micron": MICRON_PA, "mbar": 100.0, "Pa": 1.0, "kPa": 1000.0}
REACHED, START, END = "reached", "start", "end"
WEATHER_PA = 0.6 * INHG_PA  # as far as weather moves the air's pressure: from memory
# A pump of the trade pulls 20 to 1,000 micron, and up to 5,000 with moisture or a leak: 250 to 500 is what service
# information asks for, over 2,000 what it calls a leak; the rest is common practice, no source.
PUMPED = (20 * MICRON_PA, 5_000 * MICRON_PA)
GOOD = (60 * MICRON_PA, 2_000 * MICRON_PA)
GAUGE_LIKELY, GAUGE_GOOD = 0.25, 0.08  # of the air's pressure that is left, where a gauge with a needle is read


@dataclass(frozen=True)
class Vacuum(Known):
    """what: reached, start or end (of the hold). air_pa: pressure of the air at the shop. start_pa: at the start of the
    hold. A number with a minus, and inHg, count down from the air; the other units are absolute."""

    what: str
    air_pa: float
    start_pa: float | None = None

    by_unit = True
    symbols = {
        **{unit.lower(): unit for unit in ABSOLUTE},
        **dict.fromkeys(("microns", "\u00b5m", "\u03bcm", "um", "\u00b5mhg", "\u03bcmhg", "umhg", "um hg"), "micron"),
        **dict.fromkeys(("inhg", "in hg"), "inHg"),
    }
    mistaken = {
        "micron": ("mbar", "inHg", "Pa"),
        "mbar": ("micron", "inHg"),
        "Pa": ("micron", "mbar", "kPa"),
        "kPa": ("Pa", "inHg", "mbar"),
        "inHg": ("micron", "mbar"),
    }

    def value(self, number: Decimal, unit: str) -> float:
        if unit == "inHg":
            return self._under_the_air(abs(float(number)) * INHG_PA)
        if number.is_signed():
            return self._under_the_air(abs(float(number)) * ABSOLUTE[unit])
        return float(number) * ABSOLUTE[unit]

    def _under_the_air(self, vacuum: float) -> float:
        """Within what weather may do, as nothing."""
        left = self.air_pa - vacuum
        return 0.0 if -WEATHER_PA <= left < 0 else left

    def expects(self, unit: str) -> Expected:
        air = f"The air here is at {self.air_pa / INHG_PA:.1f} inHg, {self.air_pa / 100:.0f} mbar"
        right = "If it is right, the altitude in the shop's settings is wrong."
        bounds = [
            Bound(0.0, None, True, f"{air}: no gauge reads more vacuum.", "the standard atmosphere, ISO 2533", right),
            Bound(None, self.air_pa + WEATHER_PA, True, f"{air}: above it is no vacuum.", "ISO 2533", right),
        ]
        needle = unit == "inHg"
        bounds.append(self._likely(needle))
        return Expected(tuple(bounds), tuple(self._near(needle)))

    def _likely(self, needle: bool) -> Bound:
        least = 0.0 if needle else PUMPED[0]
        if self.what == END:
            if self.start_pa is not None:
                least = max(least, self.start_pa * 0.7 - (0.03 * self.air_pa if needle else 0))
            return Bound(least, None, False, "A hold does not end deeper than it began.", PRACTICE)
        if needle:
            why = "A pump leaves less than a quarter of the air on a gauge with a needle."
            return Bound(least, GAUGE_LIKELY * self.air_pa, False, why, PRACTICE)
        return Bound(*PUMPED, False, "Pumps of the trade reach 20 to 5000 micron.", PRACTICE)

    def _near(self, needle: bool) -> list[Band]:
        if self.what == END and self.start_pa is not None:
            why = f"The hold began at {self.start_pa / MICRON_PA:.0f} micron."
            least = self.start_pa * 0.8 - (0.02 * self.air_pa if needle else 0)
            most = self.start_pa * 6 + (GAUGE_GOOD * self.air_pa if needle else 700 * MICRON_PA)
            return [Band(max(0.0, least), most, why, PRACTICE)]
        if needle:
            return [Band(0.0, GAUGE_GOOD * self.air_pa, "A good pump leaves little of the air.", PRACTICE)]
        return [Band(*GOOD, "Evacuations mostly end at 60 to 2000 micron.", PRACTICE)]
