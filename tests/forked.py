"""Real processes of this program on a database of their own, forked from one that has loaded it.

Loading it takes a processor two seconds, of which a test that starts six programs would spend twelve.
"""

import multiprocessing
import os
import textwrap
from multiprocessing.connection import Connection

from tests.shopledger.site import LONG

_server = multiprocessing.get_context("forkserver")
_server.set_forkserver_preload(["tests.posting"])


class Forked:
    """One process that runs `code` with the names of `tests/posting.py`; what it prints can be read."""

    def __init__(self, code: str, database: str):
        reader, writer = _server.Pipe(duplex=False)
        self._process = _server.Process(target=_run, args=(textwrap.dedent(code), database, writer), daemon=True)
        self._process.start()
        writer.close()
        self.out = os.fdopen(os.dup(reader.fileno()), encoding="utf-8")
        reader.close()

    def ended(self) -> tuple[int, str]:
        """Its exit status, and all that it printed."""
        text = self.out.read()
        self._process.join(LONG)
        return self._process.exitcode, text.strip()

    def kill(self) -> None:
        self._process.kill()
        self._process.join()
        self.out.close()


def _run(code: str, database: str, writer: Connection) -> None:
    from tests import posting

    os.dup2(writer.fileno(), 1)
    os.dup2(writer.fileno(), 2)
    writer.close()
    posting.connection.settings_dict["NAME"] = database
    exec(code, vars(posting))
