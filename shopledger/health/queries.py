"""How the shop's records are kept: each question with its answer, whether that is well, and what to do.

The limits are common practice, no source: a proof each week, room on the disk for a copy of the database and half a
gigabyte; those of backups stand in `backup/upkeep.py`.
"""

import datetime as dt
import shutil
from dataclasses import asdict, dataclass, field
from pathlib import Path

from axes.models import AccessFailureLog
from django.conf import settings
from django.contrib.auth import get_user_model
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.db.models import Count, Max
from django.utils import timezone

from inventory.ledger import triggers
from inventory.ledger.clocks import sentence, unseen
from inventory.ledger.models import ChainHead
from inventory.shop.models import Shop
from shopledger.backup.models import Upkeep
from shopledger.backup.upkeep import ago, of_backups
from shopledger.health.models import SlowPage
from shopledger.health.versions import versions

VERIFY_EVERY = dt.timedelta(days=8)
RECENT = dt.timedelta(days=7)
ROOM = 500_000_000
MANY_FAILED = 20  # in a day
CLOCK_SLACK = dt.timedelta(minutes=2)
BADGES = {"good": "good", "look": "warn", "wrong": "bad"}


@dataclass(frozen=True)
class Line:
    """state: good; look (somebody should); wrong."""

    name: str
    label: str
    state: str
    said: str
    advice: str = ""

    @property
    def badge(self) -> str:
        return BADGES[self.state]


@dataclass
class Health:
    lines: list[Line]
    versions: dict[str, str]
    slow: list[dict] = field(default_factory=list)
    failed: list[dict] = field(default_factory=list)
    clocks: list["Noted"] = field(default_factory=list)

    @property
    def well(self) -> bool:
        return all(line.state != "wrong" for line in self.lines)

    def as_json(self) -> dict[str, object]:
        return {
            "well": self.well,
            "checks": [asdict(line) for line in self.lines],
            "versions": self.versions,
            "slow_pages": self.slow,
            "failed_sign_ins": self.failed,
            "clocks": [asdict(one) for one in self.clocks],
        }


def alive() -> bool:
    """Whether the ledger can be read just now."""
    try:
        return ChainHead.objects.filter(id=1).exists()
    except DatabaseError:
        return False


def health() -> Health:
    """Everything. Where the database is gone, what can be said without it."""
    lines = [_disk(), _leftovers()]
    try:
        if not ChainHead.objects.filter(id=1).exists():
            raise DatabaseError("its head is not there")
        lines = [
            Line("database", "Database", "good", "The ledger can be read."),
            *(Line(one.name, one.label, one.state, one.said, one.advice) for one in of_backups()),
            _verify(),
            *lines,
            _tables(),
            _guards(),
            _clock(),
            _zone(),
            _sign_ins(),
        ]
        return Health(lines, versions(), slow_pages(), failed_sign_ins(), noted_of_clocks())
    except DatabaseError as error:
        why = " ".join(str(error).split())[:200]
        how = "Start the database, or see what to do when the disk dies in shopledger/deploy/README.md."
        if "no such table" in why or "does not exist" in why:
            how = "It has no tables yet: run manage.py migrate, or manage.py restore."
        gone = Line("database", "Database", "wrong", f"The ledger cannot be read: {why}.", how)
        return Health([gone, *lines], versions(with_database=False))


def slow_pages(most: int = 20) -> list[dict]:
    """The slowest of the last days, the slowest first: page (the name of its address), method, ms, at."""
    found = SlowPage.objects.filter(at__gte=timezone.now() - RECENT).order_by("-milliseconds", "-id")[:most]
    return [{"page": row.page, "method": row.method, "ms": row.milliseconds, "at": row.at} for row in found]


def failed_sign_ins(most: int = 20) -> list[dict]:
    """By name and address in the last days, the most first: username, address, count, last. A name that nobody
    here has is not shown: it may be a password that was typed into the wrong field."""
    rows = AccessFailureLog.objects.filter(attempt_time__gte=timezone.now() - RECENT).order_by()
    rows = list(rows.values("username", "ip_address").annotate(count=Count("id"), last=Max("attempt_time")))
    names = {row["username"] for row in rows}
    known = set(get_user_model().objects.filter(username__in=names).values_list("username", flat=True))
    found: dict[tuple[str, str], dict] = {}
    for row in rows:
        key = (row["username"] if row["username"] in known else "", row["ip_address"] or "")
        kept = found.setdefault(key, {"username": key[0], "address": key[1], "count": 0, "last": row["last"]})
        kept["count"] += row["count"]
        kept["last"] = max(kept["last"], row["last"])
    return sorted(found.values(), key=lambda row: (-row["count"], row["username"], row["address"]))[:most]


