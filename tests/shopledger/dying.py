"""Settings of a program that dies, with all that it started, before what DIES_BEFORE names comes the DIES_AT-th time.

That is a regular expression for a statement, or for a file or database that is opened. Moments are named and not
timed, so that they are the same on a slow machine.
"""

import os
import re
import signal
import sys

from django.db.backends.signals import connection_created

from shopledger.settings import *  # noqa: F403

FATAL, LEFT = re.compile(os.environ["DIES_BEFORE"]), [None] * int(os.environ["DIES_AT"])


def die(what: object) -> None:
    if FATAL.match(str(what)):
        LEFT.pop()
        if not LEFT:
            os.killpg(0, signal.SIGKILL)


def statement(execute, sql, *args):
    die(sql)
    return execute(sql, *args)


connection_created.connect(lambda connection, **_: connection.execute_wrappers.append(statement), weak=False)
sys.addaudithook(lambda event, args: die(f"{event} {args[0]}") if event in {"open", "sqlite3.connect"} else None)
