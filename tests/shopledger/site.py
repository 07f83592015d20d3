"""A shop in a folder and a database of its own, worked by real processes: the commands, and the web server."""

import http.client
import os
import re
import shutil
import sqlite3
import subprocess
import uuid
from contextlib import closing
from pathlib import Path
from urllib.parse import urlencode

import psycopg
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart

from tests.forked import LONG, Forked, manage

TOKEN = "a" * 32
AWAY = "The ledger cannot be reached just now"

SERVE = """
from shopledger.wsgi import application
from shopledger.serving.server import make_server, run
server = make_server(application, "127.0.0.1:0", threads=4)
print(server.effective_port, flush=True)
run(server)
"""

SET_UP = """
import django
django.setup()
from django.test import Client
from inventory.containers.models import Location, Scale
from inventory.shop.models import Shop
from jobs.people.models import Person
from tests.kept import made
made(Shop, id=1, name="Test Shop", address="1 Test Street")
made(Scale, code="bench", readability_mg=1000, usual=True)
made(Location, name="Store")
client = Client()
client.force_login(Person.objects.create_user(username="olive", password="a long one", name="Olive", role="owner"))
print(client.cookies["sessionid"].value)
"""


class Site:
    """folder: its DATA_DIR. url: its DATABASE_URL, or nothing for the file in the folder."""

    def __init__(self, folder: Path, url: str = ""):
        self.folder, self.url = folder, url
        self.servers: list[Server] = []

    @property
    def file(self) -> Path:
        return self.folder / "shopledger.sqlite3"

    @property
    def environment(self) -> dict[str, str]:
        return {
            **os.environ,
            "DATA_DIR": str(self.folder),
            "DATABASE_URL": self.url,
            "PYTHONUNBUFFERED": "1",
            "DJANGO_SETTINGS_MODULE": "shopledger.settings",
            "HTTPS": "off",
            "DEBUG": "off",
        }

    def run(self, *words: object) -> subprocess.CompletedProcess:
        return manage(*words, environment=self.environment)

    def do(self, *words: object) -> str:
        done = self.run(*words)
        assert done.returncode == 0, done.stderr
        return done.stdout

    def python(self, code: str) -> str:
        done = Forked(code, self.environment).ended()
        assert done.returncode == 0, done.stderr
        return done.stdout.strip()

    def set_up(self, tables: Path | None = None) -> "Site":
        """tables: a file with the program's tables, copied instead of making them."""
        self.folder.mkdir(parents=True, exist_ok=True)
        if tables:
            shutil.copy(tables, self.file)
        else:
            self.do("migrate", "--verbosity", "0", "--skip-checks")
        (self.folder / "session").write_text(self.python(SET_UP), encoding="ascii")
        return self

    def copy(self, folder: Path) -> "Site":
        """The same shop in another folder (SQLite)."""
        shutil.copytree(self.folder, folder, dirs_exist_ok=True)
        return Site(folder)

    def serve(self, before: str = "") -> "Server":
        """before: code that the server's process runs first."""
        server = Server(self, before)
        self.servers.append(server)
        return server

    def documents(self) -> list[str]:
        """What the ledger holds, asked of the database itself."""
        asked = "SELECT document FROM inventory_voucher WHERE kind = 'receipt' ORDER BY number"
        with closing(self.connect()) as database:
            return [document for (document,) in database.execute(asked)]

    def connect(self) -> psycopg.Connection | sqlite3.Connection:
        """The database itself, without the program."""
        return psycopg.connect(self.url) if self.url else sqlite3.connect(self.file)

    def end(self) -> None:
        for server in self.servers:
            server.kill()


class Server:
    """The web server on a port of its own, and somebody signed in who uses it."""

    def __init__(self, site: Site, before: str = ""):
        self.session = (site.folder / "session").read_text(encoding="ascii")
        self.process = Forked(f"{before}\n{SERVE}", site.environment)
        self.port = int(self.process.stdout.readline() or 0)  # said once it listens
        assert self.port, "the server ended"

    def ask(
        self,
        method: str,
        path: str,
        data: dict[str, str] | None = None,
        file: tuple[str, bytes] | None = None,
    ) -> tuple[int, str]:
        """Status and text, or where it leads. file: its name and what is in it. Raises OSError or HTTPException where
        the server goes away meanwhile."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=LONG)
        headers = {"Cookie": f"sessionid={self.session}; csrftoken={TOKEN}"}
        body = None
        if data is not None:
            body = urlencode({**data, "csrfmiddlewaretoken": TOKEN})
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        if file is not None:
            upload = SimpleUploadedFile(*file)
            body = encode_multipart(BOUNDARY, {**(data or {}), "csrfmiddlewaretoken": TOKEN, "file": upload})
            headers["Content-Type"] = MULTIPART_CONTENT
        try:
            connection.request(method, path, body, headers)
            answer = connection.getresponse()
            return answer.status, answer.read().decode("utf-8") or answer.headers.get("Location", "")
        finally:
            connection.close()

    def get(self, path: str) -> tuple[int, str]:
        return self.ask("GET", path)

    def attach(self, name: str, body: bytes, key: str = "", to: str = "voucher/1") -> tuple[int, str]:
        """Attach a file through its form."""
        data = {"key": key or str(uuid.uuid4()), "title": name}
        return self.ask("POST", f"/files/to/{to}/", data, (name, body))

    def most_memory(self) -> int:
        """Bytes of memory that the server's process had at most since it began (VmHWM; Linux)."""
        status = Path(f"/proc/{self.process.pid}/status").read_text(encoding="ascii")
        return int(re.search(r"VmHWM:\s+(\d+) kB", status)[1]) * 1024

    def deliver(self, document: str, key: str = "", count: int = 1) -> tuple[int, str]:
        """Post a delivery through its form."""
        return self.ask(
            "POST",
            "/receiving/new/",
            {
                "key": key or str(uuid.uuid4()),
                "supplier": "Acme",
                "document": document,
                "day": "2026-03-02",
                "line-TOTAL_FORMS": "1",
                "line-INITIAL_FORMS": "0",
                "line-0-kind": "can",
                "line-0-substance": "R-134a",
                "line-0-net": "340 g",
                "line-0-count": str(count),
                "line-0-tare": "100 g",
                "line-0-location": "Store",
            },
        )

    def kill(self) -> None:
        self.process.kill()


def sentence(answer: tuple[int, str]) -> bool:
    """Whether a person was told that the ledger is away, in a page and not in a trace."""
    status, text = answer
    return status == 503 and AWAY in text and "Traceback" not in text
