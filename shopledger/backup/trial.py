"""A restoring on trial: a backup is loaded and proved in a database that is thrown away. What was never restored may
be no backup."""

import tempfile
from contextlib import closing
from pathlib import Path
from urllib.parse import quote

from inventory.text.refusal import Refused
from shopledger.backup import outside
from shopledger.backup.backup import NAME
from shopledger.backup.models import note
from shopledger.backup.restore import Stage
from shopledger.backup.staging import prove


def try_out(path: Path) -> str:
    """Restore a backup, or the newest of a folder, into a file of its own, in a process of its own, and note on which
    day that was done and what came of it. Returns it in a sentence. Raises Refused where the backup does not
    restore."""
    path = _newest(path) if path.is_dir() else path
    try:
        with closing(prove(path)) as reader, tempfile.TemporaryDirectory(prefix="trial-") as folder:
            file = Path(folder) / "trial.sqlite3"
            Stage(f"sqlite:///{quote(str(file))}").run(path, "--into-empty")
            manifest = reader.manifest
    except Refused as refused:
        note("trial", False, f"{path.name} does not restore: {refused.message}")
        raise
    head, missing = manifest["head"], manifest.get("missing", [])
    said = f"{path.name} of {manifest['made_at'][:10]}: {head['number']} vouchers, and the ledger holds in it."
    if missing:
        said += " " + outside.named(missing, "is missing, and is not in it", "are missing, and are not in it")
    note("trial", True, said)
    return f"Restored on trial, and thrown away again: {said} Its head is {head['digest']}."


def _newest(folder: Path) -> Path:
    found = sorted((path for path in folder.iterdir() if NAME.fullmatch(path.name)), key=lambda path: path.name)
    if not found:
        raise Refused(f"No backup lies in {folder}; name one, or the folder that they are made in.", "file")
    return found[-1]
