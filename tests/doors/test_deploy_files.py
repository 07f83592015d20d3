"""What a shop's server is set up with, and that the page for whoever runs it says what the program does."""

import json
import os
import re
import stat
import subprocess
import sys

import pytest
from django.conf import settings
from waitress.adjustments import Adjustments

from inventory.attachments import content
from inventory.measures import units
from inventory.shop import access, turns
from inventory.shop.models import Shop
from jobs.people.models import Role
from shopledger.inspectors.actions import LONGEST_DAYS
from shopledger.logbook import uploads
from shopledger.serving import limits
from shopledger.serving.server import Parser, make_server
from shopledger.signin import standing
from shopledger.signin.pin_rules import DIGITS
from tests.shopledger.test_deploy import DEPLOY, ROOT, lines, served

PAGE = (DEPLOY / "security.md").read_text(encoding="utf-8")
ASKED = """
import json, os
os.umask(0o022)
from shopledger import settings
names = [name for name in dir(settings) if name.isupper()]
print(json.dumps({name: getattr(settings, name) for name in names}, default=str))
"""


@pytest.fixture
def settings_of(tmp_path):
    """What the settings are in an environment: settings_of(HTTPS="on")."""

    def ask(**environment):
        usual = {name: os.environ[name] for name in ("PATH", "PYTHONPATH", "LD_LIBRARY_PATH") if name in os.environ}
        done = subprocess.run(
            [sys.executable, "-c", ASKED],
            cwd=ROOT,
            env={**usual, "DATA_DIR": str(tmp_path), **environment},
            capture_output=True,
            text=True,
        )
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)

    return ask


# -- the settings -----------------------------------------------------------------------------------------


def test_without_any_setting_nothing_is_open(settings_of, tmp_path):
    found = settings_of()
    assert found["DEBUG"] is False and found["ALLOWED_HOSTS"] == ["localhost", "127.0.0.1", "[::1]"]
    assert len(found["SECRET_KEY"]) >= 64 and found["SECRET_KEY"] == settings_of()["SECRET_KEY"]
    assert stat.S_IMODE((tmp_path / "secret_key").stat().st_mode) == 0o600
    assert not {"django.contrib.admin", "debug_toolbar", "django_extensions"} & set(found["INSTALLED_APPS"])
    assert found["SESSION_COOKIE_HTTPONLY"] and found["CSRF_COOKIE_HTTPONLY"]
    assert (found["SESSION_COOKIE_SAMESITE"], found["CSRF_COOKIE_SAMESITE"]) == ("Lax", "Lax")


def test_with_tls_cookies_belong_to_this_host_alone(settings_of):
    found = settings_of(HTTPS="on")
    for kind in ("SESSION", "CSRF"):
        assert found[f"{kind}_COOKIE_NAME"].startswith("__Host-") and found[f"{kind}_COOKIE_SECURE"] is True
        assert found.get(f"{kind}_COOKIE_DOMAIN") is None and found.get(f"{kind}_COOKIE_PATH", "/") == "/"
    assert found["SECURE_SSL_REDIRECT"] is True
    assert found["SECURE_HSTS_SECONDS"] >= 365 * 24 * 3600 and found["SECURE_HSTS_INCLUDE_SUBDOMAINS"] is True


def test_a_key_of_before_is_believed_for_a_while(settings_of):
    found = settings_of(SECRET_KEY="the new one", SECRET_KEY_FALLBACKS="the old one")
    assert (found["SECRET_KEY"], found["SECRET_KEY_FALLBACKS"]) == ("the new one", ["the old one"])
    assert settings_of()["SECRET_KEY_FALLBACKS"] == []


@pytest.mark.parametrize("host", ["db.example", "192.0.2.5"])
def test_a_database_elsewhere_is_met_over_tls_and_proves_itself(settings_of, host):
    found = settings_of(DATABASE_URL=f"postgres://shop:secret@{host}/ledger")["DATABASES"]["default"]
    assert found["OPTIONS"]["sslmode"] == "verify-full" and found["OPTIONS"]["connect_timeout"] == 10
    said = settings_of(DATABASE_URL=f"postgres://shop:secret@{host}/ledger?sslmode=verify-ca")
    assert said["DATABASES"]["default"]["OPTIONS"]["sslmode"] == "verify-ca", "what the address says counts"


@pytest.mark.parametrize(
    "url", ["postgres://a@127.0.0.1:5432/b", "postgres://a@localhost/b", "postgres://%2Frun%2Fpg/b"]
)
def test_a_database_on_this_machine_needs_none(settings_of, url):
    assert "sslmode" not in settings_of(DATABASE_URL=url)["DATABASES"]["default"]["OPTIONS"]


# -- the files --------------------------------------------------------------------------------------------


