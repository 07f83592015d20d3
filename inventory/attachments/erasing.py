"""What goes with the words of a file: its bytes, where nothing else names them."""

import time

from django.conf import settings
from django.db import transaction

from inventory.attachments.models import Attachment

STRAY_AFTER = 24 * 3600  # seconds: one that is just being attached is no stray


def bytes_go(row: Attachment) -> None:
    """Once the erasure is committed, take the file off the disk, unless another attachment is the same file."""
    path, sha256 = row.path, row.sha256

    def go() -> None:
        if not Attachment.objects.filter(sha256=sha256).exists():
            path.unlink(missing_ok=True)

    transaction.on_commit(go, robust=True)


def sweep() -> int:
    """Take away what lies among the files for more than a day and no attachment names; returns how many. Such a file
    is left where a machine stopped between an erasure and the taking away."""
    named = set(Attachment.objects.exclude(sha256="").values_list("sha256", flat=True))
    gone = 0
    for path in settings.MEDIA_ROOT.glob("??/*"):
        if path.name not in named and path.stat().st_mtime < time.time() - STRAY_AFTER:
            path.unlink(missing_ok=True)
            gone += 1
    return gone
