"""manage.py export_log FOLDER"""

from pathlib import Path

from shopledger.exporting.actions import export, write_folder
from shopledger.management.plain import PlainCommand, Wrong


class Command(PlainCommand):
    help = "Writes the whole shop into the CSV files that load_log reads."

    def add_arguments(self, parser) -> None:
        parser.add_argument("folder", metavar="FOLDER")

    def act(self, *, folder: str, **_options) -> None:
        found = export()
        try:
            write_folder(found, Path(folder))
        except FileExistsError as error:
            raise Wrong(str(error)) from None
        except OSError as error:
            raise Wrong(f"{folder} cannot be written: {error.strerror}.") from None
        self.stdout.write(f"Wrote {found.count} rows in {len(found.rows)} files to {folder}; load_log reads them.")
        for one in found.left:
            self.stdout.write(f"Not carried: {one}.")
