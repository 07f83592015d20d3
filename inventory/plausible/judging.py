"""Whether a reading fits, is to be asked about, or cannot be. Pure: no Django here.

Nothing is decided for anybody: what is asked about is taken as typed after one yes, and what cannot be says what would
be right.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from inventory.measures.numbers import ENGLISH, Style, read_with_unit
from inventory.plausible.expected import Band, Bound, Known, Other, Value
from inventory.plausible.slips import ORDER, SLIPS, others
from inventory.plausible.typed import Typed

FITS, ASK, CANNOT = "fits", "ask", "cannot"
NAMED = 2  # readings named beside the typed one: a third is no help to whoever stands at a scale
# A digit lost or doubled can lead nearly anywhere. It is only thought of where a band is narrow beside the way to it:
# common practice, no source, set by the measurement in tests/inventory/plausible.
WIDTHS_OFF = 3
PLAIN = frozenset({"unit", "tare"})  # slips that lead to one other reading


@dataclass(frozen=True)
class Reading:
    """A reading that may be meant. text: as it is typed; slip: a word of SLIPS, blank for the one that was typed."""

    value: Value
    text: str
    slip: str = ""

    @property
    def how(self) -> str:
        """The slip in words, blank for the one that was typed."""
        return SLIPS.get(self.slip, "")


@dataclass(frozen=True)
class Answer:
    """answer: fits, ask or cannot. readings: all that may be meant, the most plausible first; where it fits, the typed
    one alone; where it cannot be, those that can. why: the reason, a whole sentence, which may name what the book has;
    blank where it fits. source: of that reason. right: what to do where none of the readings is meant."""

    answer: str
    typed: Reading
    readings: tuple[Reading, ...]
    why: str = ""
    source: str = ""
    right: str = ""

    @property
    def fits(self) -> bool:
        return self.answer == FITS

    @property
    def question(self) -> str:
        """The readings alone, which tells nothing of what the book has: `0.412 kg or 412 kg?`"""
        if self.fits:
            return ""
        if not self.readings:
            return f"{self.typed.text} cannot be."
        texts = [one.text for one in self.readings]
        if self.answer == CANNOT:
            return f"{self.typed.text} cannot be: is {' or '.join(texts)} meant?"
        if len(texts) == 1:
            return f"Is {texts[0]} right?"
        return f"{', '.join(texts[:-1])} or {texts[-1]}?"

    @property
    def said(self) -> str:
        """Everything for whoever typed it: the question, why, and what else to do."""
        return " ".join(filter(None, (self.question, self.why, self.right)))


def judge(typed: Typed, known: Known) -> Answer:
    """What is to be said of a reading as it was typed, beside what is known."""
    value = known.value(typed.number, typed.unit)
    as_typed = Reading(value, str(typed))
    expected = known.expects(typed.unit)
    impossible = expected.broken(value, sure=True)
    if impossible is None and expected.settles(value):
        return Answer(FITS, as_typed, (as_typed,))
    broken = impossible or expected.broken(value, sure=False)
    meant = _meant(typed, value, known, broken is not None)
    if broken is not None:
        return _beyond(CANNOT if impossible else ASK, as_typed, meant, broken)
    better = [one for one in meant if one.is_better_than(value)]
    if not better:
        return Answer(FITS, as_typed, (as_typed,))
    band = better[0].band
    return Answer(ASK, as_typed, (*_readings(better), as_typed), band.why, band.source)


def read(text: str, known: Known, assume: str = "", style: Style = ENGLISH) -> Typed:
    """A reading as its field takes it. assume: the unit that stands beside the field. Raises Refused.

    Pounds and ounces together are no one number: see `Typed.quantity`.
    """
    number, said = read_with_unit(text, style, what="reading", right="412 g", signed=True)
    return Typed(number, known.unit_named(said or assume), style)


@dataclass(frozen=True)
class _Meant:
    """A reading that may be meant, and the band it is in, where it is in one."""

    other: Other
    band: Band | None

    def is_better_than(self, value: Value) -> bool:
        """Whether it is so much more plausible than what was typed, which can be, that it is worth a question."""
        if self.band is None:
            return False
        if self.other.slip == "comma":
            return self.band.is_tight
        return self.band.narrow or (self.other.slip in PLAIN and self.band.is_far(value, self.other.value))

    @property
    def rank(self) -> int:
        """How well it fits, the best first."""
        return 2 if self.band is None else 0 if self.band.narrow else 1

    @property
    def order(self) -> tuple[bool, float, int]:
        """Units before digits; of digits, which can lead to many, the one that fits best."""
        plain = self.other.slip in PLAIN
        off = 0.0 if plain or self.band is None else self.band.distance(self.other.value)
        return not plain, off, ORDER.index(self.other.slip)


def _beyond(answer: str, typed: Reading, meant: list[_Meant], bound: Bound) -> Answer:
    readings = _readings(meant)
    asked = answer == ASK
    right = "" if asked and readings else bound.right
    return Answer(answer, typed, (*readings, typed) if asked else readings, bound.why, bound.source, right)


def _readings(meant: Iterable[_Meant]) -> tuple[Reading, ...]:
    """The most plausible ones: each value once, and of a slip that can lead to many, the one that fits best."""
    found: dict[Value, Reading] = {}
    slips: set[str] = set()
    for one in meant:
        slip = one.other.slip
        if one.other.value not in found and (slip == "unit" or slip not in slips):
            found[one.other.value] = Reading(one.other.value, str(one.other.typed), slip)
            slips.add(slip)
    return tuple(found.values())[:NAMED]


def _meant(typed: Typed, value: Value, known: Known, beyond: bool) -> list[_Meant]:
    """What may be meant instead, the most plausible first. beyond: the typed one is not likely; otherwise a digit is
    only thought of beside a narrow band."""
    expected_in = {typed.unit: known.expects(typed.unit)}
    digits = any(band.narrow or beyond for band in expected_in[typed.unit].near)
    found = []
    for other in others(typed, known, digits):
        unit = other.typed.unit
        if unit not in expected_in:
            expected_in[unit] = known.expects(unit) if known.by_unit else expected_in[typed.unit]
        expected = expected_in[unit]
        if other.value == value or not expected.fits(other.value):
            continue
        band = expected.band(other.value)
        far = band is not None and abs(other.value - value) >= WIDTHS_OFF * band.width
        if far or other.slip in PLAIN or (other.slip == "comma" and beyond):
            found.append(_Meant(other, band))
    return _best(found)


def _best(found: list[_Meant]) -> list[_Meant]:
    """Those that fit as well as the best one. All that are in a narrow band come to the same: one is enough. Where no
    better than likely, a moved mark is only thought of where no unit explains it."""
    rank = min((one.rank for one in found), default=0)
    best = sorted((one for one in found if one.rank == rank), key=lambda one: one.order)
    if rank == 0:
        return best[:1]
    plain = [one for one in best if one.other.slip in PLAIN]
    return plain or best
