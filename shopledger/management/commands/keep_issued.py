"""manage.py keep_issued SEAL"""

from inventory.ledger.models import Seal
from shopledger.management.plain import PlainCommand, Wrong
from shopledger.sealing.actions import issue, keep_receipt


class Command(PlainCommand):
    help = "Keeps the reports of a sealed period as they are issued; the site starts it itself."

    def add_arguments(self, parser) -> None:
        parser.add_argument("seal", type=int)

    def act(self, *, seal: int, **_options) -> None:
        made = Seal.objects.filter(pk=seal).first()
        if made is None:
            raise Wrong(f"There is no seal {seal}.")
        kept = issue(made, made.made_by)
        keep_receipt(made)
        self.stdout.write(f"Kept {len(kept)} files of the days up to {made.through}.")
