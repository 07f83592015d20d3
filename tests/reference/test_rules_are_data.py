"""What differs between places is data: no place is named in the program, and no field of a rule is for nothing."""

import ast
import re
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path

import pytest

from inventory.reference.rule import Rule
from inventory.reference.rulebook import rulebooks
from inventory.reference.rules import SECTIONS
from inventory.shop.models import DEFAULT_RULEBOOK

ROOT = Path(__file__).resolve().parents[2]
REFERENCE = ROOT / "inventory" / "reference"
FLOORS = ("inventory", "jobs", "shopledger")
SOURCES = [path for floor in FLOORS for path in sorted((ROOT / floor).rglob("*.py")) if "migrations" not in path.parts]

# Where the invented shop says where it is.
DEMO = ROOT / "shopledger" / "demo"
# The one rulebook that is called by its name: the one of no place, which a shop has before it chose another.
UNSTABLE_HEADER = ROOT / "inventory/scales/string_forms.py"  # a scale's header for `unstable` is spelled like one
CHOSEN_FIRST = ROOT / "inventory" / "shop" / "models.py"

COUNTRIES = (
    *("Australia", "Austria", "Belgium", "Canada", "Denmark", "England", "Europe", "European Union", "France"),
    *("Germany", "Great Britain", "Ireland", "Italy", "Netherlands", "New Zealand", "Northern Ireland", "Norway"),
    *("Poland", "Scotland", "Spain", "Sweden", "Switzerland", "United Kingdom", "United States", "Wales"),
    *("EU", "GB", "UK", "US", "USA", "Australian", "British", "Canadian", "European", "American"),
)
NAMES = {name.casefold() for name in COUNTRIES}
NAMES |= {word.casefold() for book in rulebooks().values() for word in (book.name, book.title, book.area)}
SPOKEN = re.compile(rf"\b(?:{'|'.join(name for name in COUNTRIES if len(name) > 3)})\b(?!/)")  # not Europe/Dublin
CITED = re.compile(r"\((?:EU|EC)\)|Regulation|CFR|Directive|List of Waste")  # a text has its name, wherever it is cited


def docstrings(tree: ast.AST) -> set[int]:
    """The nodes that are docstrings, by their identity."""
    kinds = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)
    bodies = [node.body for node in ast.walk(tree) if isinstance(node, kinds) and node.body]
    return {id(body[0].value) for body in bodies if isinstance(body[0], ast.Expr)}


def places_named(text: str) -> list[str]:
    """The literals of a program that are a rulebook or a country by name, or speak of a country."""
    tree = ast.parse(text)
    told = docstrings(tree)
    literals = [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in told
    ]
    return [one for one in literals if one.casefold() in NAMES or (SPOKEN.search(one) and not CITED.search(one))]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ('if shop.rulebook == "eu": pass', ["eu"]),
        ('BOOKS = {"us-federal": 1}', ["us-federal"]),
        ('say("Only in Great Britain")', ["Only in Great Britain"]),
        ('"""As in Canada."""', []),
        ('zone = "Europe/Dublin"', []),
        ('text = "Regulation (EU) 2024/573"', []),
    ],
)
def test_a_place_that_is_named_is_found(text: str, found: list[str]) -> None:
    assert places_named(text) == found


def test_no_place_is_named_in_the_program() -> None:
    found = {}
    for path in SOURCES:
        if DEMO in path.parents:
            continue
        named = places_named(path.read_text(encoding="utf-8"))
        if path == CHOSEN_FIRST:
            named.remove(DEFAULT_RULEBOOK)
        if path == UNSTABLE_HEADER:
            named.remove("US")
        if named:
            found[path.relative_to(ROOT).as_posix()] = named
    assert found == {}


def test_no_template_asks_which_rulebook_it_is() -> None:
    asked = re.compile(r"rulebook\.?\w*\s*(?:==|!=|in)\s*[\"']")
    for path in sorted((ROOT / "templates").rglob("*.html")):
        text = path.read_text(encoding="utf-8")
        assert not asked.search(text) and not SPOKEN.search(text), path


# -- fields of rules -----------------------------------------------------------------------------------------------


def read(tree: ast.AST) -> set[str]:
    """The names that a part of a program reads: attributes, and what it calls or passes on."""
    found = {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Load)}
    return found | {node.id for node in ast.walk(tree) if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load)}


def functions() -> Iterator[tuple[str, ast.AST]]:
    """The functions of the room of published facts that answer questions, those that read and show its files apart."""
    for path in sorted(REFERENCE.glob("*.py")):
        if path.name in ("rulebook_file.py", "wording.py", "stricter.py"):
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef) and node.name != "__post_init__":
                yield node.name, node


def names_in_use() -> set[str]:
    """What is read outside that room, and by whatever of that room is called from outside, however far."""
    outside = [path for path in SOURCES if REFERENCE not in path.parents]
    known = set().union(*(read(ast.parse(path.read_text(encoding="utf-8"))) for path in outside))
    inside = defaultdict(set)
    for name, node in functions():
        inside[name] |= read(node)
    while True:
        more = set().union(*(names for name, names in inside.items() if name in known)) - known
        if not more:
            return known
        known |= more


def test_each_field_of_each_rule_is_read() -> None:
    """By its name: that it changes an answer too is tried in test_invented_rulebook.py."""
    base, used = {one.name for one in fields(Rule)}, names_in_use()
    unread = {
        f"{section}.{one.name}"
        for section, kind in SECTIONS.items()
        for one in fields(kind)
        if one.name not in base | used
    }
    assert unread == set()
