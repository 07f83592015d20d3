"""Each column of each file of a log filled in oddly, one cell or two at a time, while all else is right: each fault
names file, line, column and reason, one of them the file that is odd; nothing is written unless all of it is."""

import re
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.ledger.verify import verify
from shopledger.logbook.actions import LogRefused, load
from shopledger.logbook.folder import FILES, columns
from tests.shopledger.oddities import GONE, HALVES, PER_FIELD, PROVEN_EVERY, VALUE, Tally, state, tries
from tests.shopledger.tampering import undone
from tests.shopledger.test_planted_faults import Log

pytestmark = pytest.mark.django_db
FAULT = re.compile(r"[a-z_]+\.csv:\d+: .+?: .+", re.DOTALL)
LONG = pytest.param(True, marks=pytest.mark.long, id="long")
FEW = pytest.param(False, id="few")
tally = Tally("cells")


@pytest.fixture(scope="module", autouse=True)
def told():
    yield
    tally.say()


SHOP = [columns("shop.csv"), ["Example", "1 Road", "UTC", "", "1 g", "60 kg", "USD", "bench"]]


# A row of each file that export_log writes besides.
WIDER = {
    "customers.csv": {"customer": "Ada 0", "name": "Ada Example", "phone": "555 0100"},
    "premises.csv": {"premises": "S-1", "customer": "Ada 0", "name": "Yard"},
    "methods.csv": {"premises": "S-1", "method": "rolling", "from_day": "2026-01-01"},
    "units.csv": {"unit": "EX 0", "customer": "Ada 0", "premises": "S-1", "kind": "vehicle", "name": "Van 4"},
    "full_charges.csv": {"unit": "EX 0", "from_day": "2026-01-01", "how": "maker", "mg": "500 g"},
    "scale_checks.csv": {"scale": "S0", "day": "2026-01-10", "reference_mg": "1 kg", "as_found_mg": "1 kg"},
    "machines.csv": {"make": "Example", "model": "R 1", "serial": "12", "made_on": "2025-03-01", "container": "MAC-0"},
    "machine_checks.csv": {"serial": "12", "day": "2026-01-11", "passed": "yes", "next_due": "2027-01-11"},
    "container_checks.csv": {"container": "CYL-0", "day": "2026-01-12", "leaks": "no", "note": "soap"},
    "leak_events.csv": {"unit": "EX 0", "kind": "release", "day": "2026-02-20", "cause": "hose", "released_mg": "9 g"},
    "tares.csv": {"date": "2026-02-19", "container": "CYL-0", "tare": "6010 g", "note": "weighed empty"},
    "reasons.csv": {"date": "2026-02-20", "container": "CYL-0", "role": "count", "reason": "leaked"},
    "apart.csv": {
        "date": "2026-01-06",
        "act": "taken in",
        "container": "OWN-0",
        "customer": "Ada 0",
        "kind": "refillable",
        "substance": "R-134a",
        "grade": "recovered",
        "gross": "15 kg",
        "tare": "5 kg",
        "scale": "S0",
        "location": "Store",
    },
}


def right_log():
    rows = {"shop.csv": [SHOP[1]], **Log(1).files}
    rows |= {name: [[cells.get(column, "") for column in columns(name)]] for name, cells in WIDER.items()}
    return {
        name: [columns(name), *(one + [""] * (len(columns(name)) - len(one)) for one in rows[name])] for name in FILES
    }


def test_the_log_of_all_files_is_right(tmp_path):
    write(tmp_path, {})
    load(tmp_path)
    assert verify().faults == []


def written(value):
    """A cell as bytes; what no text holds is written as it is."""
    if value == GONE:
        return b""
    if isinstance(value, tuple):
        return b'"' + value[2].replace(b'"', b'""') + b'"'
    if isinstance(value, list):
        return value[0] if value == HALVES else ",".join(value).encode()
    return b'"' + value.replace('"', '""').encode("utf-8", "surrogatepass") + b'"'


def write(folder, changes):
    for name, rows in right_log().items():
        lines = [[written(cell) for cell in cells] for cells in rows]
        for (file, row, column), value in changes.items():
            if file == name:
                lines[row][column] = written(value)
        (folder / name).write_bytes(b"\r\n".join(b",".join(line) for line in lines) + b"\r\n")


CODES = {"code", "container", "from", "to", "scale", "serial", "customer", "premises", "unit", "job"}


def about(file, row):
    """The codes in a row of the right log: what it is about."""
    rows = right_log()[file]
    return {value for column, value in zip(rows[0], rows[row], strict=True) if column in CODES and value}


def names(fault, file, row):
    """Whether a fault leads to what was changed: by its file, or by a row about the same thing, which what was changed
    contradicts, though it can be by itself: a bottle that never held anything, and what a job took from it."""
    if file in re.split(r"[:\s;]", fault):
        return True
    at, line, _ = fault.split(":", 2)
    found = row > 0 and 1 < int(line) <= len(right_log()[at])
    return bool(found and about(at, int(line) - 1) & about(file, row))


def odd_cells(folder, changes, unnamed):
    """Check a log of which some cells are odd, and now and then load it. What comes of it is undone."""
    write(folder, changes)
    loads = sum(tally.came.values()) % PROVEN_EVERY == 0
    with undone():
        before = state()
        try:
            load(folder, check_only=not loads)
        except LogRefused as refused:
            tally.came["refused"] += 1
            assert state() == before, changes
            assert refused.faults and all(map(FAULT.fullmatch, refused.faults)), (changes, refused.faults)
            # A job that has another number is missed where its lines name it: `'J-0' is not in jobs.csv`.
            if not any(names(fault, file, row) for fault in refused.faults for file, row, _ in changes):
                unnamed[str(changes)[:200], str(refused.faults)[:400]] += 1
        else:
            tally.came["loaded" if loads else "right"] += 1
            if loads:
                assert verify().faults == [], changes
            else:
                assert state() == before, changes


@pytest.mark.parametrize("long", [FEW, LONG])
@pytest.mark.parametrize("file", FILES)
def test_a_column_of_a_log(file, long, tmp_path):
    rows = right_log()[file]
    unnamed = Counter()
    cells = [(file, row, column) for row in range(len(rows)) for column in range(len(rows[0]))]

    def tried(chosen):
        @given(st.dictionaries(st.sampled_from(chosen), VALUE, min_size=1, max_size=min(2, len(chosen))))
        def odd(changes):
            odd_cells(tmp_path, changes, unnamed)

        return odd

    if long:
        for column in range(len(rows[0])):
            tries(2 * PER_FIELD, long)(tried([cell for cell in cells if cell[2] == column]))()
        tally.say(file)
    else:
        tries(6, long)(tried(cells))()
    assert not unnamed, unnamed
