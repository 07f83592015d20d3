"""manage.py load_log FOLDER [--check]"""

import time
from pathlib import Path

from shopledger.logbook.actions import LogRefused, load
from shopledger.management.plain import Fault, PlainCommand, Wrong, make_tables


class Command(PlainCommand):
    help = "Loads a shop's log from a folder of CSV files; all rows or none."

    def add_arguments(self, parser) -> None:
        parser.add_argument("folder", metavar="FOLDER")
        parser.add_argument("--check", action="store_true", help="only say what is wrong; load nothing")

    def act(self, *, folder: str, check: bool, **_options) -> None:
        path = Path(folder)
        if not path.is_dir():
            raise Wrong(f"There is no folder {folder}; name the one that holds shop.csv.")
        make_tables()
        try:
            loaded = load(path, check_only=check, progress=self._progress())
        except OSError as error:
            raise Wrong(f"{folder} cannot be read: {error.strerror}.") from None
        except LogRefused as refused:
            for fault in refused.faults:
                self.stderr.write(fault, style_func=str)
            raise Fault(str(refused)) from None
        if check:
            self.stdout.write(f"{folder} has no fault: {loaded.events} events ({loaded.said}). Nothing was loaded.")
            return
        self.stdout.write(f"Loaded {loaded.events} events from {folder}: {loaded.said}.")
        self.stdout.write(f"The last voucher is {loaded.number}; its digest is {loaded.digest}.")

    def _progress(self):
        """Says every few seconds how far a long log is."""
        last = time.monotonic()

        def say(done: int, total: int) -> None:
            nonlocal last
            if time.monotonic() - last >= 3:
                last = time.monotonic()
                self.stderr.write(f"{done} of {total} events are checked.", style_func=str)

        return say
