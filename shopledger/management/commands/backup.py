"""manage.py backup FILE [--keep-days N] [--keep-months N]"""

from pathlib import Path

from shopledger.backup.backup import back_up, missing_from, thin_out
from shopledger.management.plain import PlainCommand, Wrong, whole_option


class Command(PlainCommand):
    help = "Writes a consistent copy of everything, uploads included, while the site runs."

    def add_arguments(self, parser) -> None:
        parser.add_argument("file", metavar="FILE", help="a new file, or a folder: then it is named by day and head")
        parser.add_argument(
            "--keep-days", type=whole_option, metavar="N", help="in a folder: delete backups older than N days"
        )
        parser.add_argument(
            "--keep-months",
            type=whole_option,
            default=36,
            metavar="N",
            help="with --keep-days: the first backup of each month stays for N months (36)",
        )

    def act(self, *, file: str, keep_days: int | None, keep_months: int, **_options) -> None:
        path = Path(file)
        if keep_days is not None and (keep_days < 1 or keep_months < 0 or not path.is_dir()):
            raise Wrong("--keep-days takes a number of days from 1 on, and goes with a folder that is there.")
        made = back_up(path)
        self.stdout.write(
            f"Wrote {made['path']}: {made['head']['number']} vouchers, {len(made['files'])} files; "
            f"the ledger's head is {made['head']['digest']}."
        )
        if made["missing"]:
            self.stdout.write(f"{missing_from(made)} An older backup may hold what is missing.")
        if keep_days is not None:
            for gone in thin_out(path, keep_days, keep_months):
                self.stdout.write(f"Deleted the old backup {gone.name}.")
