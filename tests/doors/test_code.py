"""What the program's text may not hold: what runs text, what guesses, what talks to the world, what shows markup."""

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from django.conf import settings
from django.templatetags.static import static

from tests.test_packages import ROOT, named_in

OURS = ("inventory", "jobs", "shopledger", "manage.py")
SOURCES = [ROOT / "manage.py"] + [
    path for top in OURS[:-1] for path in sorted((ROOT / top).rglob("*.py")) if "migrations" not in path.parts
]
SCRIPTS = sorted((ROOT / "shopledger/static").rglob("*.js"))
TEMPLATES = sorted((ROOT / "templates").rglob("*.html"))

RUNS_TEXT = {"eval", "exec", "compile", "__import__", "Template", "from_string", "literal_eval", "import_string"}
UNPACKS = {"pickle", "marshal", "shelve", "yaml", "dill", "jsonpickle", "plistlib"}
TALKS = {
    "requests",
    "httpx",
    "urllib3",
    "smtplib",
    "imaplib",
    "ftplib",
    "telnetlib",
    "socket",
    "ssl",
    "aiohttp",
    "ldap",
}
READS_XML = {"xml.etree", "xml.dom", "xml.sax.expatreader", "lxml", "defusedxml", "xml.parsers"}
WEAK = {"md5", "sha1", "new", "crc32", "adler32"}
ELSEWHERE = {  # what would bring one of the techniques that are answered with `not here`
    "oauthlib",
    "authlib",
    "social-auth-app-django",
    "django-oauth-toolkit",
    "mozilla-django-oidc",
    "pysaml2",
    "pyjwt",
    "python-jose",
    "djangorestframework",
    "graphene",
    "strawberry-graphql",
    "ariadne",
    "channels",
    "daphne",
    "websockets",
    "aiortc",
    "ldap3",
    "django-auth-ldap",
    "lxml",
    "pylatex",
    "markdown",
    "bleach",
    "django-redis",
    "pymemcache",
    "pylibmc",
    "redis",
    "celery",
    "django-cors-headers",
    "requests",
    "httpx",
}


TEXTS = {path: path.read_text(encoding="utf-8") for path in SOURCES}


@cache
def nodes(text: str) -> tuple[ast.AST, ...]:
    """The calls and imports of a program: all that is looked at here, found once."""
    kinds = (ast.Call, ast.Import, ast.ImportFrom)
    return tuple(node for node in ast.walk(ast.parse(text)) if isinstance(node, kinds))


@cache
def all_names(text: str) -> tuple[tuple[int, str], ...]:
    return tuple(names(text))


def dotted(node: ast.expr) -> str:
    """A name with the one before its last dot, e.g. `hashlib.md5`; blank where it is none."""
    if isinstance(node, ast.Name):
        return node.id
    if isinstance(node, ast.Attribute):
        before = node.value
        return f"{getattr(before, 'id', getattr(before, 'attr', ''))}.{node.attr}"
    return ""


def names(text: str) -> Iterator[tuple[int, str]]:
    """(line, name) for each module imported, and for each function called: by its own name, a method by its last."""
    for node in nodes(text):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.lineno, node.module
            yield from ((node.lineno, f"{node.module}.{alias.name}") for alias in node.names)
        elif isinstance(node, ast.Call):
            called = node.func
            if isinstance(called, ast.Name):
                yield node.lineno, called.id
            elif isinstance(called, ast.Attribute) and dotted(called) != "re.compile":
                yield node.lineno, dotted(called)


def found(barred: set[str], text: str) -> set[int]:
    """The lines in which one of these is imported or called, alone or as `module.name` or `.name`."""
    return {
        line
        for line, name in all_names(text)
        if name in barred or any(name.startswith(f"{one}.") or name.endswith(f".{one}") for one in barred)
    }


def in_program(barred: set[str]) -> set[str]:
    said = ((path, found(barred, text)) for path, text in TEXTS.items())
    return {path.relative_to(ROOT).as_posix() for path, lines in said if lines}


@pytest.mark.parametrize(
    ("barred", "text"),
    [
        (RUNS_TEXT, "eval(said)"),
        (RUNS_TEXT, "Template(said).render()"),
        (RUNS_TEXT, "engine.from_string(said)"),
        (UNPACKS, "import pickle"),
        (UNPACKS, "from yaml import load"),
        (TALKS, "import requests"),
        (TALKS, "from urllib3 import PoolManager"),
        ({"random", "uuid1"}, "from random import choice"),
        ({"random", "uuid1"}, "key = uuid.uuid1()"),
        (WEAK, "hashlib.md5(b'')"),
        (READS_XML, "import xml.etree.ElementTree as tree"),
    ],
)
def test_what_is_barred_is_seen(barred, text):
    assert found(barred, text) == {1} and not found(barred, "re.compile(said); models.F(said)")


