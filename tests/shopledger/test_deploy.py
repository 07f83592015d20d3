"""The files that a shop is set up with: they name what is there, and their command serves behind a proxy."""

import http.client
import os
import plistlib
import re
import shlex
import shutil
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest
from django.core.management import get_commands

from tests.forked import LONG

ROOT = Path(__file__).resolve().parents[2]
DEPLOY = ROOT / "shopledger" / "deploy"


def lines(name, key):
    return re.findall(rf"^{key}=(.+)$", (DEPLOY / name).read_text(encoding="utf-8"), re.M)


def served():
    """The words of the service's command after the interpreter."""
    (command,) = lines("shopledger.service", "ExecStart")
    python, *words = shlex.split(command)
    assert python == "/opt/shopledger/.venv/bin/python"
    return words


def test_every_platform_serves_with_the_same_words():
    plist = plistlib.loads((DEPLOY / "shopledger.plist").read_bytes())
    assert plist["ProgramArguments"][1:] == served()
    assert plist["Umask"] == 0o077
    readme = (DEPLOY / "README.md").read_text(encoding="utf-8")
    (command,) = lines("shopledger.service", "ExecStart")
    assert f"-Argument '{command.partition(' ')[2]}'" in readme, "the Windows task"


def test_commands_that_are_named_are_there():
    said = "".join(path.read_text(encoding="utf-8") for path in DEPLOY.iterdir())
    named = set(re.findall(r"manage\.py (\w+)", said))
    assert {"backup", "verify", "restore", "health", "migrate", "move_to", "createsuperuser"} <= named
    assert named <= set(get_commands())
    for name in re.findall(r"`(\w[\w-]*\.(?:plist|conf|service|timer)|Caddyfile)`", said):
        assert (DEPLOY / name).is_file(), name


def test_the_nightly_work_ends_where_the_readme_looks():
    words = [shlex.split(line)[1:] for line in lines("shopledger-nightly.service", "ExecStart")]
    assert [line[1] for line in words] == ["backup", "verify", "health"]
    assert lines("shopledger-nightly.timer", "OnCalendar") == ["*-*-* 03:00:00"]
    (trial,) = (shlex.split(line)[1:] for line in lines("shopledger-trial.service", "ExecStart"))
    assert trial[1:3] == ["restore", "--trial"] and trial[3] == words[0][2], "of the folder that the night fills"
    assert lines("shopledger-trial.timer", "OnCalendar") == ["Sun *-*-* 04:00:00"]


@pytest.fixture
def behind_a_proxy(tables, tmp_path):
    """The service's own command with HTTPS=on, on a free port: ask(headers) -> status, headers."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    words = [word.replace(":8000", f":{port}") for word in served()]
    environment = {
        **os.environ,
        "DATA_DIR": str(tmp_path),
        "DATABASE_URL": "",
        "HTTPS": "on",
        "ALLOWED_HOSTS": "shop.example",
        "DEBUG": "off",
    }
    shutil.copy(tables, tmp_path / "shopledger.sqlite3")
    server = subprocess.Popen(
        [sys.executable, *words], cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
    )

    def ask(path, **headers):
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=LONG)
        connection.request("GET", path, headers={name.replace("_", "-"): value for name, value in headers.items()})
        answer = connection.getresponse()
        found = answer.status, dict(answer.getheaders())
        connection.close()
        return found

    while True:
        try:
            ask("/healthz")
            break
        except OSError:
            assert server.poll() is None, server.stderr.read().decode()
            time.sleep(0.1)
    yield ask
    server.kill()
    server.communicate()


@pytest.mark.processes
def test_the_service_s_command_serves_behind_a_proxy(behind_a_proxy):
    assert behind_a_proxy("/healthz")[0] == 200, "a monitor on this machine, without TLS or a name"
    status, headers = behind_a_proxy("/sign-in/", Host="shop.example")
    assert (status, headers["Location"]) == (301, "https://shop.example/sign-in/")
    status, headers = behind_a_proxy(
        "/sign-in/", Host="shop.example", X_Forwarded_Proto="https", X_Forwarded_For="192.0.2.9"
    )
    assert status == 200
    assert "Secure" in headers["Set-Cookie"] and headers["Strict-Transport-Security"].startswith("max-age=31536000")
    assert behind_a_proxy("/sign-in/", Host="other.example", X_Forwarded_Proto="https")[0] == 400
