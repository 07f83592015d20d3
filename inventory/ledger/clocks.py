"""Whether the clocks by which vouchers are stamped can be believed.

Whenever somebody begins to write, this machine's clock is compared, without a question of its own to the database:

- with itself: a clock that was set, forward or back, no longer agrees with the one that counts since the machine
  started and that nobody can set;
- with the last voucher, which nobody can write before;
- with the clock of PostgreSQL's machine: two servers that disagree are told apart by it.

What differs is stated under the voucher at hand, as a record of kind `clock` by the machine's name, once; the owner's
pages show it until somebody has seen it. Nothing is refused: work goes on, and vouchers keep their order, since none is
stamped before the one before it.
"""

import datetime as dt
import json
import platform
import time
from collections.abc import Iterator
from typing import NamedTuple

from django.db import transaction
from django.db.models import Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from inventory.ledger.models import Record
from inventory.ledger.records import moment_said
from inventory.ledger.statements import Statements
from inventory.shop import clock

CLOCK, SEEN, ALL, ZONE = "clock", "clock-seen", "all", "time zone"
# From where on a clock counts as set, and two as apart. A clock that is kept by the network is right to a fraction of a
# second, and one that is read off a wall and typed in to a minute. Common practice, no source.
SET_MS, APART_MS = 120_000, 2_000
LOOKED_BACK = 20  # records of a machine, for one that says the same
DATABASE_TIME = {"postgresql": ", EXTRACT(EPOCH FROM clock_timestamp())"}  # of a SQLite file there is no other clock
SET_FORWARD, SET_BACK, BEHIND = "set forward", "set back", "behind the last voucher"
APART, TOGETHER = "apart from the database's clock", "agrees with the database's clock again"
ALIKE = ({SET_FORWARD, SET_BACK}, {BEHIND}, {APART, TOGETHER})  # of each, the latest is what stands


def wall() -> float:
    """This machine's clock, in seconds."""
    return time.time()


def steady() -> float:
    """Seconds since it started, asleep or awake, whatever its clock was set to."""
    which = getattr(time, "CLOCK_BOOTTIME", getattr(time, "CLOCK_MONOTONIC", None))
    return time.monotonic() if which is None else time.clock_gettime(which)


def host() -> str:
    return platform.node()[:100] or "this machine"


class Finding(NamedTuple):
    """what: of the words above. by_ms: how far, above zero where the clock is ahead of what it was compared with.
    more: what the record says besides."""

    what: str
    by_ms: int
    more: dict[str, object]


class Watch:
    """What this process knows of its clock. started_ms: when the machine started, by its clock; another one after the
    clock was set. apart_ms: how far it was from the database's when that was noted, None before."""

    def __init__(self) -> None:
        self.started_ms = _started_ms()
        self.apart_ms: int | None = None

    def look(self, recorded_at: str, asked: dt.datetime, database: float | None) -> Iterator[Finding]:
        """recorded_at: of the last voucher. asked: when the database was asked for its time; database: its answer."""
        now = clock.now()
        started = _started_ms()
        moved = started - self.started_ms
        if abs(moved) >= SET_MS:
            yield Finding(SET_FORWARD if moved > 0 else SET_BACK, moved, {"started_ms": started})
        if recorded_at:
            behind = _ms(now - dt.datetime.fromisoformat(recorded_at))
            if behind <= -SET_MS:
                yield Finding(BEHIND, behind, {"stamped": recorded_at})
        if database is not None:
            yield from self._beside(now, asked, float(database))

    def _beside(self, now: dt.datetime, asked: dt.datetime, database: float) -> Iterator[Finding]:
        """How long the answer took is doubt, not difference."""
        doubt = max(0, _ms(now - asked)) // 2
        ahead = round((asked.timestamp() - database) * 1000) + doubt
        if abs(ahead) - doubt > APART_MS:
            if self.apart_ms is None or abs(ahead - self.apart_ms) > APART_MS + doubt:
                yield Finding(APART, ahead, {})
        elif self.apart_ms:
            yield Finding(TOGETHER, ahead, {})

    def noted(self, finding: Finding) -> None:
        """It stands in the record."""
        if finding.what in {SET_FORWARD, SET_BACK}:
            self.started_ms = finding.more["started_ms"]
        elif finding.what in {APART, TOGETHER}:
            self.apart_ms = finding.by_ms if finding.what == APART else 0


