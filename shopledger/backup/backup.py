"""Making a backup while people post, and thinning out old ones."""

import datetime as dt
import os
import re
import sqlite3
from contextlib import suppress
from pathlib import Path

import django
from django.apps import apps
from django.conf import settings
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder
from django.db.models import Model
from django.utils import timezone

from inventory.attachments.erasing import sweep
from inventory.ledger.erasing import write_list
from inventory.ledger.models import ChainHead
from inventory.ledger.snapshot import standing_copy
from inventory.text.refusal import Refused
from shopledger.backup import archive
from shopledger.backup.models import note
from shopledger.backup.outside import named, outside_files

# Who is signed in just now is nobody's record; and all PINs of six digits can be tried on a hash within days.
PASSING = {"django_session", "shopledger_signin", "shopledger_standing", "shopledger_phone", "shopledger_pin"}
NAME = re.compile(r"shopledger-(\d{8}T\d{6})-[0-9a-f]{64}\.zip")


def _sweep(folder: Path) -> None:
    """Take away what a backup that was killed left more than a day ago: half a file."""
    old = timezone.now().timestamp() - 24 * 3600
    with suppress(OSError):
        for path in folder.glob(".unfinished-*.zip"):
            if path.stat().st_mtime < old:
                path.unlink()


def back_up(path: Path) -> dict[str, object]:
    """As `write_backup`, noted with its outcome, and with what was erased listed beside it."""
    folder = path if path.is_dir() else path.parent
    try:
        manifest = write_backup(path)
    except NotWritten as failed:
        note("backup", False, f"The backup to {folder} failed: {failed.why}.", apart=on_another_disk(folder))
        raise
    write_list(folder)
    sweep()
    said = f"{manifest['path']}: {manifest['head']['number']} vouchers. {missing_from(manifest)}".strip()
    note("backup", True, said, apart=on_another_disk(folder))
    return manifest


class NotWritten(Refused):
    """The disk took no backup. why: what it said."""

    def __init__(self, folder: Path, why: str):
        super().__init__(
            f"The backup could not be written to {folder}: {why}. Nothing was left there; free some room or name "
            "another place.",
            "file",
        )
        self.why = why


def write_backup(path: Path) -> dict[str, object]:
    """Write a backup to `path`, a file that is not there yet, or into a folder under a name that says when it was
    made and the ledger's head. Writes nothing to the database. Returns its manifest with its path. Raises Refused
    where that cannot be."""
    if path.is_dir():
        folder, name = path, None
    else:
        folder, name = path.parent, path.name
    if not folder.is_dir():
        raise Refused(f"There is no folder {folder}; make it first, or name another.", "file")
    if name and path.exists():
        raise Refused(f"{path} is there already; a backup never takes another's place. Name a new file.", "file")
    made_at = timezone.now()
    _sweep(folder)
    unfinished = folder / f".unfinished-{os.getpid()}-{made_at:%Y%m%dT%H%M%S%f}.zip"
    try:
        manifest = _write(unfinished, made_at)
        reader = archive.Reader(unfinished)
        reader.prove()  # what cannot be read back is no backup
        reader.close()
        with unfinished.open("rb+") as file:
            os.fsync(file.fileno())
        name = name or f"shopledger-{made_at:%Y%m%dT%H%M%S}-{manifest['head']['digest']}.zip"
        try:
            os.link(unfinished, folder / name)  # refuses to replace, unlike rename
        except FileExistsError:
            raise Refused(f"{folder / name} is there already; name a new file.", "file") from None
        except OSError:  # a disk without links, such as a memory stick
            os.rename(unfinished, folder / name)
    except (OSError, sqlite3.Error) as error:
        raise NotWritten(folder, getattr(error, "strerror", None) or str(error)) from None
    finally:
        unfinished.unlink(missing_ok=True)
    return {**manifest, "path": folder / name}


def on_another_disk(folder: Path) -> bool | None:
    """Whether a folder lies on another disk than the folder of the data; None where neither can be asked. What the
    folders of one disk are called says nothing: two mounts of it are one disk by their device number."""
    try:
        return folder.stat().st_dev != settings.DATA_DIR.stat().st_dev
    except OSError:
        return None


def missing_from(manifest: dict[str, object]) -> str:
    """What a backup could not hold, in a sentence; blank where it holds all."""
    missing = manifest["missing"]
    return named(missing, "is missing, and is not in it", "are missing, and are not in it") if missing else ""


def _write(path: Path, made_at: dt.datetime) -> dict[str, object]:
    writer = archive.Writer(path)
    try:
        with standing_copy():
            head = ChainHead.objects.get(id=1)
            tables = {}
            for model in kept_models():
                fields = model._meta.concrete_fields
                rows = model._base_manager.order_by("pk").values_list(*(f.attname for f in fields))
                columns = [field.column for field in fields]
                tables[model._meta.db_table] = writer.rows(model._meta.db_table, columns, rows.iterator(2000))
            applied = sorted(MigrationRecorder(connection).applied_migrations())
            outside = outside_files()
        missing = []
        for name, file in outside:  # named by what is in them: a moment later they are the same
            try:
                writer.file(name, file)
            except FileNotFoundError:  # what is left is to be kept all the more
                missing.append(name)
        manifest = {
            "made_at": made_at.isoformat(),
            "django": django.get_version(),
            "database": connection.vendor,
            "migrations": applied,
            "head": {"ledger_id": head.ledger_id, "number": head.number, "digest": head.digest},
            "tables": tables,
            "missing": missing,
        }
        writer.close(manifest)
        return {**manifest, "files": writer.files}
    except BaseException:
        writer.abandon()
        raise


def kept_models() -> list[type[Model]]:
    """Every table of the program, in a steady order."""
    models = apps.get_models(include_auto_created=True)
    found = [model for model in models if model._meta.managed and not model._meta.proxy]
    return sorted((m for m in found if m._meta.db_table not in PASSING), key=lambda model: model._meta.db_table)


def thin_out(folder: Path, days: int, months: int) -> list[Path]:
    """Delete backups of our own naming from a folder: all of the last `days` days stay, before that the first of
    each month for `months` months, and always the newest one. Returns what was deleted."""
    found = sorted((path for path in folder.iterdir() if NAME.fullmatch(path.name)), key=lambda path: path.name)
    now = timezone.now().replace(tzinfo=None)
    stay, first_of_month = set(found[-1:]), set()
    for path in found:
        made = dt.datetime.strptime(NAME.fullmatch(path.name)[1], "%Y%m%dT%H%M%S")
        month = made.year * 12 + made.month
        first = month not in first_of_month
        first_of_month.add(month)
        young = now.year * 12 + now.month - month <= months
        if now - made <= dt.timedelta(days=days) or (first and young):
            stay.add(path)
    gone = [path for path in found if path not in stay]
    for path in gone:
        path.unlink()
    return gone
