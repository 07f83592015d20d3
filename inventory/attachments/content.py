"""What an uploaded file really is. Pure: no Django here.

A file is judged by its content, never by its name: a PDF, or a JPEG, PNG or WebP picture. Pictures are drawn anew,
so that nothing but the picture stays: no place where it was taken, no program hidden behind it.
"""

import io
import re
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from PIL import Image

from inventory.attachments.pictures import LONGEST_SIDE, drawn_anew
from inventory.text.refusal import Refused

MOST_BYTES = 15 * 1024 * 1024
KINDS = {"application/pdf": "pdf", "image/jpeg": "jpg", "image/png": "png"}
TYPES = {ending: type for type, ending in KINDS.items()}
WANTED = "Take a photo (JPEG, PNG or WebP), or a PDF."


@dataclass(frozen=True)
class Content:
    """type: its media type by what is in it; body: what is kept."""

    type: str
    body: bytes

    @property
    def suffix(self) -> str:
        return KINDS[self.type]


def examine(file: BinaryIO, size: int, lock: Path, pictures_only: bool = False) -> Content:
    """The content to keep of an uploaded file of so many bytes. lock: the file at which pictures wait for each other.
    Raises Refused, with what would be right."""
    if size > MOST_BYTES:
        most = MOST_BYTES // 1024 // 1024
        raise Refused(f"The file is {size / 1024 / 1024:.0f} MB large; {most} MB are the most. {WANTED}", "file")
    body = file.read(MOST_BYTES + 1)
    if not body:
        raise Refused(f"The file is empty. {WANTED}", "file")
    if body.startswith(b"%PDF-"):
        if pictures_only:
            raise Refused("This is a PDF; a photo is wanted here.", "file")
        if b"%%EOF" not in body[-2048:]:
            raise Refused("This PDF is cut off; its end is missing. Save it again and take that.", "file")
        return Content("application/pdf", body)
    return _picture(body, lock)


def _picture(body: bytes, lock: Path) -> Content:
    try:
        ending, kept = drawn_anew(body, lock)
    except Refused as refused:
        raise Refused(f"{refused.message} {WANTED}", "file") from None
    return Content(TYPES[ending], kept)


def fit_to_draw(body: bytes) -> bool:
    """Whether a picture is one that `examine` gave: it says so itself at its beginning, before anything is decoded.
    One that a forged backup put in its place need not be."""
    try:
        with Image.open(io.BytesIO(body), formats=["JPEG", "PNG"]) as image:
            return max(image.size) <= LONGEST_SIDE
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        return False


def safe_name(name: str, suffix: str) -> str:
    """A file's name as it is offered for a download: letters, digits, blanks and -_. alone, with the ending of
    what it is."""
    stem = re.sub(r"[^\w\- .]", "", name.rpartition("/")[2].rpartition("\\")[2]).strip(" .") or "file"
    stem = stem.rpartition(".")[0] or stem
    return f"{stem[:80]}.{suffix}"
