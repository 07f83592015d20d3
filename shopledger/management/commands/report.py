"""manage.py report NAME --from D --to D [--by KEY] --format csv|xlsx|json|pdf [--output FILE]"""

import sys
from pathlib import Path

from shopledger.management.plain import Fault, PlainCommand, Wrong, period_of, period_options
from shopledger.reporting.output import FORMATS, make, written
from shopledger.reports.registry import REPORTS
from shopledger.reports.usage import NotBalanced


class Command(PlainCommand):
    help = "Writes a report of a period."

    def add_arguments(self, parser) -> None:
        parser.add_argument("name", help=f"one of: {', '.join(REPORTS)}")
        period_options(parser)
        parser.add_argument("--by", metavar="KEY")
        parser.add_argument("--format", required=True, metavar="|".join(FORMATS))
        parser.add_argument("--output", metavar="FILE", help="where to write it; standard output where none is named")

    def act(self, *, name: str, by: str | None, format: str, output: str | None, **options) -> None:
        report = REPORTS.get(name)
        if report is None:
            raise Wrong(f"There is no report {name!r}; write one of {', '.join(REPORTS)}.")
        if format not in FORMATS:
            raise Wrong(f"{format!r} is no format; write one of {', '.join(FORMATS)}.")
        if by is not None and by not in report.keys:
            keys = ", ".join(report.keys) or "none"
            raise Wrong(f"{name} cannot be split by {by!r}; its keys are: {keys}.")
        period = period_of(options)
        try:
            made = make(report, period, by, "the command line", drawn=format == "pdf")
            content = written(made, format)
        except NotBalanced as fault:
            raise Fault(str(fault)) from None
        if output is None:
            sys.stdout.flush()
            sys.stdout.buffer.write(content)
            sys.stdout.buffer.flush()
            return
        try:
            Path(output).write_bytes(content)
        except OSError as error:
            raise Wrong(f"{output} cannot be written: {error.strerror}.") from None
        self.stdout.write(
            f"Wrote the {name} report of {period.first} to {period.last} to {output} ({len(content)} bytes)."
        )
