"""What is sent to the server: refused by its headers where it is too large, stopped at the limit, not waited for."""

import ast
import contextlib
import socket
import time
import uuid

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from waitress.server import BaseWSGIServer

from inventory.attachments.content import MOST_BYTES
from inventory.attachments.models import Attachment
from inventory.ledger.models import Voucher
from shopledger.serving import limits
from shopledger.serving.server import GARBAGE, IDLE_S, MOST_HEADERS, WHOLE_S, make_server, run
from shopledger.serving.sessions import SessionStore, digest_of, made_here
from tests.forked import LONG, ROOT
from tests.inventory.test_attachments import PDF, uploads  # noqa: F401 (fixture)
from tests.inventory.test_office_pages import CANS, delivery, ready  # noqa: F401 (a fixture)

KEY = "a" * 24 + digest_of("a" * 24)
FORGED = "a" * 40
MB = 1024 * 1024


class Line:
    """One connection to a server that this process runs itself, step by step."""

    def __init__(self, listen="127.0.0.1:0"):
        self.asked = []
        self.server = make_server(self.application, listen, threads=1)
        self.socket = self.connect()

    def application(self, environ, start_response):
        self.asked.append((environ["PATH_INFO"], len(environ["wsgi.input"].read())))
        start_response("200 OK", [("Content-Length", "2")])
        return [b"ok"]

    def connect(self):
        found = socket.create_connection((self.server.effective_host, int(self.server.effective_port)), timeout=LONG)
        while not self.server.active_channels:
            self.turn()
        return found

    @property
    def channel(self):
        (found,) = self.server.active_channels.values()
        return found

    def turn(self):
        self.server.asyncore.loop(timeout=0.01, map=self.server._map, count=1)

    def send(self, data):
        """All of it has been read by the server when this returns."""
        before = self.channel.last_activity = -1.0
        self.socket.sendall(data)
        while self.server.active_channels and self.channel.last_activity == before:
            self.turn()

    def answer(self):
        """What comes back, once the server has written it."""
        self.socket.setblocking(False)
        found = b""
        while True:
            self.turn()
            try:
                part = self.socket.recv(65536)
            except BlockingIOError:
                continue
            except ConnectionResetError:
                return found.decode()
            found += part
            if not part or found.rstrip().endswith((b"</html>", b"</div>", b"ok")):
                return found.decode()

    def end(self):
        self.socket.close()
        self.server.task_dispatcher.shutdown()
        self.server.close()


@pytest.fixture
def line():
    found = Line()
    yield found
    found.end()


def head(path, length=None, cookie="", **more):
    words = [f"POST {path} HTTP/1.1", "Host: localhost"]
    words += [f"Content-Length: {length}"] if length is not None else []
    words += [f"Cookie: sessionid={cookie}"] if cookie else []
    words += [f"{name.replace('_', '-')}: {value}" for name, value in more.items()]
    return ("\r\n".join(words) + "\r\n\r\n").encode()


@pytest.mark.parametrize(
    ("path", "length", "cookie", "most"),
    [
        ("/sign-in/", 100 * MB, "", "64 KB"),
        ("/logs/", 100 * MB, "", "64 KB"),
        ("/logs/", 100 * MB, FORGED, "64 KB"),
        ("/files/to/voucher/1/", limits.STRANGER + 1, "", "64 KB"),
        ("/receiving/new/", 2 * MB + 1, KEY, "2 MB"),
        ("/nowhere/", 3 * MB, KEY, "64 KB"),
        ("/files/to/voucher/1/", 17 * MB, KEY, "16 MB"),
        ("/jobs/1/photos/", 17 * MB, KEY, "16 MB"),
        ("/logs/", 161 * MB, KEY, "160 MB"),
        ("/logs/", 10**30, KEY, "160 MB"),
    ],
)
def test_a_body_is_refused_by_its_length_before_it_comes(line, path, length, cookie, most):
    for more in ({}, {"Expect": "100-continue"}):
        line.send(head(path, length, cookie, **more))
        answer = line.answer()
        assert answer.startswith("HTTP/1.1 413 ") and f"more than the {most} that are taken" in answer, answer
        assert "Content-Security-Policy: default-src 'none'" in answer and "no-store" in answer
        assert "100 Continue" not in answer
        while line.server.active_channels:  # and the connection is closed: nothing more of it is read
            line.turn()
        line.socket.close()
        line.socket = line.connect()
    assert line.asked == []


