"""What a difference looks like: a leak, a scale, a tare, a habit. Pure: no Django here. Masses in mg.

The figures cannot prove a cause; they say which one they fit. Thresholds are common practice, no source.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from inventory.measures.quantity import show

ENOUGH = 4  # weighings on a scale before it is suspected
LIKE = 0.8  # share of them that must fit
LEAST_SPAN = 0.001  # 0.1 %: less is what scales are allowed


@dataclass(frozen=True)
class Seen:
    """A weighing beside the book. days: since the one before, None where it is the first. first: since it arrived
    with a tare that was told, not taken. jobs: that used the container in between; person: who weighed or worked."""

    container: str
    scale: str
    person: str
    days: int | None
    gross: int
    difference: int
    tolerance: int
    first: bool = False
    other_scale: bool = False
    jobs: int = 0

    @property
    def outside(self) -> bool:
        return abs(self.difference) > self.tolerance


@dataclass(frozen=True)
class Pattern:
    """kind: scale, leak, tare or person. subject: which one. fits, of: how many weighings it fits, of how many."""

    kind: str
    subject: str
    fits: int
    of: int
    sentence: str


def patterns(seen: Sequence[Seen]) -> list[Pattern]:
    """Everything that the weighings of a period fit, scales first: what a scale explains is no container's fault."""
    found = scales(seen)
    bad = {one.subject for one in found}
    rest = [one for one in seen if one.scale not in bad]
    return [*found, *containers(rest), *people(rest)]


def scales(seen: Sequence[Seen]) -> list[Pattern]:
    """Scales on which several containers differ by the same share of what was on them, while before they agreed on
    another scale or on paper."""
    by: dict[str, list[Seen]] = defaultdict(list)
    for one in seen:
        if one.scale and one.gross and (one.other_scale or one.first):
            by[one.scale].append(one)
    found = []
    for scale, rows in sorted(by.items()):
        if len({one.container for one in rows}) < ENOUGH:
            continue
        share = median(one.difference / one.gross for one in rows)
        fits = sum(abs(one.difference - share * one.gross) <= one.tolerance for one in rows)
        loud = sum(one.outside for one in rows)
        if abs(share) < LEAST_SPAN or fits < LIKE * len(rows) or loud < ENOUGH:
            continue
        way = "more" if share > 0 else "less"
        sentence = (
            f"Scale {scale} shows about {abs(share) * 100:.1f} % {way} than the others: {fits} of {len(rows)} "
            "containers weighed on it differ by that share. Check it with a reference mass before anything else is "
            "looked for."
        )
        found.append(Pattern("scale", scale, fits, len(rows), sentence))
    return found


def containers(seen: Sequence[Seen]) -> list[Pattern]:
    """Containers that lose at a steady rate (a valve, a seam), or differ once, at their first weighing (a tare)."""
    by: dict[str, list[Seen]] = defaultdict(list)
    for one in seen:
        by[one.container].append(one)
    found = []
    for code, rows in sorted(by.items()):
        made = _leak(code, rows) or _tare(code, rows)
        if made:
            found.append(made)
    return found


def _leak(code: str, rows: list[Seen]) -> Pattern | None:
    lost = [one for one in rows if one.days and one.difference < 0 and one.outside and not one.first]
    still = [one for one in lost if not one.jobs]
    if not still and len(lost) < 2:
        return None
    rates = [-one.difference / one.days for one in lost]
    steady = max(rates) <= 3 * min(rates)
    if not steady:
        return None
    rate = show(round(sum(rates) / len(rates) / 100) * 100, "g")
    often = f"at {len(lost)} weighings" if len(lost) > 1 else "between two weighings with nothing recorded in between"
    sentence = f"{code} lost about {rate} a day {often}: its valve or a seam may leak. Check it with a detector."
    return Pattern("leak", code, len(lost), len(rows), sentence)


def _tare(code: str, rows: list[Seen]) -> Pattern | None:
    first = [one for one in rows if one.first and one.outside]
    later = [one for one in rows if not one.first and one.outside]
    if not first or later:
        return None
    difference = first[0].difference
    sentence = (
        f"{code} differed by {show(abs(difference), 'g')} at its first weighing here, and not since: the tare on it, "
        "or the weight that was delivered, may be wrong. Weigh it when it is empty, and correct the tare."
    )
    return Pattern("tare", code, 1, len(rows), sentence)


def people(seen: Sequence[Seen]) -> list[Pattern]:
    """A person after whose jobs something is missing far more often than after others'."""
    after = [one for one in seen if one.jobs and one.person]
    missing = [one for one in after if one.difference < 0 and one.outside]
    by: dict[str, int] = defaultdict(int)
    for one in missing:
        by[one.person] += 1
    found = []
    for person, count in sorted(by.items()):
        own = sum(one.person == person for one in after)
        others = len(after) - own
        elsewhere = (len(missing) - count) / others if others else 0
        if count >= 3 and count / own > 2 * elsewhere:
            sentence = (
                f"After {count} of {own} jobs of {person} something was missing, after others' "
                f"{len(missing) - count} of {others}. Ask how hoses are cleared and the second weight is taken."
            )
            found.append(Pattern("person", person, count, own, sentence))
    return found


def of_one(one: Seen, known: Sequence[Pattern]) -> list[str]:
    """What a single difference fits, the likeliest first."""
    said = [
        pattern.sentence
        for pattern in known
        if pattern.subject in {one.container, one.scale} and pattern.kind in {"scale", "leak", "tare"}
    ]
    if one.difference < 0 and not one.first:
        if one.jobs:
            said.append(
                f"It was used on {one.jobs} job{'s' if one.jobs > 1 else ''} since it was last weighed: a use that was "
                "not written down, or a valve left open after the work."
            )
        elif not said:
            said.append("Nothing was recorded for it in between: a leak, or a use that was not written down.")
    if one.difference > 0 and not said:
        said.append(
            "There is more than the book says: something was put in and not written down, or the reading or the "
            "tare is wrong."
        )
    return said


REASON_OF = {"scale": "reading", "leak": "leaked", "tare": "tare"}  # a pattern -> the reason that it speaks for


def likely_reason(one: Seen, known: Sequence[Pattern]) -> str:
    """The reason (of `models.REASONS`) that the first sentence of `of_one` speaks for; blank where the figures fit
    several."""
    for pattern in known:
        if pattern.subject in {one.container, one.scale} and pattern.kind in REASON_OF:
            return REASON_OF[pattern.kind]
    if one.difference < 0 and not one.first:
        return "unrecorded" if one.jobs else ""
    return ""
