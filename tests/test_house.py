"""The house's own rules, kept by a test."""

import ast
import re
from pathlib import Path

import pytest
from django.core.management import call_command

ROOT = Path(__file__).resolve().parents[1]
FLOORS = {"inventory": 0, "jobs": 1, "shopledger": 2}
SOURCES = [path for floor in FLOORS for path in sorted((ROOT / floor).rglob("*.py")) if "migrations" not in path.parts]
# Plain calculation: no Django, no database.
PURE = (
    "inventory/containers/book.py", "inventory/containers/safe_fill.py", "inventory/ledger/accounts.py",
    "inventory/ledger/canonical.py", "inventory/ledger/refusal.py", "inventory/measures/quantity.py",
    "inventory/measures/tolerance.py", "jobs/units/vin.py", "jobs/work/charge_plan.py",
    "jobs/work/hose.py", "jobs/work/detail.py",
    "jobs/work/posting.py", "jobs/work/signing.py", "jobs/work/vacuum.py", "shopledger/logbook/cells.py",
    "shopledger/logbook/folder.py", "shopledger/reports/report.py",
)  # fmt: skip


def imports(path):
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module


def test_the_top_level_is_what_it_is():
    allowed = {
        "README.md", "DEVELOPERS.md", "manage.py", "requirements.txt", "shopledger", "jobs", "inventory", "templates",
        "tests",
    }  # fmt: skip
    assert {path.name for path in ROOT.iterdir() if not path.name.startswith(".")} <= allowed


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_imports_go_down_and_nothing_is_too_long(path):
    text = path.read_text(encoding="utf-8")
    floor = FLOORS[path.relative_to(ROOT).parts[0]]
    assert [name for name in imports(path) if FLOORS.get(name.split(".")[0], -1) > floor] == []
    assert text.count("\n") <= 600
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            assert node.end_lineno - node.lineno <= 70, node.name


@pytest.mark.parametrize("name", PURE)
def test_plain_calculation_stays_free_of_django(name):
    assert [module for module in imports(ROOT / name) if module.split(".")[0] == "django"] == []


def test_templates_keep_the_content_policy():
    for path in sorted((ROOT / "templates").rglob("*.html")):
        found = re.findall(r'<script(?![^>]*\bsrc=)[^>]*>|\son\w+="|\sstyle="', path.read_text(encoding="utf-8"))
        assert found == [], path


def test_migrations_are_complete(db):
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


def test_every_command_and_setting_is_described():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for path in (ROOT / "shopledger/management/commands").glob("[a-z]*.py"):
        assert f"`{path.stem}" in readme, path.stem
    settings = (ROOT / "shopledger/settings.py").read_text(encoding="utf-8")
    head = settings.split('"""')[1]
    for name in re.findall(r'(?:env_on|env_list|environ\.get)\("([A-Z_]+)"', settings):
        assert name in head, name
