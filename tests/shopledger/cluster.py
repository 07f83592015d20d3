"""A PostgreSQL server of a test's own, where its programs are installed."""

import os
import shutil
import socket
import subprocess
import tempfile
import time
from pathlib import Path

import psycopg
import pytest

from tests.forked import LONG


def _programs() -> Path:
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    on_path = shutil.which("initdb")
    if not found and not on_path:
        pytest.skip("the programs of a PostgreSQL server are not installed")
    return (found[-1] if found else Path(on_path).resolve()).parent


class Cluster:
    """A server in a folder, on a port of its own. As root it runs as the user postgres: it refuses to run as root."""

    def __init__(self, copied_from: "Cluster | None" = None, base: Path | None = None):
        self.programs = _programs()
        self.base = base or Path(tempfile.mkdtemp(prefix="cluster-"))
        if os.geteuid() == 0:
            shutil.chown(self.base, "postgres")
        self.folder = self.base / "data"
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        if copied_from is None:
            words = ["-U", "postgres", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8", "--wal-segsize=1"]
            self._do("initdb", "-D", self.folder, *words)
        else:
            source = ["-h", "127.0.0.1", "-p", copied_from.port, "-U", "postgres"]
            self._do("pg_basebackup", *source, "-D", self.folder, "-R", "-X", "stream", "--checkpoint=fast")
        self.start()

    def _do(self, program: str, *words: object) -> None:
        line = [str(self.programs / program), *map(str, words)]
        if os.geteuid() == 0:
            line = ["runuser", "-u", "postgres", "--", *line]
        # Not through a pipe: the server would hold it open.
        with (self.base / "said").open("w+") as said:
            done = subprocess.run(line, cwd=self.base, stdout=said, stderr=said, timeout=LONG)
            assert done.returncode == 0, (self.base / "said").read_text()

    def start(self) -> None:
        options = f"-p {self.port} -c listen_addresses=127.0.0.1 -c unix_socket_directories={self.base} "
        options += "-c min_wal_size=2MB -c max_wal_size=16MB"
        self._do("pg_ctl", "-D", self.folder, "-w", "-l", self.base / "log", "-o", options, "start")

    def stop(self, how: str = "immediate") -> None:
        self._do("pg_ctl", "-D", self.folder, "-m", how, "-w", "stop")

    def running(self) -> bool:
        try:
            return bool(self.sql("SELECT 1"))
        except psycopg.Error:
            return False

    def revive(self) -> None:
        """Wait for a server that comes back by itself after it failed; start one that does not."""
        for _ in range(50):
            if self.running():
                return
            time.sleep(0.1)
        self._halt()
        self.start()

    def promote(self) -> None:
        self._do("pg_ctl", "-D", self.folder, "-w", "promote")

    def url(self, name: str = "postgres") -> str:
        return f"postgres://postgres@127.0.0.1:{self.port}/{name}"

    def sql(self, statement: str, name: str = "postgres") -> list[tuple]:
        with psycopg.connect(self.url(name), autocommit=True) as connection:
            cursor = connection.execute(statement)
            return cursor.fetchall() if cursor.description else []

    def throw_out(self, name: str, which: str = "") -> int:
        """End everybody's connection to a database, or those that fit a condition, and wait until it has
        ended. Returns how many it were."""
        return len(
            self.sql(
                f"SELECT pg_terminate_backend(pid, 60000) FROM pg_stat_activity WHERE datname = '{name}' "
                f"AND pid <> pg_backend_pid() {which}"
            )
        )

    def _halt(self) -> None:
        subprocess.run(
            [
                *(["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []),
                self.programs / "pg_ctl",
                "-D",
                self.folder,
                "-m",
                "immediate",
                "stop",
            ],
            cwd=self.base,
            capture_output=True,
        )

    def end(self) -> None:
        self._halt()
        shutil.rmtree(self.base, ignore_errors=True)