def _verify() -> Line:
    def line(state: str, said: str, advice: str = "") -> Line:
        return Line("verify", "Last proof of the ledger", state, said, advice)

    latest = Upkeep.objects.filter(kind="verify").first()
    if latest is None:
        return line("look", "None was made yet.", "Prove it now, or let manage.py verify run each week.")
    if not latest.well:
        how = "Stop posting, keep a copy of the database as it is, and restore the last backup that proves itself."
        return line("wrong", latest.said, how)
    old = timezone.now() - latest.at > VERIFY_EVERY
    advice = "Prove it again." if old else ""
    return line("look" if old else "good", f"It held {ago(latest.at)}: {latest.said}", advice)


def _disk() -> Line:
    try:
        usage = shutil.disk_usage(settings.DATA_DIR)
    except OSError as error:
        return Line("disk", "Disk left", "wrong", f"{settings.DATA_DIR} cannot be read: {error.strerror}.")
    file = Path(str(connection.settings_dict["NAME"]))
    needed = ROOM + (file.stat().st_size if connection.vendor == "sqlite" and file.is_file() else 0)
    said = f"{usage.free / 1e9:.1f} GB of {usage.total / 1e9:.1f} GB are free where {settings.DATA_DIR} lies."
    if usage.free < needed:
        how = f"Make room: a backup needs {needed / 1e9:.1f} GB here while it runs. A full disk takes no entry."
        return Line("disk", "Disk left", "wrong", said, how)
    if usage.free * 20 < usage.total:
        return Line("disk", "Disk left", "look", said, "Less than a twentieth is left; make room soon.")
    return Line("disk", "Disk left", "good", said)


def _leftovers() -> Line:
    """What a backup or a restoring that was killed left behind: a copy of the whole database."""
    yesterday = timezone.now().timestamp() - 24 * 3600
    found = []
    for pattern in ("copying-*", "moving-*", "restoring-*"):
        for path in Path(settings.DATA_DIR).glob(pattern):
            if path.stat().st_mtime < yesterday:
                found.append(path.name)
    if not found:
        return Line("leftovers", "Left behind", "good", "Nothing.")
    said = f"{', '.join(sorted(found)[:5])} in {settings.DATA_DIR}, by a backup or a restoring that was cut off."
    return Line("leftovers", "Left behind", "look", said, "Delete what is older than a day; no record is in it.")


def _tables() -> Line:
    executor = MigrationExecutor(connection)
    plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    if not plan:
        return Line("tables", "Tables", "good", "They are those of this version.")
    said = f"{len(plan)} changes of this version are not made yet, the first {plan[0][0]}."
    return Line("tables", "Tables", "wrong", said, "Make a backup, then run manage.py migrate.")


def _guards() -> Line:
    missing = triggers.missing(connection)
    if not missing:
        return Line("guards", "Guards of the ledger", "good", "The database refuses changes of what was written.")
    said = f"The database has lost {len(missing)} of its triggers, such as {missing[0]}."
    return Line(
        "guards", "Guards of the ledger", "wrong", said, "Run manage.py migrate --skip-checks, then manage.py verify."
    )


def _clock() -> Line:
    kept = ChainHead.objects.values_list("recorded_at", flat=True).get(id=1)
    if kept and dt.datetime.fromisoformat(kept) > timezone.now() + CLOCK_SLACK:
        said = f"The last voucher was recorded at {kept}; this machine's clock is behind that."
        return Line("clock", "Clock", "wrong", said, "Set the clock. Vouchers keep their order meanwhile.")
    noted = unseen().count()
    if noted:
        said = "One note of the clocks waits" if noted == 1 else f"{noted} notes of the clocks wait"
        return Line("clock", "Clock", "look", f"{said} to be seen.", "What was noted stands below.")
    return Line("clock", "Clock", "good", "It agrees with the last voucher, and nothing was noted of any clock.")


def _zone() -> Line:
    """Days are the shop's; the server's own zone counts only until the shop has a row of its own."""
    own = Shop.objects.filter(id=1).first()
    if own is None:
        said = f"Days are cut in {settings.TIME_ZONE}, the server's own time zone: the shop has none yet."
        return Line(
            "zone", "Time zone", "look", said, "Set the shop's time zone on its page, before anything is sealed."
        )
    return Line("zone", "Time zone", "good", f"Days are cut in {own.timezone}, whatever the server's own time zone is.")


@dataclass(frozen=True)
class Noted:
    """What was noted of a clock, under which voucher, and when."""

    said: str
    voucher: int
    at: dt.datetime


def noted_of_clocks(most: int = 20) -> list[Noted]:
    """What was noted of clocks and nobody has seen yet, the latest first."""
    found = unseen().select_related("voucher").defer("voucher__detail")[:most]
    return [Noted(sentence(row), row.voucher_id, row.voucher.recorded) for row in found]


def _sign_ins() -> Line:
    count = AccessFailureLog.objects.filter(attempt_time__gte=timezone.now() - dt.timedelta(days=1)).count()
    said = "None failed since yesterday." if not count else f"{count} failed since yesterday."
    if count < MANY_FAILED:
        return Line("sign_ins", "Sign-ins", "good", said)
    how = "If nobody forgot a password, somebody guesses: see from where below, and close that way in."
    return Line("sign_ins", "Sign-ins", "look", said, how)
