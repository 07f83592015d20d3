"""Settings of a program that dies, with all that it started, before what DIES_BEFORE names comes the DIES_AT-th time.

That is a regular expression for a statement (COMMIT, and COMMITTED once it is done), or for a file or database that is
opened, renamed or linked. Moments are named and not timed, so that they are the same on a slow machine. DIES_AT 0: it
lives. DIES_TELLS: a file to which it adds each moment, or the one before which it died.
"""

import json
import os
import re
import signal
import sys

from django.db.backends.signals import connection_created

from shopledger.settings import *  # noqa: F403

FATAL, AT = re.compile(os.environ["DIES_BEFORE"], re.DOTALL), int(os.environ["DIES_AT"])
TELLS = os.environ.get("DIES_TELLS", "")
EVENTS = {"open", "sqlite3.connect", "os.rename", "os.link"}
told = os.open(TELLS, os.O_WRONLY | os.O_APPEND | os.O_CREAT) if TELLS else 0
seen = 0


def die(what: object) -> None:
    global seen
    if FATAL.match(str(what)):
        seen += 1
        if told and AT in {0, seen}:
            os.write(told, json.dumps([os.getpid(), str(what)]).encode() + b"\n")
        if seen == AT:
            os.killpg(0, signal.SIGKILL)


def statement(execute, sql, *args):
    die(sql)
    return execute(sql, *args)


def watch(connection, **_) -> None:
    connection.execute_wrappers.append(statement)
    commit = connection._commit

    def committing():
        die("COMMIT")
        commit()
        die("COMMITTED")

    connection._commit = committing


connection_created.connect(watch, weak=False)
sys.addaudithook(lambda event, args: die(f"{event} {args[0]}") if event in EVENTS else None)
