"""One part of the benchmark in a process of its own, so that its memory is its own: python -m tests.bench.one PART

DATA_DIR and DATABASE_URL name the copy of a ledger that it may spoil. Prints one line of JSON."""

import json
import os
import sys

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopledger.settings")
django.setup()

from tests.bench import find, lists, loading, pages, paper, posting, reports  # noqa: E402
from tests.bench.timing import Found  # noqa: E402

PARTS = {
    "posting": posting.measure,
    "reports": reports.measure,
    "pages": pages.measure,
    "proofs": reports.proofs,
    "exports": reports.exports,
    "loading": loading.measure,
    "paper": paper.measure,
    "lists": lists.measure,
    "find": find.measure,
}

if __name__ == "__main__":
    found = Found()
    PARTS[sys.argv[1]](found)
    print(json.dumps(found))
