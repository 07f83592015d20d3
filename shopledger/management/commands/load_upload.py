"""manage.py load_upload ID: checks or loads a log that was uploaded; started by the site itself."""

from shopledger.logbook.work import work
from shopledger.management.plain import PlainCommand


class Command(PlainCommand):
    help = "Checks or loads an uploaded log. The site starts it."

    def add_arguments(self, parser) -> None:
        parser.add_argument("upload", type=int)

    def act(self, *, upload: int, **_options) -> None:
        work(upload)
