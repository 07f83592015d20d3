"""The files beside the database that belong to the records: those that a record names, and no others. In their folders
may lie what a killed process left, and files of another shop.

Each lies in one of two folders, by the SHA-256 of its bytes; a restoring writes nothing else, and nowhere else.
"""

import hashlib
import os
import re
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from django.conf import settings

from inventory.text.refusal import Refused
from shopledger.backup import archive

# Each answers the files that its room's records name: the place in the folder of the data, and the path on the disk.
sources: list[Callable[[], Iterator[tuple[str, Path]]]] = []
PLACE = re.compile(r"(?P<folder>uploads|issued)/(?P<part>[0-9a-f]{2})/(?P<sha256>(?P=part)[0-9a-f]{62})", re.ASCII)
NAMED = 20


def outside_files() -> list[tuple[str, Path]]:
    """All of them, once each, as the records name them now."""
    return sorted({place: path for source in sources for place, path in source()}.items())


def refuse_strange(places: Iterable[str], called: str) -> None:
    """Raises Refused where one of these is no place of an upload or an issued paper. called: who names it."""
    for place in places:
        if not PLACE.fullmatch(place):
            raise Refused(
                f"{called} {place!r}, which is no upload and no issued paper: such a file lies under uploads or issued "
                "by the SHA-256 of its bytes, and nothing else is written beside the database.",
                "file",
            )


def refuse_links() -> None:
    """Raises Refused where a folder that would be written into leads out of the folder of the data."""
    for folder in ("uploads", "issued"):
        for path in (settings.DATA_DIR / folder, *(settings.DATA_DIR / folder).glob("??")):
            if path.is_symlink() or (path.exists() and not path.is_dir()):
                raise Refused(
                    f"{path} is a link or no folder, and a restoring writes only into folders of {settings.DATA_DIR} "
                    "itself. Put a folder there; another disk can be mounted in its place.",
                    "file",
                )


def put_files(reader: archive.Reader) -> None:
    """Write each file of a backup that a record of this database names and that is not there yet, or not as it should
    be; whole or not at all. One whose bytes are not those that its name says is nobody's file."""
    refuse_links()
    wanted = {place for place, _ in outside_files()}
    for place in reader.outside():
        found = PLACE.fullmatch(place)
        if not found or place not in wanted or found["sha256"] != reader.manifest["files"][f"files/{place}"]["sha256"]:
            continue
        target = settings.DATA_DIR / place
        if not target.is_symlink() and target.is_file() and digest_of(target) == found["sha256"]:
            target.touch()  # what nobody names yet is swept away once it is old
            continue
        _put(target, reader.chunks(f"files/{place}"))


def _put(target: Path, chunks: Iterable[bytes]) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    unfinished = target.with_name(f".unfinished-{os.getpid()}-{target.name}")
    try:
        with open(os.open(unfinished, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
            for chunk in chunks:
                out.write(chunk)
            out.flush()
            os.fsync(out.fileno())
        os.replace(unfinished, target)  # of a link: the link itself, and not what it leads to
    finally:
        unfinished.unlink(missing_ok=True)


def digest_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def named(places: list[str], one: str, several: str) -> str:
    """A sentence that names some of them. one, several: what befell it, or them."""
    head, befell = ("One file", one) if len(places) == 1 else (f"{len(places)} files", several)
    rest = f" and {len(places) - NAMED} more" if len(places) > NAMED else ""
    return f"{head} that the records name {befell}: {', '.join(places[:NAMED])}{rest}."