@pytest.mark.parametrize(
    ("path", "cookie", "most"), [("/logs/", "", limits.STRANGER), ("/receiving/new/", KEY, 2 * MB)]
)
def test_a_body_in_chunks_is_stopped_at_the_limit(line, path, cookie, most):
    line.send(head(path, None, cookie, Transfer_Encoding="chunked"))
    chunk = b"1000\r\n" + b"x" * 4096 + b"\r\n"
    sent = 0
    while line.server.active_channels and not line.channel.requests and not line.channel.close_when_flushed:
        line.send(chunk)
        sent += len(chunk)
        assert sent <= most + 2 * len(chunk), "read on"
    answer = line.answer()
    assert answer.startswith("HTTP/1.1 413 ") and line.asked == [] and sent > most


def test_what_may_come_comes(line):
    body = b"x" * (3 * MB)
    line.socket.setblocking(False)
    data, at = head("/logs/", len(body), KEY) + body, 0
    while at < len(data):
        with contextlib.suppress(BlockingIOError):
            at += line.socket.send(data[at : at + 100_000])
        line.turn()
    assert line.answer().endswith("ok") and line.asked == [("/logs/", len(body))]


def test_a_part_of_a_page_gets_a_notice_and_no_page(line):
    line.send(head("/receiving/new/", 9 * MB, KEY, HX_Request="true"))
    answer = line.answer()
    assert answer.startswith("HTTP/1.1 413 ") and 'role="alert"' in answer and "<html" not in answer


@pytest.mark.parametrize(
    ("sent", "status"),
    [
        (b"GET /" + b"a" * MOST_HEADERS + b" HTTP/1.1\r\n\r\n", "431"),
        (b"GET / HTTP/1.1\r\nA: " + b"a" * MOST_HEADERS, "431"),
        (b"a request\r\n\r\n", "400"),
        (b"POST / HTTP/1.1\r\nContent-Length: -1\r\n\r\n", "400"),
        (b"POST / HTTP/1.1\r\nTransfer-Encoding: gzip\r\n\r\n", "501"),
    ],
)
def test_what_is_no_request_is_told_in_the_house_s_words(line, sent, status):
    line.send(sent)
    answer = line.answer()
    assert answer.split()[1] == status and "That could not be read" in answer and line.asked == []


def test_half_headers_are_closed_though_a_byte_comes_now_and_then(line):
    """By the clock that the server is told, not by waiting."""
    line.send(b"GET / HTTP/1.1\r\n")
    began = time.time()
    line.server.maintenance(began + IDLE_S - 5)
    assert not line.channel.will_close
    line.send(b"X: y\r\n")
    line.channel.began = line.channel.last_activity = began - IDLE_S - 1  # its first byte came so long ago
    line.socket.sendall(b"Z: y\r\n")
    while line.channel.request.header_plus.count(b"\r\n") < 3:
        line.turn()
    line.server.maintenance(time.time())
    assert line.channel.will_close


def test_a_body_that_drips_for_a_quarter_of_an_hour_is_closed(line):
    line.send(head("/receiving/new/", 1000, KEY))
    line.send(b"x")
    line.server.maintenance(time.time())
    assert not line.channel.will_close
    line.channel.began -= WHOLE_S + 1
    line.send(b"x")
    line.server.maintenance(time.time())
    assert line.channel.will_close


def test_several_addresses_are_served_alike():
    found = make_server(lambda *_: [], "127.0.0.1:0 127.0.0.1:0", threads=1)
    try:
        each = [one for one in found.map.values() if isinstance(one, BaseWSGIServer)]
        assert len(each) == 2 and {one.channel_class.__name__ for one in each} == {"Channel"}
    finally:
        found.close()


def test_every_view_that_takes_files_says_how_large():
    """The names of the pages whose view reads files are those that `limits` knows."""
    from django.urls import get_resolver

    views = set()
    for floor in ("inventory", "jobs", "shopledger"):
        for path in (ROOT / floor).rglob("*views.py"):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.FunctionDef) and "request.FILES" in ast.unparse(node):
                    views.add((".".join(path.relative_to(ROOT).with_suffix("").parts), node.name))
    assert len(views) >= 3
    found = {
        pattern.name
        for group in get_resolver().url_patterns
        for part in group.url_patterns
        for pattern in getattr(part, "url_patterns", [part])
        if (pattern.callback.__module__, pattern.callback.__name__) in views
    }
    assert found == set(limits.WITH_FILES)


