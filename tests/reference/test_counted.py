"""So many distinct published values are checked, and each case of the list of the law is a test with its number."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.reference.counted import NUMBER, QUANTITY, Collector, counted, listed, names_its_source

LEAST = 400


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    """What the tests of this folder check, collected by a run of its own, whichever tests this run is about."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.reference.counted"],
        cwd=Path(__file__).parents[2],
        env={**os.environ, "DATA_DIR": str(tmp_path_factory.mktemp("data"))},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    return json.loads(done.stdout)


def test_so_many_published_values_are_checked(found) -> None:
    others = found["total"] - len(found["cases"])
    print(f"\n{found['total']} distinct values: {len(found['cases'])} cases of the law, {others} others")
    for name, count in found["by_file"].items():
        print(f"{count:5} {name}")
    print("without a source, not counted:", *found["without_source"], sep="\n      ")
    assert found["total"] >= LEAST


def test_each_case_of_the_list_is_a_test(found) -> None:
    assert len(listed()) == len(set(listed())) == 147 and all(NUMBER.match(one) for one in listed())
    assert [one for one in listed() if one not in found["cases"]] == [], "cases without a test"
    assert [one for one in found["cases"] if one not in listed()] == [], "numbers that are no case"


# -- how it counts -------------------------------------------------------------------------------------------------


FILE = '''"""Nothing is said here."""


def test_with():
    """40 CFR 82.157."""


def test_without():
    """It is so."""


# OIML R 76-1
def test_commented():
    pass
'''


@pytest.mark.parametrize(
    ("function", "named"), [("test_with", True), ("test_without", False), ("test_commented", True), ("test_no", False)]
)
def test_a_value_without_a_source_is_none(tmp_path, function: str, named: bool) -> None:
    path = tmp_path / "test_it.py"
    path.write_text(FILE)
    assert names_its_source(path, function) is named


def test_rows_are_not_counted_and_quantities_are(tmp_path) -> None:
    path = tmp_path / "test_it.py"
    path.write_text(FILE)

    def test_with() -> None: ...

    collector = Collector()
    for params in (
        {"designation": "R-32", "basis": "ar4", "expected": 1},
        {"designation": "R-125", "basis": "ar4", "expected": 2},
        {"designation": "R-125", "basis": "ar6", "expected": 3},
        {"quantity": "part:R-32"},
        {"quantity": "part:R-125"},
        {"quantity": "gwp:ar4"},
        {"quantity": "gwp:ar6"},
    ):
        collector.found.append((path, "x", params, test_with))
    for ids in ("US-4.3", "US-4.3-a", "x-US-4.4", "US-4.30"):
        collector.found.append((path, ids, {"case": ids}, test_with))
    made = counted(collector)
    assert made["cases"] == ["US-4.3", "US-4.4", "US-4.30"]
    assert made["by_file"] == {"test_it.py": 5} and made["total"] == 8


def test_what_names_a_quantity_is_no_row() -> None:
    assert QUANTITY.isdisjoint({"designation", "substance", "equipment", "day", "kilograms", "pounds", "expected"})
