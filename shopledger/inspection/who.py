"""The names behind the codes that a bundle holds, and behind no others."""

import csv
import io
import re
from collections.abc import Callable, Iterable, Iterator

from inventory.codes.queries import records_of
from inventory.parties.models import Party
from inventory.text.cells import harmless
from jobs.people.models import Person
from jobs.units.models import Customer, Unit
from shopledger.reporting.report import ReportTable, Worded, called

CODES = re.compile(rf"(?<![\w-])(?:{Party.PREFIX}|{Customer.PREFIX}|{Unit.PREFIX})-\d{{6,18}}(?![\w-])")
QUOTED = re.compile(r'"(?:\w+:)?((?:[^"\\]|\\.)*)"')  # a text of JSON; a record of words has the kind before the key
WORD = re.compile(r"[\w@+-](?:[\w.@+-]*[\w@+-])?")  # a username within a sentence


def never(_code: str) -> str:
    return ""


class Who:
    """Gathers codes while a bundle is written; those of people are their usernames."""

    def __init__(self) -> None:
        self.people = dict(Person.objects.values_list("username", "name"))
        self.codes: set[str] = set()
        self.usernames: set[str] = set()

    def person(self, username: str) -> Worded:
        """Who acted; what is nobody's username, such as the command line, is called what it is."""
        if username in self.people:
            self.usernames.add(username)
        return called(username, self.people.get(username, username))

    def read_text(self, text: str) -> None:
        """text: JSON, e.g. all that a voucher says."""
        self.codes.update(CODES.findall(text))
        self.usernames.update(self.people.keys() & set(QUOTED.findall(text)))

    def reading(self, lines: Iterable[bytes]) -> Iterator[bytes]:
        """Lines of JSON, each read on its way."""
        for line in lines:
            self.read_text(line.decode())
            yield line

    def read_table(self, table: ReportTable) -> None:
        named = (value.codes for row in table.rows for value in row if isinstance(value, Worded))
        for codes in set(named):
            self.usernames.update(self.people.keys() & codes)
            self.codes.update(codes)

    def read_csv(self, text: str) -> None:
        """A file of which only the text is left: sentences in it name people too."""
        self.codes.update(CODES.findall(text))
        self.usernames.update(self.people.keys() & set(WORD.findall(text)))

    def as_csv(self, erased_on: Callable[[str], str] = never) -> bytes:
        """Code, name, address and registration, in the order of the codes, then people by their usernames. erased_on:
        the day on which what belongs to a code was erased, blank where it was not."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(["code", "name", "address", "registration", "erased_on"])
        for code, record in sorted(records_of(self.codes).items()):
            address = " ".join(getattr(record, "address", "").split())
            said = (record.called, address, getattr(record, "registration", ""))
            writer.writerow([code, *map(harmless, said), erased_on(code)])
        for username in sorted(self.usernames):
            writer.writerow([harmless(username), harmless(self.people[username]), "", "", erased_on(username)])
        return out.getvalue().encode()
