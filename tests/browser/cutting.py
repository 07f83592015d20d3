"""A network that can be cut: a forwarder between the browser and the server, for the page and its worker alike."""

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from urllib.parse import urlsplit


class Line:
    """Forwards one port to another until it is cut; what was on its way then is lost, as on a real line."""

    def __init__(self, url: str):
        parts = urlsplit(url)
        self._to = parts.hostname, parts.port
        self._pairs: list[tuple[socket.socket, socket.socket]] = []
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.url = f"http://localhost:{self._listener.getsockname()[1]}"
        self.whole, self._ended, self._answers = True, False, True
        threading.Thread(target=self._accept, daemon=True).start()

    def cut(self) -> None:
        self.whole = False
        for pair in self._pairs:
            for end in pair:
                with suppress(OSError):
                    end.shutdown(socket.SHUT_RDWR)
                end.close()
        self._pairs.clear()

    def lose_answers(self) -> None:
        """What is sent arrives, and the line is cut when the server answers it."""
        self._answers = False

    def mend(self) -> None:
        self.whole = self._answers = True

    def end(self) -> None:
        self._ended = True
        self.cut()
        self._listener.close()

    def _accept(self) -> None:
        while not self._ended:
            try:
                near, _ = self._listener.accept()
            except OSError:
                return
            if not self.whole:
                near.close()
                continue
            try:
                far = socket.create_connection(self._to)
            except OSError:
                near.close()
                continue
            self._pairs.append((near, far))
            for one, other in ((near, far), (far, near)):
                threading.Thread(target=self._pass_on, args=(one, other, one is far), daemon=True).start()

    def _pass_on(self, one: socket.socket, other: socket.socket, answers: bool) -> None:
        with suppress(OSError):
            while data := one.recv(65536):
                if answers and not self._answers:
                    self.cut()
                    return
                other.sendall(data)
        for end in (one, other):
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)


@contextmanager
def line_to(url: str) -> Iterator[Line]:
    line = Line(url)
    try:
        yield line
    finally:
        line.end()
