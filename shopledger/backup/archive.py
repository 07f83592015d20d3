"""The file that a backup is: a ZIP of plain text, the same from SQLite and from PostgreSQL.

    tables/NAME.jsonl   a line of column names, then a line a row, each a JSON array
    files/PATH          what lies beside the database: uploads, issued papers
    backup.json         last: migrations, counts, the ledger's head, SHA-256 and size of every other file

An archive may hold one file more, which was made after its list and cannot stand in it: whoever reads it names it.

The ZIP's comment, its last 64 bytes, is the SHA-256 of all bytes before it: what ZIP itself does not protect
(headers, names) is protected so. Bytes are written as base64, moments in ISO 8601. No Django here.
"""

import base64
import contextlib
import datetime as dt
import hashlib
import json
import uuid
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from decimal import Decimal
from pathlib import Path

FORMAT = 1
MANIFEST = "backup.json"
CHUNK = 1 << 20
LONGEST_LIST = 1 << 28  # bytes, of the list of the files: a million of them take less
LONGEST_ROW = 1 << 26  # bytes
SEAL = 64  # hexadecimal digits of a SHA-256
UNREADABLE = (
    zipfile.BadZipFile,
    zlib.error,
    OSError,
    ValueError,
    EOFError,
    KeyError,
    NotImplementedError,
    RuntimeError,
)


class Damaged(Exception):
    """The file is not a backup of this program, or not as it was written. The message is a sentence."""


def plain(value: object) -> object:
    """A database value as JSON can hold it."""
    if value is None or isinstance(value, (bool, int, str, float, list, dict)):
        return value
    if isinstance(value, (dt.datetime, dt.date, dt.time)):
        return value.isoformat()
    if isinstance(value, (bytes, memoryview)):
        return base64.b64encode(bytes(value)).decode("ascii")
    if isinstance(value, (Decimal, uuid.UUID)):
        return str(value)
    if isinstance(value, dt.timedelta):
        return value.total_seconds()
    raise TypeError(f"no way to keep a {type(value).__name__}")


class Writer:
    """Writes one archive, a member after another, with flat memory."""

    def __init__(self, path: Path, manifest: str = MANIFEST):
        self._path, self._manifest = path, manifest
        self._zip = zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=3)
        self._zip.comment = b"0" * SEAL
        self.files: dict[str, dict[str, object]] = {}

    def member(self, name: str, chunks: Iterable[bytes]) -> None:
        digest, size = hashlib.sha256(), 0
        with self._zip.open(name, "w", force_zip64=True) as out:
            for chunk in chunks:
                out.write(chunk)
                digest.update(chunk)
                size += len(chunk)
        self.files[name] = {"sha256": digest.hexdigest(), "size": size}

    def rows(self, name: str, columns: list[str], rows: Iterable[Iterable[object]]) -> int:
        """A table; returns how many rows it had."""
        count = 0

        def lines() -> Iterator[bytes]:
            nonlocal count
            yield _line(columns)
            batch = []
            for row in rows:
                batch.append(_line([plain(value) for value in row]))
                count += 1
                if len(batch) == 1000:
                    yield b"".join(batch)
                    batch.clear()
            yield b"".join(batch)

        self.member(f"tables/{name}.jsonl", lines())
        return count

    def file(self, name: str, path: Path) -> None:
        with path.open("rb") as source:
            self.member(f"files/{name}", iter(lambda: source.read(CHUNK), b""))

    def enlist(self, manifest: dict[str, object]) -> bytes:
        """Write the list of the files so far; returns it."""
        listed = json.dumps({"format": FORMAT, **manifest, "files": self.files}, indent=1, ensure_ascii=False).encode()
        self._zip.writestr(self._manifest, listed)
        return listed

    def beside(self, name: str, body: bytes) -> None:
        """A file that was made after the list."""
        self._zip.writestr(name, body)

    def close(self, manifest: dict[str, object] | None = None) -> None:
        """End the file. manifest: what the list says, where it was not written before."""
        if manifest is not None:
            self.enlist(manifest)
        self._zip.close()
        digest = _digest_before_seal(self._path)
        with self._path.open("rb+") as file:
            file.seek(-SEAL, 2)
            file.write(digest)

    def abandon(self) -> None:
        """Let go of a file that could not be finished."""
        with contextlib.suppress(OSError, ValueError):
            self._zip.close()


def _digest_before_seal(path: Path) -> bytes:
    left, digest = path.stat().st_size - SEAL, hashlib.sha256()
    with path.open("rb") as file:
        while left > 0 and (chunk := file.read(min(CHUNK, left))):
            digest.update(chunk)
            left -= len(chunk)
    return digest.hexdigest().encode("ascii")


