"""Long work beside the pages: one process of this program for each piece, which tells how far it is in a file.

The state of the work stands in the database and its progress in DATA_DIR, so that any server process can show it,
and closing the page stops nothing. Work whose process ended without a word is seen by its silence.
"""

import contextlib
import json
import os
import subprocess
import sys
import time
from pathlib import Path

from django.conf import settings

SILENCE_S = 60  # a process that says nothing for so long is gone


def start(command: str, *words: str) -> None:
    """Run a management command and do not wait for it."""
    if settings.BACKGROUND == "here":  # tests: their database is theirs alone
        from django.core.management import CommandError, call_command

        with contextlib.suppress(CommandError):  # as little as a process of its own would it break the page
            call_command(command, *words)
        return
    line = [sys.executable, str(settings.BASE_DIR / "manage.py"), command, *words]
    flags = {"creationflags": 0x00000008} if os.name == "nt" else {"start_new_session": True}
    subprocess.Popen(  # noqa: S603 (our own command)
        line, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, **flags
    )


class Progress:
    """How far a piece of work is: `done` of `total`, in a file that is replaced whole."""

    def __init__(self, path: Path):
        self.path = path
        self._last = 0.0

    def say(self, done: int, total: int, force: bool = False) -> None:
        if not force and time.monotonic() - self._last < 0.5:
            return
        self._last = time.monotonic()
        self.path.parent.mkdir(parents=True, exist_ok=True)
        unfinished = self.path.with_suffix(".new")
        unfinished.write_text(json.dumps([done, total]), encoding="utf-8")
        os.replace(unfinished, self.path)

    def read(self) -> tuple[int, int] | None:
        try:
            done, total = json.loads(self.path.read_text(encoding="utf-8"))
            return done, total
        except (OSError, ValueError):
            return None

    def silent(self, since: float) -> bool:
        """Whether nothing was said for long. since: when the work was asked for, as a Unix time."""
        with contextlib.suppress(OSError):
            since = max(since, self.path.stat().st_mtime)
        return time.time() - since > SILENCE_S
