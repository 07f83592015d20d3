"""manage.py seal --through D"""

from inventory.ledger.actions import seal
from shopledger.management.plain import PlainCommand, day_option


class Command(PlainCommand):
    help = "Closes all days up to and including D for good."

    def add_arguments(self, parser) -> None:
        parser.add_argument("--through", required=True, type=day_option, metavar="D")

    def act(self, *, through, **_options) -> None:
        made = seal(through, "the command line")
        self.stdout.write(
            f"Sealed all days up to and including {made.through}, at voucher {made.number} with digest {made.digest}. "
            "A mistake in them is put right by a reversal dated after."
        )
