"""manage.py restore FILE"""

from pathlib import Path

from shopledger.backup.models import note
from shopledger.backup.outside import named
from shopledger.backup.restore import load_into_empty, restore
from shopledger.management.plain import PlainCommand


class Command(PlainCommand):
    help = "Puts a backup in the place of what is here, once it is proved."

    def add_arguments(self, parser) -> None:
        parser.add_argument("file", metavar="FILE")
        parser.add_argument("--into-empty", action="store_true", help="only into a database without tables; no files")

    def act(self, *, file: str, into_empty: bool, **_options) -> None:
        path = Path(file)
        if into_empty:
            load_into_empty(path)
            return
        done = restore(path)
        head = done["head"]
        note("restore", True, f"{path.name} of {done['made_at'][:10]}: {head['number']} vouchers.")
        if done["kept"]:
            self.stdout.write(f"What was here is kept in {done['kept']}.")
        self.stdout.write(
            f"Restored {path.name}: {head['number']} vouchers; the ledger holds, its head is {head['digest']}. "
            "Everyone signs in again."
        )
        if done["lost"]:
            when = "lost before the backup was made"
            self.stdout.write(named(done["lost"], f"was {when}", f"were {when}"))
