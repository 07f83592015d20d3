"""A line of the trail: two records of one thing compared. Pure: no Django here."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from inventory.measures.days import ISO, said_days
from inventory.measures.quantity import show

told_as: dict[tuple[str, str], Mapping[str, str]] = {}  # a kind of thing and its field -> its values in words
UNTOLD = {"id", "key", "at", "by_ms", "started_ms", "through"}  # says nothing to people


@dataclass(frozen=True)
class Change:
    """Something made, changed or removed. pk: where it stands among all. voucher: under which it was stated. what: the
    kind of thing; key: its code; title: what it is called now. before, after: what differs; of words that were erased
    only that they were."""

    pk: int
    voucher: int
    at: dt.datetime
    by: str
    kind: str
    what: str
    key: str
    title: str
    before: Mapping[str, object] = field(default_factory=dict)
    after: Mapping[str, object] = field(default_factory=dict)

    @property
    def pairs(self) -> list[tuple[str, str, str]]:
        """(field in words, before, after)."""
        names = dict.fromkeys([*self.before, *self.after])
        return [(_words(name), self._told(name, self.before), self._told(name, self.after)) for name in names]

    def _told(self, name: str, held: Mapping[str, object]) -> str:
        shown = _shown(name, held.get(name, ""))
        if ISO.fullmatch(shown):  # a day alone: words that somebody wrote stay as they are
            shown = said_days(shown)
        return told_as.get((self.what, name), {}).get(shown, shown)

    @property
    def told(self) -> list[tuple[str, str]]:
        """(field in words, what it was and became): what it held alone, where the thing was made or removed."""
        if self.kind == "changed":
            return [(name, f"{before or '(blank)'} → {after or '(blank)'}") for name, before, after in self.pairs]
        return [(name, after if self.kind == "made" else before) for name, before, after in self.pairs]


def kind_of(before: object, after: object) -> str:
    if before is None:
        return "made"
    return "removed" if after is None else "changed"


def differing(before: Mapping | None, after: Mapping | None) -> tuple[dict, dict]:
    """What each of two documents says that the other does not; None: there is none."""
    was, now = before or {}, after or {}
    names = [name for name in dict.fromkeys([*was, *now]) if was.get(name) != now.get(name) and name not in UNTOLD]
    return {n: was[n] for n in names if n in was}, {n: now[n] for n in names if n in now}


def _words(name: str) -> str:
    return name.removesuffix("_mg").removesuffix("_ul").replace("_", " ")


def _shown(name: str, value: object) -> str:
    """Masses and volumes with their unit; all else as it is kept."""
    unit = "g" if name.endswith("_mg") else "mL" if name.endswith("_ul") else ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if unit and isinstance(value, int):
        return show(value, unit)
    if isinstance(value, dict):
        return ", ".join(f"{_words(key)}: {_shown(key, one)}" for key, one in value.items())
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)
