"""A unit under test pressure: with which gas, and whether its pressure held. Pure: no Django here.

In a closed unit the pressure of a gas follows its temperature: by the ideal gas law p V = n R T, with V and n as they
were, p2 = p1 x T2 / T1, pressures absolute and temperatures in kelvin. Nitrogen departs from it by up to 0.26 % at
20 bar over 10 K and 1.21 % at 45 bar over 20 K, helium by up to 0.02 %, carbon dioxide by up to 1.8 % at 20 bar over
10 K (CoolProp 8.0.0, -10 to 40 degrees C): where that could turn the answer, none is given.
"""

import re
from dataclasses import dataclass

from inventory.reference.refrigerants import UnknownRefrigerant, refrigerant, spelling_meant
from inventory.text.refusal import Refused

MEDIA = {
    "nitrogen": "dry nitrogen",
    "traced": "nitrogen with a trace of the unit's own refrigerant",
    "forming": "5 % hydrogen in nitrogen (forming gas)",
    "helium": "helium",
    "carbon-dioxide": "carbon dioxide",
    "other": "another gas",
}
OTHER = "other"
# How far the ideal gas law is off at most, in % for each bar and kelvin: CoolProp 8.0.0, 5 to 45 bar, -10 to 40
# degrees C. Mixtures that are nearly all nitrogen as nitrogen; another gas as the worst of them.
OFF = {"nitrogen": 0.0014, "traced": 0.0014, "forming": 0.0014, "helium": 0.0001, "carbon-dioxide": 0.0102}
WORST = max(OFF.values())
KELVIN = 273.15
# A unit that is tight stands for so long and loses no more than this, in % of the absolute pressure that its
# temperature explains: two readings of 1 K and of a gauge come to about as much. Common practice, no source.
LEAST_MINUTES = 15.0
MOST_PERCENT = 1.0
COMMON = "common practice, no source"

INSTEAD = "Take dry nitrogen through a regulator, or nitrogen with a trace of the unit's own refrigerant."
OXYGEN = (
    "Never test with oxygen or a gas that gives it off: with the oil in the unit it explodes under pressure "
    f"({COMMON}). {INSTEAD}"
)
AIR = (
    "Never test with air: it is not to be used for pressure or leak tests (40 CFR part 82 subpart B, Appendix C, 5.2, "
    f"of R-134a). Under pressure its oxygen can explode with the oil, and its water stays in the unit ({COMMON}). "
    f"{INSTEAD}"
)
FUEL = (
    "Never test with a gas that burns: where it leaks out it catches fire, and in the unit it explodes with what air "
    f"is there ({COMMON}). {INSTEAD}"
)
HYDROGEN = f"{FUEL} Hydrogen is taken as 5 % in nitrogen alone; choose forming gas for that."
FREE_OF = re.compile(r"\b(?:oxygen|o2|air|moisture|oil)[- ]?free\b|\bfree of (?:oxygen|o2|air)\b", re.IGNORECASE)
BARRED = (
    (re.compile(r"\boxy|\bo2\b|\bo₂|oxide nitr|\bnitrous|\bn2o\b|\bozone\b|\bchlorine\b|\bperoxide\b", re.I), OXYGEN),
    (re.compile(r"\bair\b", re.I), AIR),
    (re.compile(r"\bhydrogen\b|\bh2\b", re.I), HYDROGEN),
    (
        re.compile(
            r"acetylen|ethyne|propan|butan|methan|\bethan|propylen|propen|ethylen|\bethen|natural gas|town gas|bio ?gas"
            r"|fuel|petrol|gasoline|\bl\.?p\.?g\b|\bcng\b|\blng\b|\bmapp\b|\bmaps\b|\bether\b|ammonia|carbon monoxide",
            re.I,
        ),
        FUEL,
    ),
)


def check_medium(medium: str, named: str) -> None:
    """Raises Refused for a gas that nothing may be tested with, and where the gas is not said or said twice. medium: a
    key of MEDIA, blank: not said; named: what gas, where it is another."""
    if medium and medium not in MEDIA:
        raise Refused(f"{medium[:40]!r} is no test gas; choose one of {', '.join(MEDIA.values())}.", "test_medium")
    if named:
        _check_named(named)
    if medium == OTHER and not named:
        raise Refused("Write which other gas it was.", "test_other")
    if named and medium != OTHER:
        what = MEDIA[medium] if medium else "none is chosen"
        raise Refused(f"Choose “{MEDIA[OTHER]}” for {named}, or leave this blank: above, {what}.", "test_other")


