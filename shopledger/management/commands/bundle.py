"""manage.py bundle --from D --to D --output FILE.zip"""

from pathlib import Path

from shopledger.inspection.bundle import write_bundle
from shopledger.management.plain import Fault, PlainCommand, period_of, period_options
from shopledger.reports.usage import NotBalanced


class Command(PlainCommand):
    help = "Writes the inspection bundle of a period."

    def add_arguments(self, parser) -> None:
        period_options(parser)
        parser.add_argument("--output", required=True, metavar="FILE.zip")

    def act(self, *, output: str, **options) -> None:
        try:
            made = write_bundle(period_of(options), Path(output), "the command line")
        except NotBalanced as fault:
            raise Fault(str(fault)) from None
        self.stdout.write(
            f"Wrote {output}: {made.files} files, {made.jobs} job sheets, {made.vouchers} vouchers; "
            f"the ledger's head is {made.digest}, and entry {made.entry} names its list of files. "
            f"That entry's digest, kept elsewhere, attests all of it: {made.attests}."
        )
