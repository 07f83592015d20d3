"""How many distinct published values the tests of this folder check: `python -m tests.reference.counted` says it.

What counts as one, and what does not:

- Each case of the list in `law/cases.txt` counts once, however many assertions, parametrized rows or tests bear its
  number (`US-4.3`, `US-4.3-a`). Its text was read by whoever wrote the list, and is cited there.
- Every other test function counts once for each *quantity* that it checks. A function checks one, unless a parameter of
  it says which (QUANTITY: the GWP basis, the section of a rulebook, the property of a gas ...); then it counts once for
  each value of those parameters, or pair of values where it has two.
- Rows do not count: neither the gas, nor the equipment, the amount, the day, or what is expected. 100 gases by one GWP
  basis are one; the shares of all blends are one; two sides of a threshold are one.
- A function counts only where it says where its value stands: a citation (SOURCE) in its own text, with decorators,
  docstring and comments, or in the docstring of its file. "Common practice, no source" and "from memory" are such
  statements; they are counted, and they are no more than that.
- Files that try the program's own machinery on invented texts (INVENTED) count nothing.

A few functions count that only hold a copy of published values together (that none is left out), where their file
names its source. It counts what is checked, not how well: a value from memory counts as one that was read in the law.
Two functions that check the same value from two sources count twice. So the figure is a size, no measure of quality.
"""

import ast
import inspect
import json
import re
import sys
from collections import defaultdict
from functools import cache
from pathlib import Path

import pytest

from inventory.reference.refrigerants import GWP_BASES

FOLDER = Path(__file__).parent
CASES = FOLDER / "law" / "cases.txt"
NUMBER = re.compile(r"^((?:US|EU|GB|AU|CA)-\d+\.\d+)(?:-[a-z])?$")

# Parameters that say which quantity is checked, and not of what, how much or when.
QUANTITY = frozenset({"basis", "figure", "function", "method", "quantity", "record", "section", "work"})

# Files whose values are made up, to try the program and not a text.
INVENTED = frozenset({"test_counted.py", "test_invented_rulebook.py", "test_rules_are_data.py"})

# Words by which a source is named in this folder.
SOURCE = re.compile(
    r"CFR|\bFR \d|U\.S\.C|Regulation|regulation|\barticles?\b|\bAnnex|\bSOR/|\bSI \d{4}|GOV\.UK|Environment Agency|SEPA"
    r"|OIML|JCGM|NIST|IAPWS|\bISO\b|SAE J|AHRI|ASHRAE|ADR|P200|IPCC|EPA|CoolProp|chemicals \d|\bpint\b|Appendix"
    r"|Guideline|equation of state|Lemmon|Tillner|common practice|Common practice|from memory|no source"
    r"|leak_math_cases|gases\.csv"
)


class Collector:
    """What pytest finds, as (file, function, parameters) of each test."""

    def __init__(self) -> None:
        self.found: list[tuple[Path, str, dict[str, object], object]] = []

    def pytest_collection_modifyitems(self, items: list[pytest.Function]) -> None:
        for item in items:
            params = item.callspec.params if hasattr(item, "callspec") else {}
            ids = item.name.partition("[")[2].removesuffix("]")
            self.found.append((Path(item.path), ids, params, item.function))


@cache
def names_its_source(path: Path, function: str) -> bool:
    """Whether a test function says where its value stands, in its own text or in the docstring of its file."""
    text = path.read_text(encoding="utf-8")
    tree = ast.parse(text)
    lines = text.splitlines()
    for node in tree.body:
        if isinstance(node, ast.FunctionDef) and node.name == function:
            first = min([node.lineno, *(one.lineno for one in node.decorator_list)])
            while first > 1 and lines[first - 2].startswith("#"):  # a comment right above it
                first -= 1
            own = "\n".join(lines[first - 1 : node.end_lineno])
            return bool(SOURCE.search(own) or SOURCE.search(ast.get_docstring(tree) or ""))
    return False


def counted(collector: Collector) -> dict[str, object]:
    """What was found: cases of the law, other values by file, functions without a source, and all together."""
    cases: set[str] = set()
    values: dict[str, set[tuple]] = defaultdict(set)
    without: set[str] = set()
    for path, ids, params, function in collector.found:
        numbers = {match[1] for one in _pieces(ids) if (match := NUMBER.match(one))}
        if numbers:
            cases |= numbers
            continue
        name = inspect.unwrap(function).__name__
        if path.name in INVENTED:
            continue
        if not names_its_source(path, name):
            without.add(f"{path.name}::{name}")
            continue
        values[path.name].add((name, _quantities(params)))
    by_file = {name: len(found) for name, found in sorted(values.items())}
    return {
        "cases": sorted(cases, key=_in_order),
        "by_file": by_file,
        "without_source": sorted(without),
        "total": len(cases) + sum(by_file.values()),
    }


def _quantities(params: dict[str, object]) -> tuple:
    """Which quantities a row of a table is about. What stands behind a colon is a row (`part:R-32`), unless it is the
    basis of a GWP (`gwp:ar4`)."""
    said = []
    for key, value in params.items():
        if key in QUANTITY:
            name, _, of = str(getattr(value, "__name__", value)).partition(":")
            said.append((key, name, of if of in GWP_BASES else ""))
    return tuple(sorted(said))


def _pieces(ids: str) -> list[str]:
    """The parts of a test's id that may be a number: `[US-4.3]`, `[US-4.3-a]`, `[x-US-4.3]`."""
    return [ids, *re.findall(r"(?:US|EU|GB|AU|CA)-\d+\.\d+(?:-[a-z])?(?![\w.])", ids)]


def _in_order(number: str) -> tuple[str, int, int]:
    place, _, rest = number.partition("-")
    rule, _, case = rest.partition(".")
    return place, int(rule), int(case)


def listed() -> list[str]:
    """The cases that there must be, as their list has them."""
    return CASES.read_text(encoding="utf-8").split()


def main() -> int:
    """Collects the tests of this folder and prints what they check, as JSON."""
    collector = Collector()
    standard, sys.stdout = sys.stdout, sys.stderr
    try:
        code = pytest.main(["--collect-only", "-q", str(FOLDER)], plugins=[collector])
    finally:
        sys.stdout = standard
    print(json.dumps(counted(collector), indent=1))
    return int(code)


if __name__ == "__main__":
    sys.exit(main())
