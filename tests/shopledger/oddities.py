"""Odd and hostile values for the fields of a form, and how often a fuzzing run tries them.

`FUZZ_SEED=1 pytest -m long tests/shopledger/test_odd_fields.py` tries FUZZ times 30 values in every field; the values
follow from the seed. A build tries a few, always the same ones.
"""

import os
import time
from collections import Counter
from dataclasses import dataclass, field

from django.apps import apps
from django.conf import settings as django_settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from hypothesis import HealthCheck, Phase, settings
from hypothesis import seed as seeded
from hypothesis import strategies as st

from inventory.ledger.queries import head
from tests.shopledger.test_forms_once import PASSING
from tests.shopledger.test_fuzz import ODD

SEED = int(os.environ.get("FUZZ_SEED", "1"))
PER_FIELD = int(os.environ.get("FUZZ", "1")) * 30
PROVEN_EVERY = 10  # of the accepted ones, how many until the record is proved
GONE = "(the field is not sent)"
HALVES = [b"\xed\xa0\x80"]  # half a surrogate pair, as bytes: no text can hold it
UNITS = ["", " g", " kg", "g", " oz", " lb", " mL", " fl oz", " mg", " L"]
DAYS = [
    "1926-01-01",
    "0000-00-00",
    "0001-01-01",
    "2026-1-2",
    "2026-01-02T09:30",
    "2026-01-02 25:00",
    "01/02/2026",
    "2.3.2026",
    "9999-12-31",
    "\u0662\u0660\u0662\u0666-01-01",
    "2126-01-01",
]
NUMBERS = [
    "1,250 g",
    "1.250 g",
    "27 656 g",
    "27'656 g",
    "1.234,5 g",
    "1,234.5 g",
    "0,75 kg",
    "2001 kg",
    "1 lb 2.5 oz",
    "1e3 g",
    "\u00bd lb",
    "\uff11\uff12 g",
    "0 g",
    "-0 g",
    "100000000000000000000000000 mg",
    "\u221e g",
]
WRONG_IDS = ["0", "-1", "999999", "1.0", "NOWHERE", "00000000-0000-0000-0000-000000000000", "CAN-1\nCAN-1", "BIG,CYL"]
WORDS = ["\ufeff", "\u2028", "a\u202eb", "a\nb", "x" * 201, "x" * 2001, "x" * 100_000, "\ufdfa" * 300, "' OR 1=1 --"]


def file(name: str, content: bytes, kind: str = "application/octet-stream") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content, kind)


WRITTEN = st.tuples(st.decimals(allow_nan=False, allow_infinity=False, places=3), st.sampled_from(UNITS)).map(
    lambda said: f"{said[0]}{said[1]}"
)
SMALL = st.tuples(st.integers(0, 6000), st.sampled_from([" g", " oz", " mL", " kg", ""])).map(
    lambda said: f"{said[0]}{said[1]}"
)
FILES = st.tuples(
    st.sampled_from(["x.pdf", "x.png", "x.csv", "../x.zip", "\u202egnp.exe", "x" * 300 + ".pdf", "shop.csv", "x"]),
    st.sampled_from(
        [b"", b"%PDF-1.7\n", b"\x89PNG\r\n\x1a\n", b"PK\x03\x04", b"name\n=1+1\n", b"\0" * 5000, b"a,b\n\xff"]
    )
    | st.binary(max_size=400),
).map(lambda said: ("file", *said))
VALUE = st.one_of(
    ODD,
    WRITTEN,
    SMALL,
    st.sampled_from(DAYS + NUMBERS + WRONG_IDS + WORDS),
    st.sampled_from([GONE, ["a", "b"], ["1", "2", "1"], [], HALVES]),
    FILES,
)


def sent(value: object) -> object:
    """A drawn value as the test client sends it; a file is made anew each time, since sending it reads it."""
    return file(value[1], value[2]) if isinstance(value, tuple) else value


def state():
    """What a refusal leaves as it was: the number of rows of each table, the chain's head, the files that are kept."""
    tables = [model._meta.db_table for model in apps.get_models() if model._meta.label not in PASSING]
    with connection.cursor() as cursor:
        cursor.execute("SELECT " + ", ".join(f"(SELECT COUNT(*) FROM {table})" for table in tables))
        counted = cursor.fetchone()
    return counted, head(), sorted(django_settings.MEDIA_ROOT.rglob("*")) if django_settings.MEDIA_ROOT.exists() else []


@dataclass
class Tally:
    """What came of the inputs."""

    what: str
    came: Counter = field(default_factory=Counter)
    began: float = field(default_factory=time.monotonic)

    def say(self, until: str = "") -> None:
        ways = ", ".join(f"{count} {way}" for way, count in sorted(self.came.items()))
        what, took = f"{self.what} until {until}" if until else self.what, time.monotonic() - self.began
        print(f"\n{what}: {sum(self.came.values())} inputs ({ways}), seed {SEED}, {took:.0f} s", flush=True)


def tries(examples: int, long: bool):
    """How a test is tried: a build's always the same, a long one by the seed."""
    chosen = settings(
        max_examples=examples,
        deadline=None,
        derandomize=not long,
        database=None,
        print_blob=True,
        phases=[Phase.generate] if long else [Phase.generate, Phase.shrink],
        suppress_health_check=list(HealthCheck),
    )
    return lambda test: chosen(seeded(SEED)(test) if long else test)