def test_the_proxy_speaks_tls_1_2_and_1_3_with_forward_secrecy_alone():
    text = (DEPLOY / "nginx.conf").read_text(encoding="utf-8")
    assert re.findall(r"ssl_protocols (.+);", text) == ["TLSv1.2 TLSv1.3"]
    (ciphers,) = re.findall(r"ssl_ciphers (.+);", text)
    for one in ciphers.rstrip(":").split(":"):
        assert one.startswith("ECDHE-") and ("GCM" in one or "CHACHA20" in one), one
    assert "return 301 https://" in text and "autoindex" not in text and "server_tokens off;" in text
    caddy = (DEPLOY / "Caddyfile").read_text(encoding="utf-8")
    assert "protocols" not in caddy and "http://" not in caddy and "browse" not in caddy, "Caddy's own are these"


def test_what_a_visitor_sends_as_the_proxy_s_word_is_thrown_away():
    text = (DEPLOY / "nginx.conf").read_text(encoding="utf-8")
    assert "X-Forwarded-For $remote_addr;" in text and "X-Forwarded-Proto $scheme;" in text
    assert "$proxy_add_x_forwarded_for" not in text and "$http_x_forwarded" not in text
    assert "--behind-proxy" in served() and "--listen=127.0.0.1:8000" in served()
    for behind in (True, False):
        listening = make_server(lambda *_: [], "127.0.0.1:0", behind_proxy=behind)
        listening.close()
        said = listening.adj
        assert said.clear_untrusted_proxy_headers is True
        assert said.trusted_proxy == ("127.0.0.1" if behind else None) and said.trusted_proxy_count in {1, None}


def test_the_service_has_no_more_rights_than_it_needs():
    text = (DEPLOY / "shopledger.service").read_text(encoding="utf-8")
    assert lines("shopledger.service", "User") == ["shopledger"]
    for one in ("NoNewPrivileges=yes", "ProtectSystem=strict", "ProtectHome=yes", "PrivateTmp=yes", "UMask=0077"):
        assert one in text, one
    assert lines("shopledger.service", "StateDirectoryMode") == ["0700"]
    assert lines("shopledger.service", "IPAddressDeny") == ["any"]
    assert lines("shopledger.service", "IPAddressAllow") == ["localhost"]
    for name in ("shopledger.service", "shopledger.plist", "shopledger-nightly.service"):
        said = (DEPLOY / name).read_text(encoding="utf-8")
        assert not re.search(r"SECRET_KEY|postgres://\S+:\S+@|DEBUG", said), name
    assert "install -m 600" in (DEPLOY / "README.md").read_text(encoding="utf-8"), "who may read the environment's file"


def test_the_log_goes_on_over_tls():
    text = (DEPLOY / "rsyslog.conf").read_text(encoding="utf-8")
    assert 'StreamDriver="gtls" StreamDriverMode="1"' in text and 'StreamDriverAuthMode="x509/name"' in text
    assert "/var/lib/shopledger/logs/shopledger.log" in text
    assert str(settings.LOGGING["handlers"]["file"]["filename"]).endswith("logs/shopledger.log")


def test_where_a_message_ends_is_not_left_to_who_sends_it():
    """Of two lengths the chunks count, and the rest is no second request; half of one is refused."""
    both = b"POST / HTTP/1.1\r\nHost: a\r\nContent-Length: 4\r\nTransfer-Encoding: chunked\r\n\r\n"
    both += b"0\r\n\r\nGET /x HTTP/1.1\r\n"
    parser, rest = Parser(Adjustments()), both
    while not parser.completed:
        rest = rest[parser.received(rest) :]
    assert parser.chunked and "CONTENT_LENGTH" not in parser.headers or parser.content_length == 0
    for wrong in (b"Transfer-Encoding: xchunked", b"Transfer-Encoding: chunked, identity", b"Content-Length: +4"):
        parser = Parser(Adjustments())
        parser.received(b"POST / HTTP/1.1\r\nHost: a\r\n" + wrong + b"\r\n\r\n0\r\n\r\n")
        assert parser.error is not None, wrong
    parser = Parser(Adjustments())
    parser.received(b"GET / HTTP/1.1\r\nHost: a\r\nContent-Length: 1\r\nContent-Length: 2\r\n\r\n")
    assert parser.error is not None, "two lengths"


# -- the page ---------------------------------------------------------------------------------------------


def figure(what):
    (found,) = re.findall(rf"^\| {re.escape(what)} \| ([\d,]+)", PAGE, re.MULTILINE)
    return int(found.replace(",", ""))


def minimum():
    (found,) = [one for one in settings.AUTH_PASSWORD_VALIDATORS if one["NAME"].endswith("MinimumLengthValidator")]
    return found["OPTIONS"]["min_length"]


