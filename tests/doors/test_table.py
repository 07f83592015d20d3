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
PENDING: set[str] = {
    "caches:test_faults_and_the_way_in_and_out_are_not_kept",
    "caches:test_no_part_of_a_page_is_kept",
    "caches:test_nothing_of_a_report_is_kept_by_a_cache",
    "caches:test_signing_out_clears_what_the_browser_kept_but_not_what_waits_to_be_sent",
    "caches:test_the_phone_s_key_is_each_person_s_own",
    "caches:test_what_one_person_s_page_sends_is_not_taken_from_another",
    "guessing:test_all_of_them_are_counted_together",
    "log_page:test_a_zip_with_a_list_of_files_without_end_is_refused",
    "passkeys:test_a_signature_by_another_key_is_not_taken",
    "passkeys:test_the_password_alone_signs_nobody_in_who_has_one",
    "passkeys:test_wrong_answers_count_as_wrong_passwords_do",
    "passwords:test_codes_on_paper_are_kept_as_hashes_alone",
    "pictures:test_the_decoder_knows_no_key_of_the_server",
    "pictures:test_what_the_judging_misses_ends_at_the_limit_of_memory",
    "serving:test_a_body_in_chunks_is_stopped_at_the_limit",
    "serving:test_a_body_is_refused_by_its_length_before_it_comes",
    "serving:test_nobody_gets_such_a_key_without_signing_in",
    "sign_ins:test_a_person_sees_where_they_are_signed_in_and_ends_one",
    "sign_ins:test_a_session_without_its_row_is_worth_nothing",
    "sign_ins:test_all_others_at_once",
    "sign_ins:test_it_ends_when_nobody_uses_it_and_after_a_working_day",
    "sign_ins:test_nobody_ends_another_s_but_the_owner",
    "sign_ins:test_signing_out_takes_the_row",
    "sign_ins:test_the_password_is_asked_again_before_a_way_in_is_changed",
    "sign_ins:test_what_changes_a_way_of_signing_in_ends_the_sign_ins",
    "sign_ins:test_who_has_none_is_led_to_it_and_reaches_nothing_else",
    "supply:test_the_bill_of_materials_names_what_the_lock_names",
}


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
