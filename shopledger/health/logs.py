"""The log: one line an event, when in UTC, who acted and from where; in a file that cannot grow without end."""

import logging
import time
import unicodedata
from logging.handlers import RotatingFileHandler
from pathlib import Path

BREAKS = ("Zl", "Zp")  # the line and paragraph separators, which many readers take for a new line


class WithUser(logging.Filter):
    """Gives each record `user` and `address`. Never asks the database: it may be what the record is about."""

    def filter(self, record: logging.LogRecord) -> bool:
        from inventory.shop.who import known_user, whence

        request = getattr(record, "request", None)
        record.user = known_user(request) or "-"
        record.address = whence(request) or "-"
        return True


class OneLine(logging.Formatter):
    """A line break in an address or a name starts no line of its own, so nobody can write lines that look like ours.
    A traceback keeps its lines; it shows code and no form's contents."""

    converter = time.gmtime  # the machine's own zone may change, and repeats an hour each autumn
    default_time_format, default_msec_format = "%Y-%m-%dT%H:%M:%S", "%s.%03dZ"

    def formatMessage(self, record: logging.LogRecord) -> str:  # noqa: N802 (the name that logging calls)
        text = super().formatMessage(record)
        return "".join(
            character.encode("unicode_escape").decode()
            if unicodedata.category(character) in BREAKS or unicodedata.category(character)[0] == "C"
            else character
            for character in text
        )


class RotatingFile(RotatingFileHandler):
    """Where the disk takes no line the console has it, and no page fails for it."""

    def _open(self):
        Path(self.baseFilename).parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        return super()._open()

    def rotate(self, source: str, dest: str) -> None:
        try:
            super().rotate(source, dest)
        except OSError:  # Windows, while another process has it open: it grows until one of them starts again
            return

    def handleError(self, record: logging.LogRecord) -> None:  # noqa: N802 (the name that logging calls)
        return