@pytest.mark.django_db
def test_a_visitor_gets_no_key_that_lets_more_than_64_kb_in():
    """A passkey's challenge makes a session for whoever asks."""
    stranger = Client()
    assert stranger.post("/sign-in/passkey/asked/", HTTP_HOST="localhost").status_code == 200
    key = stranger.cookies["sessionid"].value
    assert not made_here(key) and limits.most_bytes("/logs/", f"sessionid={key}") == limits.STRANGER


@pytest.mark.django_db
def test_a_session_s_key_shows_that_it_was_made_here(office, client):
    first = SessionStore()
    first.cycle_key()  # as signing in does
    assert made_here(first.session_key) and not made_here(FORGED) and not made_here("")
    assert not made_here(first.session_key[:-1] + "0" if first.session_key[-1] != "0" else first.session_key[:-1] + "1")
    client.force_login(office)
    assert made_here(client.cookies["sessionid"].value)


@pytest.mark.django_db
def test_it_shows_it_too_while_the_signing_key_is_renewed(office_client, settings):
    key = office_client.cookies["sessionid"].value
    settings.SECRET_KEY, before = "a new one", settings.SECRET_KEY
    assert not made_here(key)
    settings.SECRET_KEY_FALLBACKS = [before]
    assert made_here(key) and not made_here(FORGED)


@pytest.mark.django_db
def test_nobody_gets_such_a_key_without_signing_in(client, office):
    for path in ("/", "/sign-in/", "/logs/", "/nowhere/", "/healthz"):
        client.get(path, follow=True)
    client.post("/sign-in/", {"username": "oscar", "password": "wrong"})
    assert "sessionid" not in client.cookies


@pytest.mark.django_db
def test_another_server_s_bodies_are_refused_before_they_are_read(client, office_client, monkeypatch):
    """Whatever serves in place of ours: the middleware comes before the form's key is looked for."""
    here = settings.MIDDLEWARE.index("shopledger.serving.middleware.BodyMiddleware")
    read_no_body = ["CachingMiddleware", "EveryAnswerMiddleware", "CSPMiddleware"]
    assert [one.rpartition(".")[2] for one in settings.MIDDLEWARE[:here]] == read_no_body
    checked = Client(enforce_csrf_checks=True)
    large = "x" * (limits.STRANGER + 1)
    for one in (client, checked):
        answer = one.post("/sign-in/", {"username": large, "password": "x"})
        assert answer.status_code == 413 and "64 KB that are taken" in answer.content.decode()
    answer = office_client.post("/receiving/new/", {"document": "x" * (2 * MB)})
    assert answer.status_code == 413 and "2 MB that are taken" in answer.content.decode()
    answer = office_client.post("/receiving/new/", {"document": "x" * (2 * MB)}, headers={"HX-Request": "true"})
    assert answer.status_code == 413 and "<html" not in answer.content.decode()


@pytest.mark.django_db
def test_a_file_of_the_most_that_may_be_is_taken(ready, uploads):  # noqa: F811
    assert ready.post("/receiving/new/", delivery(CANS)).status_code == 302
    body = PDF + bytes(MOST_BYTES - 2 * len(PDF)) + PDF
    data = {"key": str(uuid.uuid4()), "title": "x", "file": SimpleUploadedFile("i.pdf", body)}
    voucher = Voucher.objects.get(kind="receipt").pk
    assert ready.post(f"/files/to/voucher/{voucher}/", data).status_code == 302
    assert Attachment.objects.get().size == MOST_BYTES


def test_garbage_is_collected_between_requests_alone(monkeypatch):
    """Within one, a thread that holds SQLite's turn could wait for another that waits for the turn."""
    ran = []
    monkeypatch.setattr("shopledger.serving.server.gc", Collector(ran))
    line = Line()
    line.application = line.server.application = lambda environ, start: ran.append("asked") or answered(start)
    run(RunsOnce(ran))
    line.send(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n")
    line.answer()
    line.server.task_dispatcher.shutdown()  # its thread has come to the end of the request
    assert ran == ["collect", "freeze", "disable", "run", "asked", "collect"]


def answered(start):
    start("200 OK", [("Content-Length", "2")])
    return [b"ok"]


class RunsOnce:
    def __init__(self, ran):
        self.run = lambda: ran.append("run")


class Collector:
    """The collector, with more than enough to be collected."""

    def __init__(self, ran):
        self.collect, self.freeze = lambda: ran.append("collect"), lambda: ran.append("freeze")
        self.disable = lambda: ran.append("disable")
        self.isenabled, self.get_count = lambda: "disable" not in ran, lambda: (GARBAGE + 1, 0, 0)