def _started_ms() -> int:
    return round((wall() - steady()) * 1000)


def _ms(span: dt.timedelta) -> int:
    return span // dt.timedelta(milliseconds=1)


here = Watch()


def watch(statements: Statements, recorded_at: str, asked: dt.datetime, database: float | None) -> None:
    """Compare this machine's clock, and state what differs under the voucher at hand. What is taken back with its
    transaction is found again."""
    for finding in here.look(recorded_at, asked, database):
        if not _stands(finding):
            body = {"what": finding.what, "by": span(finding.by_ms), "by_ms": finding.by_ms, **finding.more}
            statements.state(CLOCK, host(), {**body, "at": moment_said(clock.now())}, new=True)
        transaction.on_commit(lambda found=finding: here.noted(found))


def _stands(finding: Finding) -> bool:
    """Whether a record of this machine says it already: of another process, or of this one before it was looked at."""
    own = Record.objects.filter(kind=CLOCK, key=host()).order_by("-voucher_id", "-line")[:LOOKED_BACK]
    kin = next(group for group in ALIKE if finding.what in group)
    latest = next((row for row in own if body_of(row)["what"] in kin), None)
    if latest is None:
        return finding.what == TOGETHER
    body = body_of(latest)
    if kin is ALIKE[0]:
        return abs(body["started_ms"] - finding.more["started_ms"]) <= APART_MS
    if finding.what == BEHIND:
        return body["stamped"] == finding.more["stamped"] or unseen().filter(pk=latest.pk).exists()
    return body["what"] == finding.what and (finding.what == TOGETHER or abs(body["by_ms"] - finding.by_ms) <= APART_MS)


def tell_zone(statements: Statements, before: str, after: str) -> None:
    """That the shop's days are cut in another time zone from now on."""
    body = {"what": "days are cut in another time zone", "before": before, "after": after}
    statements.state(CLOCK, ZONE, {**body, "at": moment_said(clock.now())}, new=True)


# -- what the owner is shown -----------------------------------------------------------------------------------


def body_of(record: Record) -> dict:
    return json.loads(record.body)


def not_seen() -> Q:
    """Of records: what was noted of clocks and nobody has seen. The entry that says that somebody has seen them was
    not seen itself, with what was noted under it."""
    seen = Record.objects.filter(kind=SEEN, key=ALL).order_by("-voucher_id").values("voucher_id")[:1]
    return Q(kind=CLOCK, voucher__gte=Coalesce(Subquery(seen), 0))


def unseen() -> QuerySet[Record]:
    """What was noted of clocks and nobody has seen, the latest first."""
    return Record.objects.filter(not_seen()).order_by("-voucher_id", "-line")


def span(milliseconds: int) -> str:
    """E.g. `3 h 5 min`, `7.2 s`, `400 days`; without its sign."""
    seconds = abs(milliseconds) / 1000
    if seconds < 60:
        return f"{seconds:.1f} s"
    minutes = round(seconds / 60)
    if minutes < 60:
        return f"{minutes} min"
    if minutes < 48 * 60:
        return f"{minutes // 60} h {minutes % 60} min" if minutes % 60 else f"{minutes // 60} h"
    return f"{round(minutes / 60 / 24)} days"


def sentence(record: Record) -> str:
    """A record of a clock for the owner: what it was, and what follows."""
    body, name = body_of(record), record.key
    what, by = body["what"], body.get("by", "")
    if name == ZONE:
        return (
            f"The shop's time zone was changed from {body['before']} to {body['after']}: from then on days are cut "
            "there. Entries keep the days that they were given."
        )
    if what in {SET_FORWARD, SET_BACK}:
        after = (
            "Vouchers are stamped no earlier than the last one until it has passed that moment."
            if what == SET_BACK
            else "If that was wrong, set it right: vouchers keep the later moments."
        )
        return f"The clock of {name} was {what} by {by} while it ran. {after}"
    if what == BEHIND:
        return (
            f"The clock of {name} was {by} behind the moment of the last voucher, {body['stamped']}: it was set back, "
            "or another one was ahead. Vouchers are stamped with that moment until it has passed; their order holds."
        )
    if what == APART:
        which = "ahead of" if body["by_ms"] > 0 else "behind"
        return f"The clock of {name} was {by} {which} that of the database's machine. Set both by the network."
    return f"The clock of {name} agrees with that of the database's machine again."
