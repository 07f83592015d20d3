"""Drawing an uploaded picture anew, in a process of its own with limits, one picture after another. No Django here.

A file of a few bytes can hold a picture of a gigabyte. So its size is judged before it is decoded, and it is decoded
where a limit of memory and one of processor time end what the judging missed. All processes of a machine wait for each
other at one lock: however many pictures arrive, the memory of one is what they take.
"""

import subprocess
from pathlib import Path

from filelock import FileLock, Timeout

from inventory.text.child import said_by_child
from inventory.text.refusal import Refused

# Points (width x height) of a file. The cameras of phones take up to 50 million, as JPEG, whose decoder makes them
# smaller as it reads: measured 110 MB for 50 million, 360 MB where all of it is needed at once (progressive, no
# subsampling). PNG and WebP are what screens and pages give; their decoders need 6 and 16 bytes a point.
MOST_POINTS = {"JPEG": 60_000_000, "PNG": 20_000_000, "WEBP": 20_000_000}
LONGEST_SIDE = 2400
MEMORY = 400 * 1024 * 1024  # bytes of address space; Python and Pillow are 26 MB of it
CPU_S = 30
LIFE_S = 120  # also where it does nothing
PATIENCE_S = 60  # how long one waits for the pictures before it
CHILD = Path(__file__).with_name("redraw.py")
SMALLER = "Take it with a lower resolution, or as a JPEG."


def drawn_anew(body: bytes, lock: Path) -> tuple[str, bytes]:
    """The ending (jpg, png) and bytes of the picture in `body`, upright and LONGEST_SIDE at most. lock: the file at
    which all pictures of this machine wait. Raises Refused for what is no picture, too large, moving or damaged."""
    try:
        with FileLock(lock, timeout=PATIENCE_S):
            said = _answer_of_child(body)
    except Timeout:
        raise Refused(
            "Other pictures are being read, one after another, and this one waited for too long. Send it again.", "file"
        ) from None
    except OSError as error:
        raise Refused(f"The picture could not be read here: {error.strerror}.", "file") from None
    line, _, picture = said.partition(b"\n")
    outcome, *words = line.decode("ascii", "replace").split() or ["refused"]
    if outcome == "kept":
        return words[0], picture
    raise Refused(_why(*words), "file")


def _answer_of_child(body: bytes) -> bytes:
    limits = [f"{kind}={points}" for kind, points in MOST_POINTS.items()]
    try:
        said = said_by_child(CHILD, [MEMORY, CPU_S, LONGEST_SIDE, *limits], body, LIFE_S)
    except subprocess.TimeoutExpired:
        return b"refused long\n"
    return b"refused ended\n" if said is None else said


def _why(why: str = "ended", *words: str) -> str:
    if why == "large":
        width, height, most = words
        return (
            f"The picture has {width} x {height} points; {int(most) / 1_000_000:g} million are the most for a file of "
            f"its kind. {SMALLER}"
        )
    return {
        "moving": "This picture moves. Take a still one: only its first view would be kept.",
        "memory": f"The picture needs more memory than a picture may. {SMALLER}",
        "neither": "This is neither a picture nor a PDF, whatever its name says.",
        "damaged": "The picture is damaged or cut off.",
        "long": f"Reading the picture took too long, and was ended. {SMALLER}",
    }.get(why, "Reading the picture was ended: it took too much memory or time, or is damaged. Take another.")