def _check_named(named: str) -> None:
    said = FREE_OF.sub(" ", named)
    for words, why in BARRED:
        if words.search(said):
            raise Refused(why, "test_other")
    try:
        gas = refrigerant(spelling_meant(said) or said.strip())
    except UnknownRefrigerant:
        return
    if gas.safety_class is not None and gas.safety_class[1:] != "1":
        raise Refused(f"{gas.designation} burns (class {gas.safety_class}). {FUEL}", "test_other")


@dataclass(frozen=True)
class Reading:
    """pascal: absolute. celsius: of the unit, None where nobody wrote it."""

    pascal: float
    celsius: float | None = None


@dataclass(frozen=True)
class Limits:
    """What the shop, else its rulebook, else common practice asks, each with who does."""

    least_minutes: float = LEAST_MINUTES
    most_percent: float = MOST_PERCENT
    minutes_by: str = COMMON
    percent_by: str = COMMON


@dataclass(frozen=True)
class PressureTest:
    """passed: None where nobody can tell. expected_pa: what the start comes to at the end's temperature, absolute;
    lost_percent: how much less was read, in % of that. Both None without both temperatures."""

    passed: bool | None
    expected_pa: float | None
    lost_percent: float | None
    sentence: str

    @property
    def answer(self) -> str:
        return {True: "held", False: "not held", None: "cannot be told"}[self.passed]


def expected_pa(start: Reading, celsius: float) -> float:
    """The absolute pressure that a closed unit comes to at another temperature, in Pa: p1 x T2 / T1, the ideal gas law
    at a volume that does not change. start: with its temperature."""
    return start.pascal * (celsius + KELVIN) / (start.celsius + KELVIN)


def off_percent(medium: str, start: Reading, celsius: float) -> float:
    """How far the ideal gas law can be off, in %."""
    return OFF.get(medium, WORST) * start.pascal / 1e5 * abs(celsius - start.celsius)


def pressure_verdict(medium: str, start: Reading, end: Reading, minutes: float | None, limits: Limits) -> PressureTest:
    """Whether a test pressure held. minutes: between the readings, None where that is not known."""
    said = f"From {_bar(start)} to {_bar(end)}{_in(minutes)}."
    if start.celsius is None or end.celsius is None:
        why = "Without both temperatures nobody can tell a leak from a unit that cooled; write them down."
        return PressureTest(None, None, None, f"{said} {why}")
    expected = expected_pa(start, end.celsius)
    lost = (expected - end.pascal) / expected * 100
    off = off_percent(medium, start, end.celsius)
    said += f" Its temperature explains {expected / 1e5:.2f} bar (p1 x T2 / T1, ideal gas); {_against(lost)}"
    limit = f"at most {limits.most_percent:g} % less ({limits.percent_by})"
    passed, why = _judged(lost, off, minutes, limits, limit)
    return PressureTest(passed, expected, lost, f"{said} {why}")


def _judged(lost: float, off: float, minutes: float | None, limits: Limits, limit: str) -> tuple[bool | None, str]:
    most = limits.most_percent
    if lost > most + off:
        return False, f"Not held: {limit}. Look for the leak."
    if lost < -(most + off):
        return None, "More than there was cannot be: read gauge and temperatures again."
    if abs(lost) > most - off and off > most / 10:
        return None, (
            f"So far apart the two temperatures leave {off:.1f} % open with this gas, and the limit is {limit}: read "
            "again when the unit is as warm as at the start."
        )
    if minutes is None:
        return None, "How long it stood is not recorded."
    if minutes < limits.least_minutes:
        return None, f"Too short to tell: at least {limits.least_minutes:g} min ({limits.minutes_by})."
    return True, f"Held: {limit}, for at least {limits.least_minutes:g} min ({limits.minutes_by})."


def _bar(reading: Reading) -> str:
    at = "" if reading.celsius is None else f" at {reading.celsius:g} °C"
    return f"{reading.pascal / 1e5:.2f} bar absolute{at}"


def _in(minutes: float | None) -> str:
    return "" if minutes is None else f" in {minutes:.0f} min"


def _against(lost: float) -> str:
    if abs(lost) < 0.05:
        return "that is what was read."
    return f"{abs(lost):.1f} % {'less' if lost > 0 else 'more'} was read."
