"""The house's own rules, kept by a test."""

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.core.management import call_command

from inventory.reference.kinds import KINDS, with_trait
from inventory.reference.rulebook import rulebooks
from shopledger.reports.registry import REPORTS

ROOT = Path(__file__).resolve().parents[1]
FLOORS = ("inventory", "jobs", "shopledger")  # from the ground up
SOURCES = [path for floor in FLOORS for path in sorted((ROOT / floor).rglob("*.py")) if "migrations" not in path.parts]

# The whole house: every room, in its order from the ground up, and the rooms that it uses. A room may use only rooms
# named before it. An arrow that is not here fails, and so does one that nothing needs any more.
USES = {
    # inventory
    "inventory/text": "",
    "inventory/measures": "inventory: text",
    "inventory/reference": "",
    "inventory/plausible": "inventory: text measures reference",
    "inventory/verdicts": "inventory: measures reference",
    "inventory/costing": "",
    "inventory/shop": "inventory: text measures reference costing",
    "inventory/asking": "inventory: text measures plausible shop",
    "inventory/codes": "inventory: text",
    "inventory/ledger": "inventory: text measures reference verdicts shop",
    "inventory/attachments": "inventory: text shop ledger",
    "inventory/audit": "inventory: measures shop ledger",
    "inventory/parties": "inventory: text measures verdicts shop codes ledger attachments",
    "inventory/paper": "inventory: measures verdicts shop ledger",
    "inventory/containers": (
        "inventory: text measures reference plausible verdicts shop asking codes ledger parties paper"
    ),
    "inventory/places": "inventory: text shop ledger containers",
    "inventory/correcting": "inventory: text reference shop ledger parties containers",
    "inventory/scales": "inventory: text measures plausible shop asking ledger containers",
    "inventory/machines": "inventory: text reference verdicts shop ledger attachments containers correcting",
    "inventory/counting": (
        "inventory: text measures reference plausible shop asking ledger paper containers correcting scales"
    ),
    "inventory/supply": "inventory: text measures costing shop ledger paper containers",
    "inventory/orders": "inventory: text measures reference shop codes ledger parties containers",
    "inventory/receiving": (
        "inventory: text measures reference plausible verdicts shop asking ledger attachments parties containers "
        "correcting orders"
    ),
    "inventory/buying": (
        "inventory: text measures reference shop ledger parties paper containers supply orders receiving"
    ),
    "inventory/kept": (
        "inventory: text measures reference plausible shop asking codes ledger attachments containers correcting "
        "receiving"
    ),
    "inventory/shipping": (
        "inventory: text measures reference verdicts shop codes ledger parties paper containers correcting"
    ),
    "inventory/releases": (
        "inventory: text measures reference plausible verdicts shop asking ledger containers correcting"
    ),
    "inventory/vouchers": (
        "inventory: text measures reference shop codes ledger attachments parties containers correcting shipping "
        "releases"
    ),
    "inventory/write_offs": "inventory: text shop ledger containers counting releases",
    "inventory/shop_pages": "inventory: measures reference shop ledger containers write_offs",
    # jobs
    "jobs/planning": "inventory: text measures reference",
    "jobs/people": "inventory: text measures reference verdicts shop ledger attachments audit",
    "jobs/units": "jobs: people; inventory: text measures reference shop codes ledger",
    "jobs/lines": "inventory: text ledger containers",
    "jobs/drafts": (
        "jobs: planning people units lines; "
        "inventory: text measures reference verdicts shop ledger attachments paper containers scales"
    ),
    "jobs/signing": (
        "jobs: planning people units lines drafts; "
        "inventory: text measures reference verdicts shop ledger attachments containers"
    ),
    "jobs/leaks": (
        "jobs: people units drafts signing; "
        "inventory: text measures reference verdicts shop ledger attachments releases"
    ),
    "jobs/sheet": (
        "jobs: planning people units lines drafts signing leaks; "
        "inventory: measures verdicts shop codes ledger attachments paper"
    ),
    "jobs/pages": (
        "jobs: planning people units lines drafts signing leaks sheet; "
        "inventory: text measures reference plausible shop asking ledger attachments containers scales"
    ),
    "jobs/practice": ("jobs: people units drafts pages; inventory: text shop ledger containers scales receiving"),
    # shopledger
    "shopledger/background": "",
    "shopledger/database": "",
    "shopledger/errors": "inventory: text",
    "shopledger/navigation": "",
    "shopledger/templatetags": (
        "shopledger: navigation; "
        "jobs: people units drafts; "
        "inventory: measures reference verdicts paper shop ledger audit containers counting"
    ),
    "shopledger/backup": "inventory: text shop ledger attachments",
    "shopledger/reporting": "inventory: text measures verdicts shop ledger paper",
    "shopledger/findings": (
        "shopledger: reporting; "
        "jobs: people units drafts signing leaks; "
        "inventory: measures reference verdicts shop ledger parties containers scales machines counting receiving "
        "shipping releases"
    ),
    "shopledger/reports": (
        "shopledger: reporting findings; "
        "jobs: people units drafts leaks; "
        "inventory: measures reference costing verdicts shop ledger parties paper containers counting supply orders "
        "buying"
    ),
    "shopledger/sealing": "shopledger: reporting reports; inventory: text measures shop ledger paper",
    "shopledger/inspection": (
        "shopledger: background database backup reporting reports sealing; "
        "jobs: people units drafts sheet; "
        "inventory: text measures shop codes ledger attachments audit parties containers"
    ),
    "shopledger/inspectors": (
        "shopledger: reporting reports inspection; "
        "jobs: people drafts sheet; "
        "inventory: text measures shop codes ledger attachments parties vouchers"
    ),
    "shopledger/signin": (
        "shopledger: database errors inspectors; jobs: people drafts; inventory: text shop ledger audit"
    ),
    "shopledger/shared_phone": "shopledger: signin; jobs: people; inventory: text shop",
    "shopledger/home": (
        "shopledger: errors backup sealing signin shared_phone; "
        "jobs: people drafts leaks; "
        "inventory: measures shop ledger audit containers scales machines counting supply orders write_offs"
    ),
    "shopledger/health": "shopledger: background database backup; inventory: shop ledger",
    "shopledger/logbook": (
        "shopledger: background; "
        "jobs: people units lines drafts signing leaks; "
        "inventory: text measures reference plausible shop ledger parties containers scales machines counting "
        "releases"
    ),
    "shopledger/exporting": (
        "shopledger: logbook; "
        "jobs: people units lines drafts leaks; "
        "inventory: measures shop ledger parties containers correcting scales machines counting shipping "
        "releases"
    ),
    "shopledger/sheets": "inventory: text",
    "shopledger/sheet_meaning": "shopledger: logbook sheets; inventory: text measures reference plausible",
    "shopledger/sheet_pages": (
        "shopledger: background logbook sheets sheet_meaning; "
        "jobs: people units drafts; "
        "inventory: text measures reference shop ledger parties containers"
    ),
    "shopledger/serving": "shopledger: errors logbook sheets; inventory: attachments",
    "shopledger/monthend": (
        "shopledger: reporting reports sealing; "
        "jobs: people drafts; "
        "inventory: text measures shop ledger attachments parties containers scales machines counting receiving "
        "shipping"
    ),
    "shopledger/report_pages": "shopledger: reporting reports sealing; inventory: shop ledger parties paper",
    "shopledger/find": (
        "shopledger: navigation reports; jobs: people drafts units; "
        "inventory: measures shop ledger parties orders buying containers"
    ),
    "shopledger/seal_pages": (
        "shopledger: background reports sealing monthend; jobs: people; inventory: text measures shop ledger"
    ),
    "shopledger/erasing": "inventory: text shop ledger",
    "shopledger/demo": (
        "shopledger: reporting; "
        "jobs: planning people units drafts signing leaks; "
        "inventory: shop ledger parties containers places scales orders receiving buying kept shipping"
    ),
    "shopledger/management": (
        "shopledger: database errors backup reporting reports sealing inspection signin health logbook exporting "
        "sheets sheet_meaning sheet_pages serving demo; "
        "jobs: drafts sheet; "
        "inventory: text measures shop ledger"
    ),
    "shopledger/middleware": "shopledger: errors; inventory: text shop ledger containers write_offs",
}

