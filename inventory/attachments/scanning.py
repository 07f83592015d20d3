"""A virus scanner of the machine's own, where the shop has one: the setting SCANNER names its command."""

import subprocess

from django.conf import settings

from inventory.text.refusal import Refused

LONGEST_S = 60
FOUND = 1  # what clamdscan, and others like it, end with where a file is harmful


def scan(body: bytes) -> None:
    """Give the bytes that would be kept to the scanner's standard input. Raises Refused where it finds something, and
    where it cannot say: what was not looked at is not kept."""
    if not settings.SCANNER:
        return
    try:
        done = subprocess.run(  # noqa: S603 (the command is a setting)
            settings.SCANNER, input=body, capture_output=True, timeout=LONGEST_S
        )
    except (OSError, subprocess.TimeoutExpired):
        done = None
    if done is not None and done.returncode == 0:
        return
    if done is not None and done.returncode == FOUND:
        raise Refused("The virus scanner of this server takes the file for harmful; it is not kept.", "file")
    raise Refused("The virus scanner of this server does not answer, so the file is not kept. Try again.", "file")
