"""Few costly answers at once: papers and files that take seconds leave threads for everybody else."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from django.http import HttpRequest

from inventory.text.refusal import Refused

AT_ONCE = 3  # in one server process, of its eight threads
_running: list[object] = []
_lock = threading.Lock()


class TooBusy(Refused):
    """Said with status 429: the same can be asked again in a moment."""


@contextmanager
def in_turn(request: HttpRequest, costly: bool = True) -> Iterator[None]:
    """While something costly is made: one at a time for a person, AT_ONCE in all. Raises TooBusy for the next one."""
    if not costly:
        yield
        return
    who = request.user.pk
    with _lock:
        if who in _running:
            raise TooBusy(
                "The paper or file that you asked for before is still being made. Wait for it, then ask again."
            )
        if len(_running) >= AT_ONCE:
            raise TooBusy(f"{AT_ONCE} papers or files are being made just now. Ask again in a moment.")
        _running.append(who)
    try:
        yield
    finally:
        with _lock:
            _running.remove(who)
