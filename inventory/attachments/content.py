"""What an uploaded file really is. Pure: no Django here.

A file is judged by its content, never by its name: a PDF, or a JPEG, PNG or WebP picture. Pictures are drawn anew,
so that nothing but the picture stays: no place where it was taken, no program hidden behind it.
"""

import io
import re
from dataclasses import dataclass
from typing import BinaryIO

from PIL import Image, ImageOps, UnidentifiedImageError

from inventory.text.refusal import Refused

MOST_BYTES = 15 * 1024 * 1024
MOST_PIXELS = 60_000_000
LONGEST_SIDE = 2400
PICTURES = {"JPEG", "PNG", "WEBP"}
KINDS = {"application/pdf": "pdf", "image/jpeg": "jpg", "image/png": "png"}
WANTED = "Take a photo (JPEG, PNG or WebP), or a PDF."


@dataclass(frozen=True)
class Content:
    """type: its media type by what is in it; body: what is kept."""

    type: str
    body: bytes

    @property
    def suffix(self) -> str:
        return KINDS[self.type]


def examine(file: BinaryIO, size: int, pictures_only: bool = False) -> Content:
    """The content to keep of an uploaded file of so many bytes. Raises Refused, with what would be right."""
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
    return _picture(body)


def _picture(body: bytes) -> Content:
    try:
        with Image.open(io.BytesIO(body), formats=sorted(PICTURES)) as image:
            if image.width * image.height > MOST_PIXELS:
                raise Refused(
                    f"The picture has {image.width} x {image.height} points; {MOST_PIXELS // 1_000_000} million "
                    "are the most. Take it with a lower resolution.",
                    "file",
                )
            return _drawn_anew(image)
    except UnidentifiedImageError:
        raise Refused(f"This is neither a picture nor a PDF, whatever its name says. {WANTED}", "file") from None
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError, MemoryError):
        raise Refused(f"The picture is damaged or cut off. {WANTED}", "file") from None


def _drawn_anew(image: Image.Image) -> Content:
    upright = ImageOps.exif_transpose(image)
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    out = io.BytesIO()
    if image.format == "PNG":
        mode = "RGBA" if "A" in upright.getbands() or "transparency" in upright.info else "RGB"
        clean = Image.new(mode, upright.size)
        clean.paste(upright.convert(mode))
        clean.save(out, "PNG", optimize=True)
        return Content("image/png", out.getvalue())
    clean = Image.new("RGB", upright.size)
    clean.paste(upright.convert("RGB"))
    clean.save(out, "JPEG", quality=85, optimize=True)
    return Content("image/jpeg", out.getvalue())


def safe_name(name: str, suffix: str) -> str:
    """A file's name as it is offered for a download: letters, digits, blanks and -_. alone, with the ending of
    what it is."""
    stem = re.sub(r"[^\w\- .]", "", name.rpartition("/")[2].rpartition("\\")[2]).strip(" .") or "file"
    stem = stem.rpartition(".")[0] or stem
    return f"{stem[:80]}.{suffix}"
