"""How well the backups are kept: whether one was made lately, whether it lies on another disk, and whether one was
restored on trial lately. The limits of 2 days, for one each night, and of 30 are common practice, no source."""

import datetime as dt
from dataclasses import dataclass

from django.db import connection
from django.utils import timezone

from inventory.ledger.models import ChainHead
from shopledger.backup.models import Upkeep

BACKUP_EVERY = dt.timedelta(days=2)
TRIAL_EVERY = dt.timedelta(days=30)
ELSEWHERE = "Make the nightly backup on a disk of its own, as shopledger/deploy/README.md says."
NIGHTLY = "Set up the nightly backup as the README says, on another disk."
TRY = "Run manage.py restore --trial with the newest backup, or the folder of the backups."


@dataclass(frozen=True)
class Kept:
    """state: good; look (somebody should); wrong. said: what is so. advice: what to do, blank where nothing is."""

    name: str
    label: str
    state: str
    said: str
    advice: str = ""


def of_backups() -> list[Kept]:
    """All that is said of them, on every page in the same words. Four questions to the database at most."""
    latest = good = Upkeep.objects.filter(kind="backup").first()
    if latest is not None and not latest.well:
        good = Upkeep.objects.filter(kind="backup", well=True).first()
    tried = Upkeep.objects.filter(kind="trial").first()
    # Nothing was done yet, and there is something to lose.
    missing = "look" if None in (good, tried) and has_entries() else "good"
    return [_made(latest, good, missing), _apart(good, missing), _tried(tried, missing)]


def _made(latest: Upkeep | None, good: Upkeep | None, missing: str) -> Kept:
    def so(state: str, said: str, advice: str = "") -> Kept:
        return Kept("backup", "Last backup", state, said, advice)

    if latest is None:
        return so("wrong" if missing == "look" else "look", "None was made yet.", NIGHTLY)
    if not latest.well:
        last = f" The last good one was made {ago(good.at)}." if good else ""
        return so("wrong", latest.said + last, "Mend what it says, then run manage.py backup again.")
    old = timezone.now() - latest.at > BACKUP_EVERY
    return so("wrong" if old else "good", f"Made {ago(latest.at)}: {latest.said}", NIGHTLY if old else "")


def _apart(last: Upkeep | None, missing: str) -> Kept:
    def so(state: str, said: str, advice: str = "") -> Kept:
        return Kept("apart", "Backup on another disk", state, said, advice)

    if last is None:
        return so(missing, "It is known once one was made.", ELSEWHERE)
    if last.apart is None:
        return so("look", "Nobody can say on which disk the last backup lies.", ELSEWHERE)
    if not last.apart:
        return so("look", "The last backup is not on another disk: where this one dies, both are gone.", ELSEWHERE)
    if connection.vendor == "postgresql":
        said = "The last one lies on another disk than DATA_DIR. Where PostgreSQL keeps its own is not known here."
        return so("good", said, "See that it is not the disk of the backups.")
    return so("good", "The last one lies on another disk than the data.")


def _tried(last: Upkeep | None, missing: str) -> Kept:
    def so(state: str, said: str, advice: str = "") -> Kept:
        return Kept("trial", "Backup restored on trial", state, said, advice)

    if last is None:
        return so(missing, "None was restored on trial yet.", TRY)
    if not last.well:
        return so("wrong", last.said, "Make a new backup at once, and try that one.")
    if timezone.now() - last.at > TRIAL_EVERY:
        return so(
            "look", f"No backup was proved by a restoring for {TRIAL_EVERY.days} days; the last {ago(last.at)}.", TRY
        )
    return so("good", f"Restored {ago(last.at)}: {last.said}")


def ago(moment: dt.datetime) -> str:
    """How many days ago, for people."""
    days = (timezone.now() - moment).days
    return "today" if days < 1 else "a day ago" if days == 1 else f"{days} days ago"


def has_entries() -> bool:
    """Whether there is anything yet that a backup would keep."""
    return ChainHead.objects.filter(number__gt=0).exists()
