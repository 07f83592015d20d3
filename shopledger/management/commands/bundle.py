"""manage.py bundle --from D --to D --output FILE.zip"""

from pathlib import Path

from shopledger.inspection.bundle import write_bundle
from shopledger.management.plain import Fault, PlainCommand, Wrong, day_option
from shopledger.reporting.report import Period
from shopledger.reports.usage import NotBalanced


class Command(PlainCommand):
    help = "Writes the inspection bundle of a period."

    def add_arguments(self, parser) -> None:
        parser.add_argument("--from", dest="first", required=True, type=day_option, metavar="D")
        parser.add_argument("--to", dest="last", required=True, type=day_option, metavar="D")
        parser.add_argument("--output", required=True, metavar="FILE.zip")

    def act(self, *, first, last, output: str, **_options) -> None:
        if first > last:
            raise Wrong(f"The period ends ({last}) before it begins ({first}); turn the two days round.")
        try:
            made = write_bundle(Period(first, last), Path(output), "the command line")
        except NotBalanced as fault:
            raise Fault(str(fault)) from None
        self.stdout.write(
            f"Wrote {output}: {made.files} files, {made.jobs} job sheets, {made.vouchers} vouchers; "
            f"the ledger's head is {made.digest}."
        )
