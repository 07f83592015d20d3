"""Each slip put into an honest reading, and what became of it."""

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal

from inventory.measures.quantity import exact
from inventory.plausible.judging import judge
from inventory.plausible.typed import Typed
from tests.inventory.plausible.honest import Case

UNIT_SLIPS = {
    "g/kg": {"g": "kg", "kg": "g"},
    "g/oz": {"g": "oz", "oz": "g"},
    "lb/kg": {"lb": "kg", "kg": "lb"},
    "oz/lb": {"oz": "lb", "lb": "oz"},
    "F for C": {"°F": "°C"},
    "C for F": {"°C": "°F"},
    "psi/bar": {"psi": "bar", "bar": "psi"},
    "bar/kPa": {"bar": "kPa", "kPa": "bar"},
    "psi/kPa": {"psi": "kPa", "kPa": "psi"},
    "bar/MPa": {"bar": "MPa", "MPa": "bar"},
    "inHg/mbar": {"inHg": "mbar", "mbar": "inHg"},
    "inHg/micron": {"inHg": "micron", "micron": "inHg"},
    "mbar/micron": {"mbar": "micron", "micron": "mbar"},
    "Pa/micron": {"Pa": "micron", "micron": "Pa"},
    "mL/fl oz": {"mL": "fl oz", "fl oz": "mL"},
    "mL/L": {"mL": "L", "L": "mL"},
}


def slipped(case: Case, rng: random.Random) -> Iterator[tuple[str, Typed]]:
    """Each slip that can be made with a reading, once; where in the number is a matter of chance."""
    typed = case.typed
    units = case.known.symbols.values()
    for slip, swaps in UNIT_SLIPS.items():
        if swaps.get(typed.unit) in units:
            yield slip, typed.in_unit(swaps[typed.unit])
    places = [place for place, digit in enumerate(typed.digits) if digit.isdigit()]
    if len(places) > 1:
        place = rng.choice(places)
        left = typed.digits[:place] + typed.digits[place + 1 :]
        yield "a lost digit", typed.of(left.rstrip(".") if left.endswith(".") else left)
    place = rng.choice(places)
    yield "a doubled digit", typed.of(typed.digits[:place] + typed.digits[place] + typed.digits[place:])
    if typed.number:
        yield "the mark moved", typed.times(rng.choice((-1, 1)))
    if case.tare and case.value > case.tare:
        net = exact(round(case.value - case.tare), typed.unit).removesuffix(f" {typed.unit}")
        places_shown = max(0, -typed.number.as_tuple().exponent)
        yield "tare left on", Typed(round(Decimal(net), places_shown), typed.unit)


@dataclass
class Measured:
    """Counts by slip and by kind of reading. named: the honest reading was among those named."""

    made: Counter = field(default_factory=Counter)
    harmless: Counter = field(default_factory=Counter)
    caught: Counter = field(default_factory=Counter)
    named: Counter = field(default_factory=Counter)
    honest: Counter = field(default_factory=Counter)
    alarms: Counter = field(default_factory=Counter)
    refused: Counter = field(default_factory=Counter)
    by_kind: dict = field(default_factory=dict)  # (slip, kind of reading): [wrong, caught]
    wrongly: list = field(default_factory=list)

    def share(self, slip: str) -> float:
        """Of the slips that change something, those that were caught."""
        return self.caught[slip] / max(1, self.made[slip] - self.harmless[slip])

    @property
    def false_alarms(self) -> float:
        return self.alarms.total() / self.honest.total()


def measure(cases: list[Case], seed: int) -> Measured:
    found, rng = Measured(), random.Random(seed)
    for case in cases:
        answer = judge(case.typed, case.known)
        found.honest[case.kind] += 1
        if not answer.fits:
            found.alarms[case.kind] += 1
            found.refused[case.kind] += answer.answer == "cannot"
            found.wrongly.append((case, answer))
        for slip, typed in slipped(case, rng):
            _put_in(found, case, slip, typed)
    return found


def _put_in(found: Measured, case: Case, slip: str, typed: Typed) -> None:
    found.made[slip] += 1
    if abs(case.known.value(typed.number, typed.unit) - case.value) <= case.resolution:
        found.harmless[slip] += 1
        return
    counts = found.by_kind.setdefault((slip, case.kind), [0, 0])
    counts[0] += 1
    answer = judge(typed, case.known)
    if answer.fits:
        return
    counts[1] += 1
    found.caught[slip] += 1
    off = max(case.resolution, abs(case.value) * 0.02)
    near = (abs(one.value - case.value) <= off for one in answer.readings if one.slip)
    found.named[slip] += any(near)


def table(found: Measured) -> str:
    lines = [f"{'slip':16}{'made':>7}{'harmless':>10}{'wrong':>7}{'caught':>9}{'right one named':>17}"]
    for slip, made in found.made.items():
        wrong = made - found.harmless[slip]
        named = found.named[slip] / max(1, wrong)
        lines.append(f"{slip:16}{made:7}{found.harmless[slip]:10}{wrong:7}{found.share(slip):9.1%}{named:17.1%}")
    lines += ["", f"{'honest reading':28}{'number':>8}{'asked':>8}{'refused':>9}{'false':>9}"]
    for kind in sorted(found.honest):
        number, alarms = found.honest[kind], found.alarms[kind]
        asked = alarms - found.refused[kind]
        lines.append(f"{kind:28}{number:8}{asked:8}{found.refused[kind]:9}{alarms / number:9.2%}")
    number, alarms = found.honest.total(), found.alarms.total()
    asked = alarms - found.refused.total()
    lines.append(f"{'all':28}{number:8}{asked:8}{found.refused.total():9}{alarms / number:9.2%}")
    return "\n".join(lines)


def by_kind(found: Measured, slip: str) -> str:
    """On which kinds of reading a slip is caught."""
    rows = sorted((kind, wrong, caught) for (one, kind), (wrong, caught) in found.by_kind.items() if one == slip)
    lines = [f"{slip:28}{'wrong':>8}{'caught':>9}"]
    return "\n".join(lines + [f"{kind:28}{wrong:8}{caught / wrong:9.1%}" for kind, wrong, caught in rows])
