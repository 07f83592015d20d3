"""What runs here: this program, Python, Django, the database."""

import platform
import sqlite3
from pathlib import Path

import django
from django.conf import settings
from django.db import connection


def program() -> str:
    """The commit of the checkout, read without git. A copy without its history says so."""
    folder = Path(settings.BASE_DIR) / ".git"
    try:
        head = (folder / "HEAD").read_text(encoding="utf-8").strip()
        if not head.startswith("ref: "):
            return head[:12]
        name = head[5:]
        if (folder / name).is_file():
            return (folder / name).read_text(encoding="utf-8").strip()[:12]
        for line in (folder / "packed-refs").read_text(encoding="utf-8").splitlines():
            if line.endswith(f" {name}"):
                return line[:12]
    except OSError:
        pass
    return "a copy without its history"


def database() -> str:
    """Asks the server of PostgreSQL for its version; raises what the database raises."""
    if connection.vendor == "sqlite":
        return f"SQLite {sqlite3.sqlite_version}"
    with connection.cursor() as cursor:
        cursor.execute("SHOW server_version")
        return f"PostgreSQL {cursor.fetchone()[0].split()[0]}"


def versions(with_database: bool = True) -> dict[str, str]:
    return {
        "program": program(),
        "python": platform.python_version(),
        "django": django.get_version(),
        "database": database() if with_database else "not reached",
        "system": platform.platform(terse=True),
    }
