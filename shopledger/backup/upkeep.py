"""How well the backups are kept: whether one was made lately, whether it lies on another disk, and whether one was
restored on trial lately. The limits of 2 days, for one each night, and of 30 are common practice, no source."""

import datetime as dt
from dataclasses import dataclass

from django.db import connection
from django.db.models import Subquery
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


def _latest(column: str, **of: object) -> Subquery:
    return Subquery(Upkeep.objects.filter(**of).values(column)[:1])


# What `judged` reads of the ledger's head: columns beside its own.
LATEST = {
    "backup_at": _latest("at", kind="backup"),
    "backup_well": _latest("well", kind="backup"),
    "backup_said": _latest("said", kind="backup"),
    "good_at": _latest("at", kind="backup", well=True),
    "good_apart": _latest("apart", kind="backup", well=True),
    "trial_at": _latest("at", kind="trial"),
    "trial_well": _latest("well", kind="trial"),
    "trial_said": _latest("said", kind="trial"),
}


def of_backups() -> list[Kept]:
    """All that is said of them, on every page in the same words. One question to the database."""
    return judged(ChainHead.objects.annotate(**LATEST).get(id=1))


def judged(head: ChainHead) -> list[Kept]:
    """head: with the columns of LATEST."""
    missing = "look" if head.number else "good"  # nothing was done yet: is there something to lose?
    return [_made(head), _apart(head, missing), _tried(head, missing)]


def _made(head: ChainHead) -> Kept:
    def so(state: str, said: str, advice: str = "") -> Kept:
        return Kept("backup", "Last backup", state, said, advice)

    if head.backup_at is None:
        return so("wrong" if head.number else "look", "None was made yet.", NIGHTLY)
    if not head.backup_well:
        last = f" The last good one was made {ago(head.good_at)}." if head.good_at else ""
        return so("wrong", head.backup_said + last, "Mend what it says, then run manage.py backup again.")
    old = timezone.now() - head.backup_at > BACKUP_EVERY
    return so("wrong" if old else "good", f"Made {ago(head.backup_at)}: {head.backup_said}", NIGHTLY if old else "")


def _apart(head: ChainHead, missing: str) -> Kept:
    def so(state: str, said: str, advice: str = "") -> Kept:
        return Kept("apart", "Backup on another disk", state, said, advice)

    if head.good_at is None:
        return so(missing, "It is known once one was made.", ELSEWHERE)
    if head.good_apart is None:
        return so("look", "Nobody can say on which disk the last backup lies.", ELSEWHERE)
    if not head.good_apart:
        return so("look", "The last backup is not on another disk: where this one dies, both are gone.", ELSEWHERE)
    if connection.vendor == "postgresql":
        said = "The last one lies on another disk than DATA_DIR. Where PostgreSQL keeps its own is not known here."
        return so("good", said, "See that it is not the disk of the backups.")
    return so("good", "The last one lies on another disk than the data.")


def _tried(head: ChainHead, missing: str) -> Kept:
    def so(state: str, said: str, advice: str = "") -> Kept:
        return Kept("trial", "Backup restored on trial", state, said, advice)

    if head.trial_at is None:
        return so(missing, "None was restored on trial yet.", TRY)
    if not head.trial_well:
        return so("wrong", head.trial_said, "Make a new backup at once, and try that one.")
    last = ago(head.trial_at)
    if timezone.now() - head.trial_at > TRIAL_EVERY:
        return so("look", f"No backup was proved by a restoring for {TRIAL_EVERY.days} days; the last {last}.", TRY)
    return so("good", f"Restored {last}: {head.trial_said}")


def ago(moment: dt.datetime) -> str:
    """How many days ago, for people."""
    days = (timezone.now() - moment).days
    return "today" if days < 1 else "a day ago" if days == 1 else f"{days} days ago"