# What holds a floor together: it gathers its rooms where Django looks for them, and is used by nobody.
FRAME = {"apps", "models", "urls", "settings", "wsgi"}

# Plain calculation: no Django, no database. Whole rooms first, then modules of others.
PURE = (
    "inventory/text",
    "inventory/reference",
    "inventory/plausible",
    "inventory/verdicts",
    "inventory/costing",
    "jobs/planning",
    "jobs/units/systems.py",
    "inventory/attachments/content.py",
    "inventory/attachments/pictures.py",
    "inventory/attachments/redraw.py",
    "inventory/buying/amounts.py",
    "inventory/buying/need.py",
    "inventory/codes/wording.py",
    "inventory/containers/apart.py",
    "inventory/containers/costs.py",
    "inventory/containers/events.py",
    "inventory/containers/filled.py",
    "inventory/containers/heel.py",
    "inventory/containers/holdings.py",
    "inventory/containers/oil_age.py",
    "inventory/containers/replay.py",
    "inventory/containers/retest.py",
    "inventory/containers/safe_fill.py",
    "inventory/containers/states.py",
    "inventory/containers/telling.py",
    "inventory/counting/causes.py",
    "inventory/ledger/accounts.py",
    "inventory/ledger/canonical.py",
    "inventory/orders/matching.py",
    "inventory/measures/balance_uncertainty.py",
    "inventory/measures/days.py",
    "inventory/measures/money.py",
    "inventory/measures/months.py",
    "inventory/measures/numbers.py",
    "inventory/measures/pressure.py",
    "inventory/measures/quantity.py",
    "inventory/measures/tolerance.py",
    "inventory/measures/units.py",
    "inventory/scales/no_reading.py",
    "inventory/scales/string_forms.py",
    "inventory/scales/string_lines.py",
    "inventory/scales/strings.py",
    "inventory/scales/taking.py",
    "inventory/vouchers/wording.py",
    "jobs/drafts/fields.py",
    "jobs/drafts/merge.py",
    "jobs/drafts/steps.py",
    "jobs/leaks/events.py",
    "jobs/leaks/case.py",
    "jobs/leaks/case_clock.py",
    "jobs/leaks/case_inspections.py",
    "jobs/leaks/case_steps.py",
    "jobs/leaks/chronic.py",
    "jobs/leaks/leak_checks.py",
    "jobs/leaks/leak_rate.py",
    "jobs/leaks/leak_verdicts.py",
    "jobs/leaks/losses.py",
    "jobs/leaks/notices.py",
    "jobs/leaks/seasonal.py",
    "jobs/lines/posting.py",
    "jobs/lines/totals.py",
    "jobs/people/allowed.py",
    "jobs/people/wording.py",
    "jobs/signing/charging.py",
    "jobs/signing/detail.py",
    "jobs/signing/doing.py",
    "jobs/signing/judged.py",
    "jobs/signing/objections.py",
    "jobs/units/vin.py",
    "shopledger/backup/archive.py",
    "shopledger/demo/cast.py",
    "shopledger/findings/finding.py",
    "shopledger/logbook/cells.py",
    "shopledger/logbook/folder.py",
    "shopledger/reporting/periods.py",
    "shopledger/reporting/report.py",
    "shopledger/sheets",
    "shopledger/sheet_meaning",
    "shopledger/signin/browsers.py",
    "shopledger/signin/pin_rules.py",
)


