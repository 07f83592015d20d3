"""What a shop installs, what the tests add, and the commands that say so."""

import ast
import re
import runpy
import sys
from importlib.metadata import metadata, packages_distributions, requires, version
from pathlib import Path

import pytest
from django.conf import settings
from packaging.requirements import Requirement
from packaging.specifiers import SpecifierSet
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[1]
OURS = {"inventory", "jobs", "shopledger", "tests"}
# Each is installed by hand by the few who want what it does; the file that imports it says so at its top.
# What .ci/requirements.txt names is installed beside all this.
BY_HAND = {("tests/bench/crowd_people.py", "locust"), (".ci/bom.py", "cyclonedx")}


def named_in(name):
    """The packages in a file of requirements, by name: a line for each, but numpy has one for some Pythons each."""
    text = (ROOT / name).read_text(encoding="utf-8")
    lines = re.findall(r"^[A-Za-z][^\\#\n]*", text, re.MULTILINE)
    named = {}
    for requirement in map(Requirement, lines):
        named.setdefault(canonicalize_name(requirement.name), []).append(requirement)
    return named


def here(requirements):
    """The one line that counts for the Python that runs this."""
    return [one for one in requirements if one.marker is None or one.marker.evaluate({"extra": ""})]


def imported_by(*tops):
    """(file, module) for each module that is imported from outside, also inside functions."""
    for top in tops:
        for path in sorted((ROOT / top).rglob("*.py")) if (ROOT / top).is_dir() else [ROOT / top]:
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                names = []
                if isinstance(node, ast.Import):
                    names = [alias.name for alias in node.names]
                elif isinstance(node, ast.ImportFrom) and not node.level:
                    names = [node.module]
                for name in {name.split(".")[0] for name in names} - OURS - sys.stdlib_module_names:
                    yield path.relative_to(ROOT).as_posix(), name


def not_named(imported, named):
    """Those of (where, module) that come from no package in `named`."""
    comes_from = packages_distributions()
    return {
        (where, module)
        for where, module in imported
        if not {canonicalize_name(name) for name in comes_from.get(module, ())} & set(named)
    }


def needed_by(asked):
    """The names of all packages that these requirements bring along here, themselves included."""
    needed, todo = set(), [(one.name, one.extras) for one in asked]
    while todo:
        name, extras = todo.pop()
        needed.add(canonicalize_name(name))
        for line in requires(name) or ():
            one = Requirement(line)
            wanted = one.marker is None or any(one.marker.evaluate({"extra": extra}) for extra in ("", *extras))
            if wanted and canonicalize_name(one.name) not in needed:
                todo.append((one.name, one.extras))
    return needed


def test_what_runs_imports_only_what_a_shop_is_told_to_install():
    assert not_named(imported_by("inventory", "jobs", "shopledger", "manage.py"), named_in(".requirements.in")) == set()
    by_name = [("settings", path.split(".")[0]) for path in settings.INSTALLED_APPS + settings.MIDDLEWARE]
    assert not_named((one for one in by_name if one[1] not in OURS), named_in(".requirements.in")) == set()


def test_the_tests_import_only_what_both_files_name():
    both = named_in(".requirements.in") | named_in("tests/.requirements.in")
    assert not_named(imported_by("tests", ".ci"), both) == BY_HAND


def test_an_import_of_a_test_tool_is_seen():
    assert not_named([("a.py", "pytest"), ("b.py", "PIL")], named_in(".requirements.in")) == {("a.py", "pytest")}


def test_a_shop_installs_no_test_tool():
    # django-csp brings packaging along.
    assert set(named_in("requirements.txt")) & set(named_in("tests/.requirements.in")) == {"packaging"}


@pytest.mark.parametrize("folder", ["", "tests/"])
def test_a_lock_holds_what_was_asked_for_and_what_that_needs(folder):
    asked, lock = named_in(f"{folder}.requirements.in"), named_in(f"{folder}requirements.txt")
    assert {name for name, lines in lock.items() if here(lines)} == needed_by(sum(asked.values(), []))
    assert {name: lines[0].specifier for name, lines in asked.items()} == {
        name: lock[name][0].specifier for name in asked
    }


def test_both_locks_say_the_same_of_what_both_need():
    runs, tests = named_in("requirements.txt"), named_in("tests/requirements.txt")
    both = set(runs) & set(tests)
    assert "numpy" in both
    for name in both:
        assert {str(one.specifier) for one in runs[name]} == {str(one.specifier) for one in tests[name]}, name


def test_what_is_installed_here_is_what_the_locks_say():
    for lines in (named_in("requirements.txt") | named_in("tests/requirements.txt")).values():
        for one in here(lines):
            assert str(one.specifier) == f"=={version(one.name)}", one.name


def test_no_package_here_refuses_a_newer_python():
    """uv leaves out what a package says of the newest Python that it takes; pip obeys it."""
    for lines in (named_in("requirements.txt") | named_in("tests/requirements.txt")).values():
        for one in here(lines):
            takes = SpecifierSet(metadata(one.name).get("Requires-Python", ""))
            for python in ("3.11", "3.12", "3.13", "3.14"):
                told = {"python_version": python, "python_full_version": f"{python}.0"}
                assert (one.marker and not one.marker.evaluate(told)) or takes.contains(f"{python}.0"), one.name


def blocks(name):
    return re.findall(r"^```\n(.*?)^```$", (ROOT / name).read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)


def test_the_readme_says_both_commands_for_each_system():
    demo, tests, windows_demo, windows_tests = blocks("README.md")[:4]
    venv, install, runs = demo.strip().split(" && ")
    assert (venv, install) == ("python3 -m venv .venv", ".venv/bin/pip install -q -r requirements.txt")
    assert runs == ".venv/bin/python manage.py demo"
    assert tests.strip().split(" && ")[:2] == [venv, install + " -r tests/requirements.txt"]
    assert " -m pytest " in tests
    for unix, windows in ((demo, windows_demo), (tests, windows_tests)):
        typed = unix.replace("python3", "py", 1).replace(".venv/bin/", ".venv\\Scripts\\")
        assert windows.splitlines() == typed.strip().split(" && ")


def test_a_developer_installs_what_the_tests_of_the_readme_install():
    assert blocks("README.md")[1].split(" && ")[:2] == blocks("DEVELOPERS.md")[0].split("    #")[0].split(" && ")


def test_an_older_python_is_told_which_one_is_needed(monkeypatch, capsys):
    ast.parse((ROOT / "manage.py").read_text(encoding="utf-8"), feature_version=(3, 7))
    monkeypatch.setattr(sys, "version_info", (3, 10, 13, "final", 0))
    monkeypatch.setattr(sys, "version", "3.10.13 (main)")
    with pytest.raises(SystemExit) as stopped:
        runpy.run_path(str(ROOT / "manage.py"), run_name="__main__")
    assert stopped.value.code == 2
    said = "Shopledger needs Python 3.11 or newer, and this is 3.10.13: make .venv with that.\n"
    assert capsys.readouterr().err == said
