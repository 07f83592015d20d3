"""manage.py restore FILE"""

from pathlib import Path

from shopledger.backup.given import Given, read
from shopledger.backup.models import note
from shopledger.backup.outside import named
from shopledger.backup.restore import load_into_empty, restore
from shopledger.management.plain import PlainCommand


class Command(PlainCommand):
    help = "Puts a backup in the place of what is here, once it is proved."

    def add_arguments(self, parser) -> None:
        parser.add_argument("file", metavar="FILE")
        parser.add_argument("--erased", metavar="LIST", help="what was erased since, where erased.txt is not found")
        parser.add_argument("--given", help="with --into-empty: what the backup is told")
        parser.add_argument("--into-empty", action="store_true", help="only into a database without tables; no files")

    def act(self, *, file: str, into_empty: bool, erased: str | None, given: str | None, **_options) -> None:
        path = Path(file)
        if into_empty:
            load_into_empty(path, read(Path(given)) if given else Given())
            return
        done = restore(path, Path(erased) if erased else None)
        head = done["head"]
        note("restore", True, f"{path.name} of {done['made_at'][:10]}: {head['number']} vouchers.")
        if done["kept"]:
            self.stdout.write(f"What was here is kept in {done['kept']}.")
        self.stdout.write(
            f"Restored {path.name}: {head['number']} vouchers; the ledger holds, its head is {head['digest']}. "
            "Everyone signs in again."
        )
        if not done["given"].listed:
            self.stdout.write(
                "No list of what was erased was found (erased.txt): if personal words were erased since this backup "
                "was made, they are back. Name the list with --erased, or erase them again."
            )
        if done["lost"]:
            when = "lost before the backup was made"
            self.stdout.write(named(done["lost"], f"was {when}", f"were {when}"))