def _line(values: list[object]) -> bytes:
    return json.dumps(values, ensure_ascii=False, separators=(",", ":")).encode("utf-8", "surrogatepass") + b"\n"


class Reader:
    """An archive as it lies on the disk. Raises Damaged for one that cannot be read."""

    def __init__(self, path: Path, manifest: str = MANIFEST, beside: str = ""):
        """beside: the one file that is no part of the list."""
        self._path, self._manifest, self._beside = path, manifest, beside
        try:
            self._zip = zipfile.ZipFile(path)
            with self._zip.open(manifest) as listed:
                said = listed.read(LONGEST_LIST + 1)
            self.manifest = json.loads(said) if len(said) <= LONGEST_LIST else None
        except (*UNREADABLE, RecursionError) as error:
            raise Damaged(f"{path} cannot be read: {_reason(error)}.") from None
        if not _is_list(self.manifest):
            raise Damaged(f"{path} is not a file of this program, or one of a newer version.")

    def close(self) -> None:
        self._zip.close()

    def prove(self) -> None:
        """Read everything; raises Damaged naming the first file that is not as it was written."""
        named = self.manifest["files"]
        there = [name for name in self._zip.namelist() if name not in {self._manifest, self._beside}]
        beside = len(self._zip.namelist()) - len(there)
        for name in sorted(set(there) ^ set(named)):
            raise Damaged(f"{name} is {'missing' if name in named else 'not named in the list of its files'}.")
        if len(there) != len(named) or beside > 1 + bool(self._beside):
            raise Damaged("A file stands in it twice.")
        for name, written in named.items():
            digest, size = hashlib.sha256(), 0
            for chunk in self.chunks(name):
                digest.update(chunk)
                size += len(chunk)
                if size > written["size"]:  # however much is still packed into it: nobody reads that
                    break
            if (digest.hexdigest(), size) != (written["sha256"], written["size"]):
                raise Damaged(f"{name} is not as it was written.")
        self._prove_beside()
        if self._zip.comment != _digest_before_seal(self._path):
            raise Damaged("The file as a whole is not as it was written.")

    def _prove_beside(self) -> None:
        """Reading proves that it can be read."""
        size = 0
        for chunk in self.chunks(self._beside) if self._beside in self._zip.namelist() else ():
            size += len(chunk)
            if size > LONGEST_LIST:
                raise Damaged(f"{self._beside} is not as it was written.")

    def size(self) -> int:
        """Bytes of all its files, unpacked, as its list says."""
        return sum(written["size"] for written in self.manifest["files"].values())

    def chunks(self, name: str) -> Iterator[bytes]:
        try:
            with self._zip.open(name) as source:
                yield from iter(lambda: source.read(CHUNK), b"")
        except UNREADABLE as error:
            raise Damaged(f"{name} is not as it was written: {_reason(error)}.") from None

    def tables(self) -> dict[str, int]:
        return dict(self.manifest["tables"])

    def rows(self, table: str) -> tuple[list[str], Iterator[list[object]]]:
        """The columns of a table, and its rows. Raises Damaged, also later, for what no such table holds."""
        try:
            source = self._zip.open(f"tables/{table}.jsonl")
        except UNREADABLE as error:
            raise Damaged(f"The table {table} cannot be read: {_reason(error)}.") from None
        columns = _values(table, source.readline(LONGEST_ROW))
        if not all(isinstance(column, str) for column in columns):
            raise Damaged(f"The table {table} does not begin with the names of its columns.")

        def lines() -> Iterator[list[object]]:
            with source:
                while line := source.readline(LONGEST_ROW):
                    row = _values(table, line)
                    if len(row) != len(columns):
                        raise Damaged(f"The table {table} has a row of {len(row)} values for {len(columns)} columns.")
                    yield row

        return columns, lines()

    def outside(self) -> list[str]:
        """Paths of the files beside the database, as the list names them."""
        return [name.removeprefix("files/") for name in self.manifest["files"] if name.startswith("files/")]


def _is_list(said: object) -> bool:
    """Whether it is the list of an archive: of this form, and a digest and a size for each file."""
    if not isinstance(said, dict) or said.get("format") != FORMAT or not isinstance(said.get("files"), dict):
        return False
    return all(
        isinstance(one, dict)
        and isinstance(one.get("sha256"), str)
        and type(one.get("size")) is int
        and one["size"] >= 0
        for one in said["files"].values()
    )


def _values(table: str, line: bytes) -> list[object]:
    if line.endswith(b"\n"):
        with contextlib.suppress(ValueError, RecursionError):
            row = json.loads(line.decode("utf-8", "surrogatepass"))
            if isinstance(row, list):
                return row
    raise Damaged(f"The table {table} holds a line that is no row.")


def _reason(error: Exception) -> str:
    return (getattr(error, "strerror", None) or str(error) or type(error).__name__).rstrip(".")
