"""manage.py seal --through D"""

from inventory.ledger.models import Seal
from inventory.ledger.seals import seal
from inventory.text.refusal import Refused
from shopledger.management.plain import PlainCommand, day_option
from shopledger.sealing.actions import issue, keep_receipt, owed
from shopledger.sealing.queries import missing, period_of

BY = "the command line"


class Command(PlainCommand):
    help = "Closes all days up to and including D for good, keeps their reports as issued and writes the receipt."

    def add_arguments(self, parser) -> None:
        parser.add_argument("--through", required=True, type=day_option, metavar="D")

    def act(self, *, through, **_options) -> None:
        known = Seal.objects.filter(through=through).first()
        if known and missing(known) and period_of(known):  # it was sealed, and keeping the reports was cut short
            kept = issue(known, BY)
            self.stdout.write(
                f"{known.through} was sealed before; kept the {len(kept)} report files that were missing."
            )
            self._receipt(known)
            return
        made = seal(through, BY, owed(through))
        self.stdout.write(
            f"Sealed all days up to and including {made.through}, at voucher {made.number} with digest {made.digest}. "
            "A mistake in them is put right by a reversal dated after."
        )
        try:
            self._receipt(made)
            kept = issue(made, BY)
        except Refused as refused:
            raise Refused(
                f"The days are sealed. {refused.message} Run the same command again to keep the rest."
            ) from None
        if kept:
            self.stdout.write(f"Kept their reports as issued: {len(kept)} files under issued/ in the data folder.")

    def _receipt(self, made: Seal) -> None:
        path = keep_receipt(made)
        self.stdout.write(f"The receipt, to be kept by somebody outside the shop: {path}")
