"""A program of its own: reads a picture, and writes it drawn anew. Run by `pictures.py`; imports Pillow alone.

    python -I redraw.py MEMORY CPU LONGEST KIND=POINTS ... < picture > answer

MEMORY: bytes of address space; CPU: seconds; where the platform has such limits they bind before the first byte is
read. LONGEST: points of the longest side of what is kept. KIND=POINTS: the kinds that are read, each with the most
points that one may have. The answer is a line of words, then the picture where there is one:

    kept jpg | kept png            and the picture after the line
    refused large WIDTH HEIGHT MOST
    refused moving | refused memory | refused damaged | refused neither

Whatever a picture's decoder does to this process, it is not the web server's.
"""

import io
import sys
from collections.abc import Mapping


class Unfit(Exception):
    """Words of the answer."""


def answer(body: bytes, longest: int, most: Mapping[str, int]) -> bytes:
    from PIL import Image, UnidentifiedImageError

    Image.MAX_IMAGE_PIXELS = None  # judged here, by kind
    try:
        size = webp_size(body)
        if size:  # its decoder takes memory for the whole picture as soon as it is opened
            judge(*size, most["WEBP"])
        with Image.open(io.BytesIO(body), formats=sorted(most)) as image:
            kind = image.format if image.format in most else "JPEG"  # MPO: a JPEG with others behind it
            judge(image.width, image.height, most[kind])
            if kind != "JPEG" and getattr(image, "is_animated", False):
                raise Unfit("moving")
            return drawn(image, kind, longest)
    except Unfit as unfit:
        return f"refused {unfit}\n".encode()
    except UnidentifiedImageError:
        return b"refused neither\n"
    except MemoryError:
        return b"refused memory\n"
    except (OSError, ValueError, SyntaxError, OverflowError, IndexError, KeyError, TypeError, EOFError):
        return b"refused damaged\n"


def judge(width: int, height: int, most: int) -> None:
    if width * height > most:
        raise Unfit(f"large {width} {height} {most}")


def webp_size(body: bytes) -> tuple[int, int] | None:
    """Width and height that a WebP file says at its beginning (RFC 9649, section 2); None for another file."""
    if body[:4] != b"RIFF" or body[8:12] != b"WEBP" or len(body) < 30:
        return None
    kind = body[12:16]
    if kind == b"VP8X":
        return 1 + int.from_bytes(body[24:27], "little"), 1 + int.from_bytes(body[27:30], "little")
    if kind == b"VP8L":
        bits = int.from_bytes(body[21:25], "little")
        return 1 + (bits & 0x3FFF), 1 + (bits >> 14 & 0x3FFF)
    return int.from_bytes(body[26:28], "little") & 0x3FFF, int.from_bytes(body[28:30], "little") & 0x3FFF


def drawn(image, kind: str, longest: int) -> bytes:
    """Made smaller first, so that what follows handles few points."""
    from PIL import Image, ImageOps

    if kind == "JPEG":
        image.draft(None, (longest, longest))  # the decoder itself leaves out what is not shown
    elif image.mode in {"P", "1"}:  # a palette cannot be made smaller
        image = image.convert("RGBA" if "transparency" in image.info else "RGB")
    image.thumbnail((longest, longest))
    upright = ImageOps.exif_transpose(image)
    mode = "RGB"
    if kind == "PNG" and ("A" in upright.getbands() or "transparency" in upright.info):
        mode = "RGBA"
    clean = Image.new(mode, upright.size)
    clean.paste(upright.convert(mode))
    out = io.BytesIO()
    if kind == "PNG":
        clean.save(out, "PNG", optimize=True)
        return b"kept png\n" + out.getvalue()
    clean.save(out, "JPEG", quality=85, optimize=True)
    return b"kept jpg\n" + out.getvalue()


def limit(memory: int, cpu: int) -> None:
    try:
        import resource
    except ImportError:  # Windows has none: there the number of points alone bounds it
        return
    for name, most in (("RLIMIT_AS", memory), ("RLIMIT_CPU", cpu), ("RLIMIT_CORE", 0), ("RLIMIT_FSIZE", 0)):
        _, hard = resource.getrlimit(getattr(resource, name))
        if hard == resource.RLIM_INFINITY or most < hard:
            resource.setrlimit(getattr(resource, name), (most, most))


def main(memory: str, cpu: str, longest: str, *kinds: str) -> None:
    limit(int(memory), int(cpu))
    most = {kind: int(points) for kind, _, points in (one.partition("=") for one in kinds)}
    sys.stdout.buffer.write(answer(sys.stdin.buffer.read(), int(longest), most))


if __name__ == "__main__":
    main(*sys.argv[1:])