def test_no_text_is_run_as_a_program_or_a_template():
    assert in_program(RUNS_TEXT) == set()


def test_nothing_is_read_back_as_objects():
    assert in_program(UNPACKS) == set()


def test_xml_is_read_by_the_reader_of_workbooks_alone():
    """A process of its own with limits, which only `book.py` runs: elsewhere openpyxl only writes."""
    assert in_program(READS_XML | {"load_workbook"}) == {"shopledger/sheets/child.py"}
    readers = [path for path, text in TEXTS.items() if "sheets.child" in text or '"child.py"' in text]
    assert [path.relative_to(ROOT).as_posix() for path in readers] == ["shopledger/sheets/book.py"]


def test_the_program_asks_no_other_server():
    """urllib.parse only takes addresses apart. The demo looks whether its port is free."""
    assert in_program(TALKS | {"urllib.request", "http.client", "urlopen", "send_mail"}) <= {
        "shopledger/management/commands/demo.py"
    }


def test_what_must_not_be_guessed_comes_from_the_system():
    """The demo's dice make the same story each time."""
    dice = ("apart", "bay", "calendar", "stock")
    assert in_program({"random", "uuid1"}) <= {f"shopledger/demo/{name}.py" for name in dice}


def test_sha_256_is_the_only_digest():
    used = set()
    for text in TEXTS.values():
        used |= set(re.findall(r"hashlib\.(\w+)\(", text)) | set(re.findall(r'file_digest\([^"]*"(\w+)"', text))
    assert used - {"file_digest"} == {"sha256"}
    assert in_program(WEAK - {"new"} | {"hashlib.new"}) == set()


def test_nothing_is_encrypted_here():
    """No cipher, no mode, no padding of our own: TLS and the disk do it."""
    assert in_program({"cryptography", "Crypto", "nacl", "Fernet", "AESGCM"}) == set()


def shells(text: str) -> set[int]:
    """The lines that start a program through a shell, or as one text."""
    lines = set()
    for node in nodes(text):
        if isinstance(node, ast.Call):
            name = dotted(node.func)
            if name.startswith(("os.system", "os.popen", "os.exec", "os.spawn", "commands.", "pty.")):
                lines.add(node.lineno)
            if name.startswith("subprocess.") and (
                any(one.arg == "shell" for one in node.keywords)
                or (node.args and isinstance(node.args[0], ast.JoinedStr | ast.Constant | ast.BinOp))
            ):
                lines.add(node.lineno)
    return lines


@pytest.mark.parametrize("text", ["os.system(a)", "subprocess.run(a, shell=True)", 'subprocess.run(f"scan {name}")'])
def test_a_shell_is_seen(text):
    assert shells(text) == {1}


def test_programs_are_started_without_a_shell():
    assert {path for path, text in TEXTS.items() if shells(text)} == set()


def pieced(text: str) -> list[str]:
    """What is put into SQL by its text, and is neither a constant of the module (capitals) nor a placeholder."""
    put = []
    for node in nodes(text):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.args):
            continue
        if node.func.attr in {"execute", "executemany", "raw"} and isinstance(node.args[0], ast.JoinedStr):
            put += [ast.unparse(one.value) for one in ast.walk(node.args[0]) if isinstance(one, ast.FormattedValue)]
    return put


def test_sql_that_is_pieced_from_a_request_is_seen():
    assert pieced('cursor.execute(f"SELECT {request.GET}")') == ["request.GET"]


def test_no_sql_is_pieced_from_what_somebody_typed():
    """Table and column names are the program's own. Nothing that a request, a form or a file brings is among them."""
    for path in SOURCES:
        for one in pieced(TEXTS[path]):
            assert not re.search(r"request|GET|POST|form|data|cell|text|title|note|upload", one), (path, one)


def test_templates_switch_no_escaping_off():
    for path in TEMPLATES:
        assert not re.search(r"\|\s*safe\b|autoescape off|\bsafeseq\b", path.read_text(encoding="utf-8")), path


