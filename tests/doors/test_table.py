"""The table of doors (`table.toml`) is whole: each id of the standard once, each answer with its tests or its reason.

It grows with each piece of work that opens a door. A test that is named must be there, with something to assert, and
not be skipped. This test prints how many ids have which answer (`pytest -s`).
"""

import ast
import re
import tomllib
from collections import Counter
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
HERE = Path(__file__).parent
IDS = (HERE / "ids.txt").read_text(encoding="utf-8").split()
TABLE = tomllib.loads((HERE / "table.toml").read_text(encoding="utf-8"))
ROWS = {number: row for chapter in TABLE if re.fullmatch(r"V\d+", chapter) for number, row in TABLE[chapter].items()}
ANSWERS = ("proved", "setup", "not_here", "open")
OPEN: set[str] = set()  # ids that may be open, each with what is to be done in its row
# Tests that other branches bring. One that is there now goes out of this list.
PENDING: set[str] = set()


@cache
def functions(name: str) -> dict[str, ast.FunctionDef]:
    """The functions of a file of tests, by name; none where there is no such file."""
    path = ROOT / name
    if not path.is_file():
        return {}
    body = ast.parse(path.read_text(encoding="utf-8")).body
    return {node.name: node for node in body if isinstance(node, ast.FunctionDef)}


def fault_of(function: ast.FunctionDef | None) -> str:
    """Why a function proves nothing; blank where it may."""
    if function is None or not function.name.startswith("test_"):
        return "there is no such test"
    if any(
        re.match(r"pytest\.mark\.(?:skip|skipif|xfail|long)\b", ast.unparse(one)) for one in function.decorator_list
    ):
        return "it is skipped, awaited to fail, or not in the build"
    asserts = any(
        isinstance(node, ast.Assert)
        or (isinstance(node, ast.Call) and re.search(r"raises|check|holds|compare|refus", ast.unparse(node.func)))
        or (isinstance(node, ast.FunctionDef) and node is not function)
        for node in ast.walk(function)
    )
    return "" if asserts else "it asserts nothing"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("def test_a(): assert 1", ""),
        ("def test_a():\n with pytest.raises(E): f()", ""),
        ("def test_a(): pass", "it asserts nothing"),
        ("def helper(): assert 1", "there is no such test"),
        ("@pytest.mark.skip\ndef test_a(): assert 1", "it is skipped, awaited to fail, or not in the build"),
        ("@pytest.mark.long\ndef test_a(): assert 1", "it is skipped, awaited to fail, or not in the build"),
    ],
)
def test_a_test_that_proves_nothing_is_seen(text, said):
    assert fault_of(ast.parse(text).body[0]) == said


def named(row: dict) -> list[str]:
    return [*row.get("proved", "").split(), *row.get("seen", "").split()]


def found(test: str) -> ast.FunctionDef | None:
    file, _, name = test.partition(":")
    return functions(TABLE["files"][file]).get(name)


def test_each_id_of_the_standard_stands_in_it_once():
    written = re.findall(r'^"(V[\d.]+)" =', (HERE / "table.toml").read_text(encoding="utf-8"), re.MULTILINE)
    assert written == IDS and len(set(written)) == len(IDS) == 253
    assert all(number.startswith(f"{chapter}.") for chapter in TABLE for number in TABLE[chapter] if chapter[0] == "V")


@pytest.mark.parametrize("number", IDS)
def test_each_has_an_answer_that_holds(number):
    row = ROWS[number]
    assert set(row) <= {"words", "seen", *ANSWERS} and len(row["words"]) >= 4, row
    answers = [one for one in ANSWERS if one in row]
    assert answers and not ("not_here" in row and len(answers) > 1), f"one answer, and not {answers}"
    if "setup" in row:
        file, _, words = row["setup"].partition(": ")
        assert len(words) > 6 and words in (ROOT / "shopledger/deploy" / file).read_text(encoding="utf-8"), row["setup"]
    if "not_here" in row:
        why = TABLE["reasons"].get(row["not_here"], row["not_here"])
        assert len(why) >= 25 and why[0].isupper() and why.endswith("."), f"{why!r} is no reason: write a sentence"
        assert "seen" in row, "name the test that sees when it is here after all"
    if "open" in row:
        assert number in OPEN and len(row["open"]) >= 25, (
            "only what OPEN names may be open, and says what is to be done"
        )
    for test in named(row):
        why = fault_of(found(test))
        assert not why or test in PENDING, f"{number} names {test}: {why}"


def test_what_was_pending_is_taken_off_the_list():
    everywhere = {test for row in ROWS.values() for test in named(row)}
    assert everywhere >= PENDING, "named by no row"
    there = {test for test in PENDING if not fault_of(found(test))}
    assert there == set(), "these are there now: take them out of PENDING"


def test_nothing_is_open_that_no_row_calls_open():
    assert {number for number, row in ROWS.items() if "open" in row} == OPEN


def test_every_file_and_reason_is_used():
    used = {test.partition(":")[0] for row in ROWS.values() for test in named(row)}
    assert used == set(TABLE["files"]) and all((ROOT / path).parent.is_dir() for path in TABLE["files"].values())
    assert {row.get("not_here") for row in ROWS.values()} >= set(TABLE["reasons"])


def test_so_many_have_which_answer():
    count = Counter(next(one for one in ("open", "not_here", "setup", "proved") if one in row) for row in ROWS.values())
    tests = {test for row in ROWS.values() for test in named(row)}
    print(f"\ndoors: {dict(count)}, by {len(tests)} tests, {len(PENDING)} of them pending")
    assert sum(count.values()) == 253 and count["open"] == len(OPEN)
