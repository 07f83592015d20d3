"""How well the backups are kept: whether the last one lies on another disk, and whether one was restored on trial
lately. The limit of 30 days is common practice, no source."""

import datetime as dt
from dataclasses import dataclass

from django.db import connection
from django.utils import timezone

from inventory.ledger.models import ChainHead
from shopledger.backup.models import Upkeep

TRIAL_EVERY = dt.timedelta(days=30)
ELSEWHERE = "Make the nightly backup on a disk of its own, as shopledger/deploy/README.md says."
TRY = "Run manage.py restore --trial with the newest backup, or the folder of the backups."


@dataclass(frozen=True)
class Kept:
    """state: good; look (somebody should); wrong. said: what is so. advice: what to do, blank where nothing is."""

    name: str
    label: str
    state: str
    said: str
    advice: str = ""


def kept() -> list[Kept]:
    """Two questions to the database for each."""
    return [_apart(), _tried()]


def _apart() -> Kept:
    def so(state: str, said: str, advice: str = "") -> Kept:
        return Kept("apart", "Backup on another disk", state, said, advice)

    last = Upkeep.objects.filter(kind="backup", well=True).first()
    if last is None:
        return so("look" if has_entries() else "good", "No backup was made yet.", ELSEWHERE)
    if last.apart is None:
        return so("look", "Nobody can say on which disk the last backup lies.", ELSEWHERE)
    if not last.apart:
        return so("look", "The last backup is not on another disk: where this one dies, both are gone.", ELSEWHERE)
    if connection.vendor == "postgresql":
        said = "The last one lies on another disk than DATA_DIR. Where PostgreSQL keeps its own is not known here."
        return so("good", said, "See that it is not the disk of the backups.")
    return so("good", "The last one lies on another disk than the data.")


def _tried() -> Kept:
    def so(state: str, said: str, advice: str = "") -> Kept:
        return Kept("trial", "Backup restored on trial", state, said, advice)

    last = Upkeep.objects.filter(kind="trial").first()
    if last is None:
        return so("look" if has_entries() else "good", "None was restored on trial yet.", TRY)
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
