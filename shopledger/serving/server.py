"""The web server: waitress, set up in one place, refusing by the headers what is too large.

As waitress comes, it takes a body of up to a gigabyte into a file before the program hears of it, and lets half a
request stand open as long as a byte comes now and then.
"""

import copy
import gc
from collections.abc import Callable

from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser
from waitress.server import BaseWSGIServer, create_server
from waitress.utilities import RequestEntityTooLarge

from shopledger.errors.large import too_large, unreadable_head
from shopledger.serving.limits import MOST, STRANGER, most_bytes

MOST_HEADERS = 32 * 1024  # bytes
IDLE_S = 60  # without a byte, and for the headers from first to last
WHOLE_S = 15 * 60  # for a whole request: 15 MB at 150 kbit/s
LOOKED_AFTER_S = 10
CONNECTIONS = 200
GARBAGE = 20_000  # objects made and not let go since the last collection, after which one is due
PROXY = {
    "trusted_proxy": "127.0.0.1",
    "trusted_proxy_count": 1,
    "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto"},
}


def make_server(application: Callable, listen: str, threads: int = 8, behind_proxy: bool = False) -> BaseWSGIServer:
    """A server that listens; `run()` serves. listen: addresses and ports, with blanks between. behind_proxy: one on
    this machine says from where and how a request came; without it nobody is believed that. Raises OSError where it
    cannot listen."""
    server = create_server(
        application,
        listen=listen,
        threads=threads,
        ident=None,
        max_request_header_size=MOST_HEADERS,
        max_request_body_size=MOST + 1,
        channel_timeout=IDLE_S,
        cleanup_interval=LOOKED_AFTER_S,
        connection_limit=CONNECTIONS,
        clear_untrusted_proxy_headers=True,
        **(PROXY if behind_proxy else {}),
    )
    for each in (server._map if isinstance(server, BaseWSGIServer) else server.map).values():
        if isinstance(each, BaseWSGIServer):
            each.channel_class = Channel
    return server


def run(server: BaseWSGIServer) -> None:
    """Serve until the process is ended, with garbage collected between requests alone.

    Within one, a thread that holds SQLite's turn to write could come upon a cursor of another thread's connection. To
    let go of it waits for that connection, which waits for the turn: all stood still until the turn was given up."""
    gc.collect()
    gc.freeze()  # what the program itself is made of is not looked through each time
    gc.disable()
    server.run()


def collect_where_due() -> None:
    """Collect garbage, where enough has come together. Only where no transaction is open in this thread."""
    if not gc.isenabled() and gc.get_count()[0] > GARBAGE:
        gc.collect()


class Told:
    """An error of a request, answered in this program's words."""

    def __init__(self, code: int, reason: str, text: str, headers: dict[str, str]):
        self.status, self.body, self.headers = f"{code} {reason}", text.encode(), list(headers.items())

    def to_response(self, ident: str | None = None) -> tuple[str, list[tuple[str, str]], bytes]:
        return self.status, self.headers, self.body


class Parser(HTTPRequestParser):
    """Knows, once it has the headers, how large the body may be."""

    most = STRANGER

    def parse_header(self, header_plus: bytes) -> None:
        super().parse_header(header_plus)
        if self.chunked or self.content_length > STRANGER:
            self.most = most_bytes(self.path, self.headers.get("COOKIE", ""))
        self.adj = copy.copy(self.adj)
        self.adj.max_request_body_size = self.most + 1

    def received(self, data: bytes) -> int:
        consumed = super().received(data)
        if self.error and not isinstance(self.error, Told):
            self.expect_continue = False  # waitress would ask for the body that it has just refused
            part = self.headers.get("HX_REQUEST") == "true"
            large = isinstance(self.error, RequestEntityTooLarge)
            said = too_large(self.most, part) if large else unreadable_head(part)
            self.error = Told(self.error.code, self.error.reason, *said)
        return consumed


class Channel(HTTPChannel):
    """A connection whose request must come to an end, even if a byte comes now and then."""

    parser_class = Parser
    arriving: HTTPRequestParser | None = None
    began = 0.0

    def service(self) -> None:
        super().service()
        collect_where_due()

    def received(self, data: bytes) -> bool:
        took = super().received(data)
        if self.request is not self.arriving:
            self.arriving, self.began = self.request, self.last_activity
        if self.request is not None:
            if not self.request.headers_finished:
                self.last_activity = self.began
            elif self.last_activity - self.began > WHOLE_S:
                self.last_activity = 0  # closed when the connections are next looked after
        return took
