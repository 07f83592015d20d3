"""manage.py make_bundle ID: makes a bundle that was asked for on a page; started by the site itself."""

from shopledger.inspection.work import work
from shopledger.management.plain import PlainCommand


class Command(PlainCommand):
    help = "Makes a bundle that was asked for. The site starts it."

    def add_arguments(self, parser) -> None:
        parser.add_argument("order", type=int)

    def act(self, *, order: int, **_options) -> None:
        work(order)