MB = 1024 * 1024
FIGURES = {
    "shortest password": minimum,
    "wrong passwords of one name from one address, until it is shut out": lambda: settings.AXES_FAILURE_LIMIT,
    "shut out for": lambda: settings.AXES_COOLOFF_TIME.total_seconds() / 60,
    "a sign-in ends after": lambda: settings.SESSION_COOKIE_AGE / 3600,
    "a sign-in ends, unused, after": lambda: settings.IDLE_MINUTES,
    "an inspector's access ends after, at most": lambda: LONGEST_DAYS,
    "digits of a PIN": lambda: DIGITS,
    "wrong PINs of one person on one phone, until it asks for the password": lambda: standing.MOST_WRONG,
    "somebody comes back by PIN for, at most": lambda: standing.LASTS.total_seconds() / 3600,
    "a shared phone locks, unless the shop sets another, after": lambda: Shop().lock_minutes,
    "a form, without its files": lambda: settings.DATA_UPLOAD_MAX_MEMORY_SIZE / MB,
    "anything from who is not signed in": lambda: limits.STRANGER / 1024,
    "files of a form": lambda: settings.DATA_UPLOAD_MAX_NUMBER_FILES,
    "fields of a form": lambda: settings.DATA_UPLOAD_MAX_NUMBER_FIELDS,
    "an attached file": lambda: content.MOST_BYTES / MB,
    "a picture's longer side, as it is kept": lambda: content.LONGEST_SIDE,
    "a log, unpacked": lambda: uploads.MOST_BYTES / MB,
    "costly answers at once, in one server process": lambda: turns.AT_ONCE,
}


@pytest.mark.parametrize("what", FIGURES)
def test_the_page_says_the_figures_of_the_program(what):
    assert figure(what) == FIGURES[what]()


def test_the_page_says_what_else_the_program_does():
    most = f"{units.MASS_LIMIT_MG // 10**6:,} kg or {units.VOLUME_LIMIT_UL // 10**6:,} L"
    assert f"at most {most}" in PAGE
    log = settings.LOGGING["handlers"]["file"]
    assert f"{log['backupCount'] + 1} files of {log['maxBytes'] // 1_000_000} MB" in PAGE
    assert f"at most {settings.AXES_ACCESS_FAILURE_LOG_PER_USER_LIMIT} a person" in PAGE
    assert {content.KINDS[one] for one in content.KINDS} == {"pdf", "jpg", "png"} and "JPEG, PNG, WebP and PDF" in PAGE
    for path in re.findall(r"`((?:inventory|jobs|shopledger|tests)/[\w/.]+)`", PAGE):
        assert (ROOT / path).exists(), path
    for name in re.findall(r"`([A-Z_]{5,})`", PAGE):
        assert name in {"WORDS", "DATA_DIR"} or hasattr(settings, name), name


def test_the_page_has_a_row_for_each_role():
    table = PAGE.partition("## Who may do what")[2].partition("\n## ")[0]
    rows = dict(re.findall(r"^\| (\w+) \| .*\| (.*) \|$", table, re.MULTILINE))
    assert set(rows) - {"role"} == set(access.ROLES) == set(Role.values)
    assert rows["inspector"] == "nothing"


@pytest.mark.parametrize(
    "said",
    [
        "There are these ways in, and no other",
        "so nobody outside can shut a person out",
        "As many sign-ins at once as somebody likes",
        "A forgotten password",
        "is mended within|mended within",
        "To renew the signing key",
        "Nothing else: the program asks no other server",
        "What costs much",
        "What is worth protecting",
        "What is logged",
        "What is taken and what is refused",
    ],
)
def test_the_page_has_its_parts(said):
    assert re.search(said, PAGE), said


def test_a_known_weakness_stops_the_build():
    script = (ROOT / ".ci/run").read_text(encoding="utf-8")
    assert "for lock in requirements.txt tests/requirements.txt .ci/requirements.txt; do" in script
    assert 'pip-audit" -r "$lock" --no-deps' in script
    assert re.search(r'cat "\$work/audit\.err" "\$work/audit\.json"; exit 1', script)
    assert re.search(r"manage\.py check --deploy --fail-level WARNING", script)
    for lock in ("requirements.txt", "tests/requirements.txt"):
        text = (ROOT / lock).read_text(encoding="utf-8")
        named = re.findall(r"^[A-Za-z].*==.*$", text, re.MULTILINE)
        assert len(named) > 15 and all(line.endswith("\\") for line in named), "each with its hashes"
        assert not re.search(r"^(?:-i|--index-url|--extra-index-url|--find-links|git\+|https?:)", text, re.MULTILINE)
