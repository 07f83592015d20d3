"""manage.py restore FILE [--lose-from NUMBER] [--erased LIST] | restore --undo | restore --trial FILE"""

from argparse import ArgumentTypeError
from pathlib import Path

from shopledger.backup.given import Given, read
from shopledger.backup.models import note
from shopledger.backup.outside import named, put_files
from shopledger.backup.restore import Restored, restore, undo
from shopledger.backup.staging import enter, load, prove
from shopledger.backup.trial import try_out
from shopledger.management.plain import PlainCommand, Wrong

NOW = """What was here before was empty, so this is the shop from here on. What to do now:
1. Take the last paper that carries a head digest (a report, a seal's receipt) and run
   manage.py verify --head DIGEST: it says whether this backup is younger than that paper.
2. Enter again what came after {day}, each on its own day: from the job sheets and delivery
   notes on paper, and from the phones that kept entries without a network.
3. Start the server; everyone signs in with the passwords of that day.
4. Set up the nightly backup on another disk anew, and run manage.py health until it says that all is well."""


def _number(written: str) -> int:
    if not (written.isascii() and written.isdigit() and 0 < len(written) < 19 and int(written)):
        raise ArgumentTypeError(f"{written!r} is no number of an entry; write one as 12")
    return int(written)


class Command(PlainCommand):
    help = "Puts a backup in the place of what is here, once it is proved; --undo puts back what it replaced."

    def add_arguments(self, parser) -> None:
        parser.add_argument("file", metavar="FILE", nargs="?")
        parser.add_argument(
            "--lose-from", type=_number, metavar="NUMBER", help="the first entry that is given up for it, if any is"
        )
        parser.add_argument("--erased", metavar="LIST", help="what was erased since, where erased.txt is not found")
        parser.add_argument("--undo", action="store_true", help="put back what the last restoring replaced")
        parser.add_argument(
            "--trial",
            action="store_true",
            help="restore it into a database that is thrown away, and note that it was proved so; FILE may be a folder",
        )
        parser.add_argument("--into-empty", action="store_true", help="only into a database without tables; no files")
        parser.add_argument("--enter", action="store_true", help="after --into-empty: what a restoring enters there")
        parser.add_argument("--given", help="with --enter: what the backup is told")
        parser.add_argument("--without-files", action="store_true", help="with --enter: the files are there")

    def act(self, *, file: str | None, undo: bool, trial: bool, **options) -> None:
        if (file is None) != undo or (trial and (undo or options["lose_from"] or options["erased"])):
            raise Wrong("Name one backup: restore FILE, restore --trial FILE; or none, to take one back: --undo.")
        if options["into_empty"]:
            load(Path(file))
        elif options["enter"]:
            self._enter(Path(file), options["given"], options["without_files"])
        elif trial:
            self.stdout.write(try_out(Path(file)))
        else:
            self._restore(file, options["erased"], options["lose_from"])

    def asks_database(self, *, trial: bool, **_options) -> bool:
        return not trial

    def _enter(self, path: Path, told: str | None, without_files: bool) -> None:
        reader = prove(path)
        enter(reader, read(Path(told)) if told else Given())
        if not without_files:
            put_files(reader)

    def _restore(self, file: str | None, erased: str | None, lose_from: int | None) -> None:
        lists = Path(erased) if erased else None
        done = restore(Path(file), lists, lose_from) if file else undo(lists, lose_from)
        made, head = done.manifest["made_at"][:10], done.manifest["head"]
        name = Path(file).name if file else "what the last restoring replaced"
        note("restore", True, f"{name} of {made}: {head['number']} vouchers.")
        self._tell(done, name)
        if done.kept is None and head["number"]:
            self.stdout.write(NOW.format(day=made))

    def _tell(self, done: Restored, name: str) -> None:
        head = done.manifest["head"]
        if done.kept:
            self.stdout.write(f"What was here is kept in {done.kept}.")
        self.stdout.write(
            f"Restored {name}: {head['number']} vouchers; the ledger holds, its head is {head['digest']}. "
            "Everyone signs in again."
        )
        if done.goes.rows:
            self.stdout.write(f"Given up: {done.goes.counted()}.\n{done.goes.listed()}")
            self.stdout.write(f"All of them stand in {done.listed}; enter them again from it.")
        if done.kept:
            self.stdout.write("manage.py restore --undo puts back what was here.")
        if not done.given.listed:
            self.stdout.write(
                "No list of what was erased was found (erased.txt): if personal words were erased since this backup "
                "was made, they are back. Name the list with --erased, or erase them again."
            )
        if done.lost:
            when = "lost before the backup was made"
            self.stdout.write(named(done.lost, f"was {when}", f"were {when}"))
