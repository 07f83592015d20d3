"""Settings of a program that pauses, once each, before statements that PAUSES names, until whoever waits for that
moment has opened a fifo for writing and closed it again. PAUSES: JSON, pairs of a regular expression and the fifo.

So a test does something at that very moment, on a slow machine as on a fast one.
"""

import json
import os
import re
from pathlib import Path

from django.db.backends.signals import connection_created

from shopledger.settings import *  # noqa: F403

MOMENTS = [(re.compile(before), Path(fifo)) for before, fifo in json.loads(os.environ["PAUSES"])]


def statement(execute, sql, *args):
    for before, fifo in MOMENTS:
        if before.match(str(sql)) and fifo.exists():
            with fifo.open() as told:
                fifo.unlink()
                told.read()
    return execute(sql, *args)


connection_created.connect(lambda connection, **_: connection.execute_wrappers.append(statement), weak=False)