def test_markup_that_is_made_in_the_program_is_made_of_escaped_parts():
    """`mark_safe` stands in two files, each time with the reason that it is safe; the tests of both try markup in."""
    users = {path.relative_to(ROOT).as_posix() for path in SOURCES if "mark_safe(" in path.read_text(encoding="utf-8")}
    assert users == {"shopledger/templatetags/shop.py", "shopledger/templatetags/renderer.py"}
    for name in users:
        for line in (ROOT / name).read_text(encoding="utf-8").splitlines():
            assert "mark_safe(" not in line or "noqa: S308 (" in line, line


BARRED_IN_SCRIPTS = {
    "runs text": r"\beval\s*\(|\bnew Function\b|setTimeout\(\s*[\"'`]",
    "makes markup of text": r"\.(?:inner|outer)HTML\s*=|insertAdjacentHTML|document\.write",
    "listens to other windows": r"postMessage|addEventListener\(\s*[\"']message|onmessage",
    "opens a channel": r"\bWebSocket\b|\bEventSource\b|RTCPeerConnection",
    "changes prototypes": r"__proto__|\.prototype\b|Object\.setPrototypeOf",
    "asks elsewhere": r"[\"'`]https?://|importScripts|sendBeacon",
}


@pytest.mark.parametrize(("what", "script"), [("runs text", "eval(a)"), ("makes markup of text", "a.innerHTML = b")])
def test_what_is_barred_in_scripts_is_seen(what, script):
    assert re.search(BARRED_IN_SCRIPTS[what], script)


@pytest.mark.parametrize("what", BARRED_IN_SCRIPTS)
def test_no_script(what):
    assert len(SCRIPTS) >= 6
    for path in SCRIPTS:
        text = re.sub(r"^\s*(?://|\*|/\*).*$", "", path.read_text(encoding="utf-8"), flags=re.MULTILINE)
        assert not re.search(BARRED_IN_SCRIPTS[what], text), path


def test_pages_load_nothing_but_what_is_served_here():
    """No plug-in, and no address of another site in what a page loads by itself."""
    for path in TEMPLATES:
        text = path.read_text(encoding="utf-8")
        assert not re.search(r"<(?:object|embed|applet|iframe|frame|base)\b", text), path
        assert not re.search(r"<(?:script|link|img)\b[^>]*(?:src|href)=[\"'](?:https?:)?//", text), path


def test_nothing_that_is_installed_brings_what_is_not_here():
    """No OAuth, tokens, GraphQL, WebSocket, WebRTC, LDAP, LaTeX, memcache or CORS: what is answered with `not here`."""
    assert set(named_in("requirements.txt")) & ELSEWHERE == set()
    assert in_program({name.replace("-", "_") for name in ELSEWHERE}) == set()


def test_nothing_is_kept_in_a_cache_of_the_server():
    assert (
        in_program({"django.core.cache", "cache_page", "lru_cache_of_requests", "django.views.decorators.cache"})
        == set()
    )


def test_one_place_makes_a_regular_expression_of_what_somebody_wrote():
    """Patterns are constants; what is put into one is escaped."""
    for path in SOURCES:
        for node in nodes(TEXTS[path]):
            if isinstance(node, ast.Call) and re.fullmatch(r"re\.\w+", dotted(node.func)) and node.args:
                put = [one.value for one in ast.walk(node.args[0]) if isinstance(one, ast.FormattedValue)]
                for one in map(ast.unparse, put if ast.unparse(node.func) != "re.escape" else []):
                    assert "escape" in one or re.fullmatch(
                        r"[A-Z_.]+|(?:\w+\.)?(?:prefix|PREFIX)|'.*'\.join\([^()]*\)", one
                    ), (path, one)


@pytest.mark.django_db
def test_no_file_of_the_program_is_reached_by_a_page(client):
    for address in ("/.git/config", static("../settings.py"), static("%2e%2e/%2e%2e/settings.py"), "/.data/secret_key"):
        assert client.get(address).status_code == 404, address
    for folder in ("/static/", settings.STATIC_URL, static("shopledger/"), "/uploads/", "/media/"):
        assert client.get(folder).status_code == 404, folder


def test_what_is_served_as_static_holds_no_program():
    kinds = {path.suffix for path in (ROOT / "shopledger/static").rglob("*") if path.is_file()}
    assert kinds <= {".js", ".css", ".svg", ".png", ".ico", ".woff2", ".webmanifest", ".json", ".txt"}
    assert not any(Path(path).name.startswith(".") for path in (ROOT / "shopledger/static").rglob("*"))
