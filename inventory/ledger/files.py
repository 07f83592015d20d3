"""Files beside the database whose SHA-256 stands in the record."""

import hashlib
from pathlib import Path

from inventory.text.refusal import Refused


def read_kept(path: Path, sha256: str, what: str, became: str) -> bytes:
    """A file, proved by its digest. Raises Refused where it is not what it was when it `became`, e.g. attached."""
    try:
        body = path.read_bytes()
    except OSError:
        body = b""
    if hashlib.sha256(body).hexdigest() != sha256:
        raise Refused(f"{what} is missing or not as it was {became}; restore it from a backup.")
    return body
