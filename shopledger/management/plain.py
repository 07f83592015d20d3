"""What the project's commands share: plain sentences, and 0, 1 or 2 as they end."""

import argparse
import datetime as dt
import re
import sys
from collections.abc import Mapping

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import DatabaseError, InterfaceError, ProgrammingError, connection

from inventory.measures.numbers import read_number
from inventory.text.refusal import Refused
from shopledger.database import refusal
from shopledger.errors.views import is_away
from shopledger.reporting.report import Period


class Fault(CommandError):
    """The data is at fault: the command ends with 1."""

    def __init__(self, message: str):
        super().__init__(message, returncode=1)


class Wrong(CommandError):
    """The command was called wrongly: it ends with 2."""

    def __init__(self, message: str):
        super().__init__(message, returncode=2)


def day_option(written: str) -> dt.date:
    """A day such as 2026-03-02 from the command line."""
    try:
        if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", written, re.ASCII):
            raise ValueError
        return dt.date.fromisoformat(written)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{written!r} is no day of the calendar; write it as 2026-03-02") from None


def whole_option(written: str) -> int:
    """A whole number from the command line, read as everywhere; its bounds are for the command to say."""
    try:
        value = read_number(written, signed=True)
    except Refused as refused:
        raise argparse.ArgumentTypeError(refused.message) from None
    if value != int(value):
        raise argparse.ArgumentTypeError(f"{written!r} is no whole number; write one such as 30")
    return int(value)


def period_options(parser: CommandParser) -> None:
    """--from D --to D; `period_of` reads them."""
    parser.add_argument("--from", dest="first", required=True, type=day_option, metavar="D")
    parser.add_argument("--to", dest="last", required=True, type=day_option, metavar="D")


def period_of(options: Mapping[str, object]) -> Period:
    """The period that a command was called with. Raises Wrong for one that ends before it begins."""
    first, last = options["first"], options["last"]
    if first > last:
        raise Wrong(f"The period ends ({last}) before it begins ({first}); turn the two days round.")
    return Period(first, last)


def make_tables() -> None:
    """Make the tables of a database that has none yet: loading is what a new shop does first."""
    if not connection.introspection.table_names():
        call_command("migrate", verbosity=0, skip_checks=True)


class PlainCommand(BaseCommand):
    """A command of this project: `act` does the work."""

    requires_migrations_checks = False

    def create_parser(self, prog_name: str, subcommand: str, **kwargs) -> CommandParser:
        parser = super().create_parser(prog_name, subcommand, **kwargs)
        parser.called_from_command_line = True  # argparse then ends with 2, with its own sentence
        return parser

    def handle(self, *args, **options) -> None:
        if self.asks_database(**options):
            _of_another_version(record_only=True)
        try:
            self.act(**options)
        except Refused as refused:
            raise Fault(refused.message) from None
        except BrokenPipeError:
            sys.stderr.close()
        except (DatabaseError, InterfaceError) as error:
            _of_another_version()
            if not is_away(error) and not isinstance(error, ProgrammingError):
                raise
            if "no such table" in str(error) or "does not exist" in str(error):
                raise Fault("The database has no tables yet; run manage.py migrate first.") from None
            raise Fault(f"The database cannot be used: {error}".strip()) from None

    def act(self, **options) -> None:
        raise NotImplementedError

    def asks_database(self, **options) -> bool:
        """Whether it is of no use without the shop's database."""
        return True


def _of_another_version(record_only: bool = False) -> None:
    """Where another version made the tables, raise Fault, which says so. Whether the database can be used at all is for
    the command to say."""
    try:
        said = refusal(connection, record_only)
    except (DatabaseError, InterfaceError):
        return
    if said:
        raise Fault(said) from None
