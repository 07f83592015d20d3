"""How the shop's records are kept: what an owner should know, each line with whether it is well."""

import datetime as dt
import platform
import shutil
from dataclasses import dataclass

import django
from axes.models import AccessFailureLog
from django.conf import settings
from django.db import connection
from django.utils import timezone

from inventory.ledger.queries import head
from shopledger.health.models import SlowPage
from shopledger.keeping.models import Deed

BACKUP_DAYS, VERIFY_DAYS = 2, 8
DISK_LEFT = 1 << 30
FAILED_MANY = 20


@dataclass(frozen=True)
class Line:
    """about: what; said: how it stands; well: whether nothing is to be done; todo: what is, else blank."""

    about: str
    said: str
    well: bool
    todo: str = ""


def lines() -> list[Line]:
    """Every line of the page and of the command; a fixed number of questions."""
    return [_deed("backup", "Last backup", BACKUP_DAYS), _deed("verify", "Last proof of the ledger", VERIFY_DAYS),
            _disk(), _failed(), _slow(), *_versions()]  # fmt: skip


TODO = {
    "backup": "Run manage.py backup FOLDER, each night; the README says how in two lines.",
    "verify": "Run manage.py verify, once a week.",
}


def _deed(kind: str, about: str, days: int) -> Line:
    found = Deed.objects.filter(kind=kind).first()
    if found is None:
        return Line(about, "never", False, TODO[kind])
    age = timezone.now() - found.at
    said = f"{timezone.localtime(found.at):%Y-%m-%d %H:%M}: {found.said}"
    if not found.well:
        return Line(about, said, False, "It failed; see what it says, and run it again.")
    return Line(about, said, age <= dt.timedelta(days=days), "" if age <= dt.timedelta(days=days) else TODO[kind])


def _disk() -> Line:
    usage = shutil.disk_usage(settings.DATA_DIR)
    said = f"{usage.free / 1e9:.1f} GB free of {usage.total / 1e9:.1f} GB where the records lie"
    return Line("Disk", said, usage.free >= DISK_LEFT, "" if usage.free >= DISK_LEFT else "Free some room.")


def _failed() -> Line:
    since = timezone.now() - dt.timedelta(days=7)
    count = AccessFailureLog.objects.filter(attempt_time__gte=since).count()
    well = count < FAILED_MANY
    todo = "" if well else "Look at who tries, in the list below; set new passwords where you are in doubt."
    return Line("Failed sign-ins in 7 days", str(count), well, todo)


def _slow() -> Line:
    since = timezone.now() - dt.timedelta(days=7)
    found = SlowPage.objects.filter(at__gte=since)
    worst = found.order_by("-milliseconds").first()
    said = f"{found.count()}, the slowest {worst} " if worst else "none"
    return Line("Slow pages in 7 days", said.strip(), True)


def _versions() -> list[Line]:
    number, digest = head()
    version = ".".join(map(str, connection.get_database_version()))
    return [
        Line("Ledger", f"voucher {number}, digest {digest}", True),
        Line("Database", f"{connection.display_name} {version}", True),
        Line("Python and Django", f"{platform.python_version()}, {django.get_version()}", True),
    ]


def failures(most: int = 30) -> list[AccessFailureLog]:
    return list(AccessFailureLog.objects.order_by("-attempt_time")[:most])
