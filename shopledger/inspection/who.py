"""The names behind the codes that a bundle holds: of its parties and customers, and of nobody else's."""

import csv
import io
import re

from inventory.codes.queries import records_of
from inventory.parties.models import Party
from inventory.text.cells import harmless
from jobs.units.models import Customer
from shopledger.reporting.report import ReportTable, Worded

IN_TEXT = re.compile(rf'"((?:{Party.PREFIX}|{Customer.PREFIX})-\d{{6,18}})"')  # a voucher's text is JSON


class Who:
    """Gathers codes while a bundle is written."""

    def __init__(self) -> None:
        self.codes: set[str] = set()

    def read_text(self, text: str) -> None:
        """text: all that a voucher says."""
        self.codes.update(IN_TEXT.findall(text))

    def read_table(self, table: ReportTable) -> None:
        self.codes.update(value.coded for row in table.rows for value in row if isinstance(value, Worded))

    def as_csv(self) -> bytes:
        """Code, name, address and registration, in the order of the codes."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(["code", "name", "address", "registration"])
        for code, record in sorted(records_of(self.codes).items()):
            said = (record.called, " ".join(record.address.split()), getattr(record, "registration", ""))
            writer.writerow([code, *map(harmless, said)])
        return out.getvalue().encode()
