"""Real processes of this program, each with an environment of its own, that start in half the time.

Loading the libraries costs a processor more than a second, and the tests start some two hundred programs. So each is
forked from one process that has loaded them, and nothing of this program: settings are read anew in every one.
"""

import multiprocessing.forkserver
import os
import subprocess
import sys
import tempfile
from multiprocessing.connection import Connection
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
LONG = 600  # seconds: only what hangs takes them
MANAGE = "import runpy, sys; sys.argv = {!r}; runpy.run_path('manage.py', run_name='__main__')"

_server = multiprocessing.get_context("forkserver")
_server.set_forkserver_preload(["tests.libraries"])


class Forked:
    """One process that runs `code`. What it prints can be read as it comes."""

    def __init__(self, code: str, environment: dict[str, str]):
        reader, writer = _server.Pipe(duplex=False)
        handle, name = tempfile.mkstemp()
        os.close(handle)
        self._complaints = Path(name)
        self._process = _server.Process(target=_run, args=(code, environment, writer, name), daemon=True)
        self._process.start()
        writer.close()
        self.stdout = os.fdopen(os.dup(reader.fileno()), encoding="utf-8")
        reader.close()

    @property
    def pid(self) -> int:
        return self._process.pid

    def running(self) -> bool:
        return self._process.is_alive()

    def ended(self) -> subprocess.CompletedProcess:
        """Waits for its end: its exit status, and all that it printed and complained."""
        said = self.stdout.read()
        self._process.join(LONG)
        complaints = self._complaints.read_text(encoding="utf-8")
        self.kill()
        return subprocess.CompletedProcess("", self._process.exitcode, said, complaints)

    def kill(self) -> None:
        """Ends it, and lets go of all that belongs to it; what it printed is gone."""
        self._process.kill()
        self._process.join()
        self.stdout.close()
        self._complaints.unlink(missing_ok=True)


def manage(*words: object, environment: dict[str, str], before: str = "") -> subprocess.CompletedProcess:
    """`manage.py` with these words, to its end. before: code that the process runs first."""
    return Forked(f"{before}\n{MANAGE.format(['manage.py', *map(str, words)])}", environment).ended()


def end() -> None:
    """Wait for the one that they were forked from, so that what they cost is counted with the rest of a run."""
    multiprocessing.forkserver._forkserver._stop()


def _run(code: str, environment: dict[str, str], writer: Connection, complaints: str) -> None:
    os.environ.clear()
    os.environ.update(environment)
    os.chdir(ROOT)
    os.dup2(writer.fileno(), 1)
    writer.close()
    with open(complaints, "w") as file:
        os.dup2(file.fileno(), 2)
    sys.stdout, sys.stderr = (os.fdopen(number, "w", 1, encoding="utf-8", closefd=False) for number in (1, 2))
    exec(compile(code, "<code>", "exec"), {"__name__": "__main__"})
