"""A program of ours that reads what a person sent, apart from the server. Pure: no Django here."""

import os
import subprocess
import sys
from pathlib import Path

INHERITED = ("PATH", "SYSTEMROOT", "LD_LIBRARY_PATH")  # no key and no password of the server


def said_by_child(program: Path, words: list[object], body: bytes, life_s: float) -> bytes | None:
    """What it wrote to its standard output; None where it did not end well. words: what it is called with; life_s: how
    many seconds it may live. Raises subprocess.TimeoutExpired for one that was ended then, OSError for none at all."""
    line = [sys.executable, "-I", program, *words]
    done = subprocess.run(  # noqa: S603 (our own program)
        [str(word) for word in line],
        input=body,
        capture_output=True,
        timeout=life_s,
        check=False,
        env={name: os.environ[name] for name in INHERITED if name in os.environ},
    )
    return done.stdout if done.returncode == 0 else None
