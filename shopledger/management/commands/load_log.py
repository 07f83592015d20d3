"""manage.py load_log FOLDER [--check] [--answers FILE.json]"""

import time
from pathlib import Path

from shopledger.logbook.actions import LogAsked, LogRefused, load
from shopledger.logbook.doubting import Answers
from shopledger.management.plain import Fault, PlainCommand, Wrong, make_tables

HOW = (
    'Where one is right, say so in a file for --answers, e.g. {{"receipts.csv:3: net": "yes"}}; where all of this list '
    'is, {{"all": "{mark}"}}. Where one is not, mend the files.'
)


class Command(PlainCommand):
    help = "Loads a shop's log from a folder of CSV files; all rows or none."

    def add_arguments(self, parser) -> None:
        parser.add_argument("folder", metavar="FOLDER")
        parser.add_argument("--check", action="store_true", help="only say what is wrong; load nothing")
        parser.add_argument("--answers", metavar="FILE.json", help="what is right of what was asked about")

    def act(self, *, folder: str, check: bool, answers: str | None = None, **_options) -> None:
        path = Path(folder)
        if not path.is_dir():
            raise Wrong(f"There is no folder {folder}; name the one that holds shop.csv.")
        said = self._answers(answers) if answers else Answers()
        make_tables()
        try:
            loaded = load(path, check_only=check, progress=self._progress(), answers=said)
        except OSError as error:
            raise Wrong(f"{folder} cannot be read: {error.strerror}.") from None
        except LogRefused as refused:
            for fault in refused.faults:
                self.stderr.write(fault, style_func=str)
            more = f" {HOW.format(mark=refused.mark)}" if isinstance(refused, LogAsked) else ""
            raise Fault(f"{refused}{more}") from None
        if check:
            self.stdout.write(f"{folder} has no fault: {loaded.events} events ({loaded.said}). Nothing was loaded.")
            return
        self.stdout.write(f"Loaded {loaded.events} events from {folder}: {loaded.said}.")
        self.stdout.write(f"The last voucher is {loaded.number}; its digest is {loaded.digest}.")

    @staticmethod
    def _answers(file: str) -> Answers:
        try:
            return Answers.read(Path(file).read_text(encoding="utf-8"))
        except OSError as error:
            raise Wrong(f"{file} cannot be read: {error.strerror}.") from None
        except ValueError as error:
            raise Wrong(f"{file} holds no answers: {error}.") from None

    def _progress(self):
        """Says every few seconds how far a long log is."""
        last = time.monotonic()

        def say(done: int, total: int) -> None:
            nonlocal last
            if time.monotonic() - last >= 3:
                last = time.monotonic()
                self.stderr.write(f"{done} of {total} events are checked.", style_func=str)

        return say
