"""manage.py erase KIND KEY --why CODE"""

from inventory.ledger.erasing import WHYS, erasable_kinds, erase
from inventory.shop.who import COMMANDS
from shopledger.management.plain import PlainCommand


class Command(PlainCommand):
    help = "Erases the personal words and free texts of a thing for good; facts, figures and the chain stay."

    def add_arguments(self, parser) -> None:
        parser.add_argument("kind", metavar="KIND", choices=erasable_kinds(), help=", ".join(erasable_kinds()))
        parser.add_argument("key", metavar="KEY", help="its code, e.g. C-000017; of a voucher's note its number")
        parser.add_argument("--why", required=True, choices=list(WHYS), metavar="CODE", help=", ".join(WHYS))
        parser.add_argument("--note", default="", help="more of why, without the name")

    def act(self, *, kind: str, key: str, why: str, note: str, **_options) -> None:
        number = erase(kind, key, why=why, note=note, by=COMMANDS)
        self.stdout.write(
            f"Erased the words of {kind} {key}, by entry {number}. Backups of before and what was handed out still "
            "have them; the list of what was erased is erased.txt in the data folder."
        )
