"""manage.py load_sheet ID: checks or loads a spreadsheet that was uploaded; started by the site itself."""

from shopledger.management.plain import PlainCommand
from shopledger.sheet_pages.work import work


class Command(PlainCommand):
    help = "Checks or loads an uploaded spreadsheet. The site starts it."

    def add_arguments(self, parser) -> None:
        parser.add_argument("upload", type=int)

    def act(self, *, upload: int, **_options) -> None:
        work(upload)