def room_of(path: Path) -> str | None:
    """The room that a file belongs to, e.g. `jobs/lines`; None for what holds a floor together."""
    floor, name = path.relative_to(ROOT).parts[:2]
    name = name.removesuffix(".py")
    return None if name in FRAME or name == "__init__" else f"{floor}/{name}"


def imports(path: Path) -> Iterator[str]:
    """The names of all modules that a file imports, inside functions too."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def rooms_used(path: Path) -> set[str]:
    """The rooms of the house that a file imports from."""
    found = set()
    for name in imports(path):
        parts = name.split(".")
        if parts[0] not in FLOORS or len(parts) < 2:
            continue
        place = ROOT / parts[0] / parts[1]
        if place.is_dir() or place.with_suffix(".py").exists():
            found.add(room_of(place))
    return found - {room_of(path), None}


def said(uses: str) -> set[str]:
    """`jobs: lines drafts; inventory: text` as a set of rooms."""
    floors = (part.split(":") for part in uses.split(";") if part.strip())
    return {f"{floor.strip()}/{room}" for floor, rooms in floors for room in rooms.split()}


def test_the_top_level_is_what_it_is():
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "manage.py",
        "requirements.txt",
        "shopledger",
        "jobs",
        "inventory",
        "templates",
        "tests",
    }
    assert {path.name for path in ROOT.iterdir() if not path.name.startswith(".")} <= allowed


def test_the_map_is_what_is_imported():
    found: dict[str, set[str]] = {}
    for path in SOURCES:
        room = room_of(path)
        if room is not None:
            found.setdefault(room, set()).update(rooms_used(path))
    assert found == {room: said(uses) for room, uses in USES.items()}


def test_rooms_use_only_rooms_named_before():
    before: set[str] = set()
    for room, uses in USES.items():
        assert said(uses) <= before, room
        before.add(room)


def test_floors_only_go_down():
    """What holds a floor together may name rooms of its own floor and below."""
    for path in SOURCES:
        floor = FLOORS.index(path.relative_to(ROOT).parts[0])
        above = [name for name in imports(path) if name.split(".")[0] in FLOORS[floor + 1 :]]
        assert above == [], path


# Where a kind of container is called by its name: the table itself; practice and the demo, which make theirs up.
NAMES_KINDS = {
    "inventory/reference/kinds.py",
    "jobs/practice/invented.py",
    *(f"shopledger/demo/{name}.py" for name in ("apart", "bay", "founding", "office", "stock")),
}
OF_A_KIND = re.compile(r"(?:^|__|\.)kind(?:__in|__exact)?$")
NAMED = "|".join(KINDS)
KIND_IN_SQL = re.compile(rf"\bkind\s*(?:=|<>|!=|(?:NOT\s+)?IN\s*\()\s*'(?:{NAMED})'", re.IGNORECASE)
KIND_IN_TEMPLATE = re.compile(rf"\bkind\s*(?:==|!=|in|not in)\s*[\"'](?:{NAMED})\b")


def named_kinds(node: ast.AST) -> set[str]:
    """The kinds that are written out in an expression: alone, or in a list of such."""
    values = node.elts if isinstance(node, ast.Tuple | ast.List | ast.Set) else [node]
    return {one.value for one in values if isinstance(one, ast.Constant)} & KINDS.keys()


def kinds_named(text: str) -> set[int]:
    """The lines of a program in which something is compared with, filtered by, or called a kind by its name."""
    return {node.lineno for node in ast.walk(ast.parse(text)) if names_a_kind(node)}


def names_a_kind(node: ast.AST) -> bool:
    if isinstance(node, ast.Compare):
        sides = [node.left, *node.comparators]
        asked = any(OF_A_KIND.search(ast.unparse(side).replace("['kind']", ".kind")) for side in sides)
        return asked and any(named_kinds(side) for side in sides)
    if isinstance(node, ast.keyword):
        return bool(node.arg and OF_A_KIND.search(node.arg) and named_kinds(node.value))
    if isinstance(node, ast.Tuple | ast.List | ast.Set):
        return 1 < len(named_kinds(node)) == len(node.elts)
    if isinstance(node, ast.Call) and ast.unparse(node.func).split(".")[-1] in {"ContainerState", "Arrival"}:
        return any(named_kinds(one) for one in node.args)
    return isinstance(node, ast.Constant) and isinstance(node.value, str) and bool(KIND_IN_SQL.search(node.value))


@pytest.mark.parametrize(
    "text",
    [
        'container.kind == "can"',
        'row["kind"] in {"can", "disposable"}',
        'Container.objects.filter(kind="machine")',
        'Container.objects.exclude(container__kind__in=["oil"])',
        'SINGLE_USE = ("can", "disposable")',
        'ContainerState(code, "recovery", substance)',
        "SQL = \"SELECT 1 FROM c WHERE c.kind <> 'oil'\"",
        "SQL = \"SELECT 1 FROM c WHERE c.kind NOT IN ('can', 'oil')\"",
    ],
)
def test_a_kind_that_is_named_is_found(text):
    assert kinds_named(text) == {1}


def test_no_kind_of_container_is_called_by_its_name():
    for path in SOURCES:
        if path.relative_to(ROOT).as_posix() not in NAMES_KINDS:
            assert kinds_named(path.read_text(encoding="utf-8")) == set(), path
    for path in sorted((ROOT / "templates").rglob("*.html")):
        assert KIND_IN_TEMPLATE.findall(path.read_text(encoding="utf-8")) == [], path


def test_every_rulebook_says_which_kinds_are_single_use_and_which_are_tested():
    for book in rulebooks().values():
        for section, trait in (("single_use", "single_use"), ("retest", "refillable")):
            named = {kind for rule in book.sections[section] for kind in rule.kinds}
            assert named == set(with_trait(trait)), (book.name, section)


def test_nothing_is_too_long():
    for path in SOURCES:
        text = path.read_text(encoding="utf-8")
        assert text.count("\n") <= 400, path
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                assert node.end_lineno - node.lineno < 60, f"{path}: {node.name}"
                given = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
                assert len(given) <= 6, f"{path}: {node.name}"


def test_no_line_is_exempt_from_the_one_form():
    exempt = "# fmt" + ": skip"
    for path in ROOT.rglob("*.py"):
        if not any(part.startswith(".") for part in path.relative_to(ROOT).parts):
            assert exempt not in path.read_text(encoding="utf-8"), path


def test_plain_calculation_stays_free_of_django():
    """Each is imported where Django cannot be: what it imports must be free of it too."""
    paths = [path for name in PURE for path in (sorted((ROOT / name).glob("*.py")) or [ROOT / name])]
    names = [".".join(path.relative_to(ROOT).with_suffix("").parts) for path in paths]
    barred = (
        "import importlib, sys\n"
        "sys.modules['django'] = None\n"
        "for name in sys.argv[1:]:\n"
        "    try:\n"
        "        importlib.import_module(name)\n"
        "    except ImportError as error:\n"
        "        print(name, error)\n"
    )
    done = subprocess.run([sys.executable, "-c", barred, *names], cwd=ROOT, capture_output=True, text=True)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def test_templates_keep_the_content_policy():
    for path in sorted((ROOT / "templates").rglob("*.html")):
        found = re.findall(r'<script(?![^>]*\bsrc=)[^>]*>|\son\w+="|\sstyle="', path.read_text(encoding="utf-8"))
        assert found == [], path


def test_template_lines_are_short():
    for path in sorted((ROOT / "templates").rglob("*.html")):
        assert max(map(len, path.read_text(encoding="utf-8").splitlines())) <= 200, path


def test_migrations_are_complete(db):
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


def test_every_command_report_kind_and_setting_is_described():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for path in (ROOT / "shopledger/management/commands").glob("[a-z]*.py"):
        assert f"`{path.stem}" in readme, path.stem
    for name in (*REPORTS, *KINDS):
        assert re.search(rf"\b{name}\b", readme), name
    settings = (ROOT / "shopledger/settings.py").read_text(encoding="utf-8")
    head = settings.split('"""')[1]
    for name in re.findall(r'(?:env_on|env_list|environ\.get)\("([A-Z_]+)"', settings):
        assert name in head, name


GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
QUOTED = re.findall(r"`([^`\n]+)`", re.sub(r"```.*?```", "", GUIDE, flags=re.DOTALL))
# Said of something outside this program: what is typed, Django's own words, a beginning of names.
NOT_OURS = {"512 g", "makemigrations", "synchronous=FULL", "inspect-", "migrate"}


def test_each_path_in_the_guide_is_there():
    paths = [one for one in QUOTED if "/" in one and not one.startswith((".venv", "bash "))]
    paths += [one.removeprefix("bash ") for one in QUOTED if one.startswith("bash ")]
    assert len(paths) > 80
    assert [one for one in paths if not (ROOT / one).exists()] == []


def test_each_name_in_the_guide_is_in_the_program():
    known = {name for floor in FLOORS for path in (ROOT / floor).rglob("*.py") for name in (path.name, path.stem)}
    for path in [*SOURCES, Path(__file__)]:
        known |= set(re.findall(r"\w+", path.read_text(encoding="utf-8")))
    names = [one for one in QUOTED if "/" not in one and " " not in one and one not in NOT_OURS]
    assert len(names) > 30
    unknown = [one for one in names if one not in known and not set(re.findall(r"\w+", one)) <= known]
    assert [one for one in unknown if not (ROOT / one).exists()] == []


def test_the_guide_has_every_room_in_its_order():
    listed = [room.removesuffix(".py") for room in re.findall(r"^\| `([^`]+)` \|", GUIDE, re.MULTILINE)]
    assert listed == list(USES)


def test_the_guide_is_read_in_ten_minutes():
    # 238 words a minute: M. Brysbaert, How many words do we read per minute?, J. Memory and Language 109 (2019),
    # silent reading of non-fiction in English; the figure is from memory.
    assert len([word for word in GUIDE.split() if word.strip("|-`#")]) <= 2_380
