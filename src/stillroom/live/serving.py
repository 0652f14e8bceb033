"""The states of the rigs for a browser on this computer: server-sent events on 127.0.0.1, and nothing else."""

from __future__ import annotations

import os
import threading
from collections.abc import Sequence
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import urlsplit

from stillroom.errors import BadInput
from stillroom.live.states import RigState
from stillroom.live.stream import BEGIN, KEEP_ALIVE, MEDIA_TYPE, frame_of

HOST = "127.0.0.1"
NAMES = frozenset({HOST, "localhost"})
PATH = "/rigs"
PATIENCE = 10.0
"""After so long without a change a comment is sent, so that the connection stays open [s]."""


class Serving:
    """Serves the states that it is told, until it is closed.

    Parameters
    ----------
    port : on 127.0.0.1; 0 for any that is free.

    Raises
    ------
    BadInput : the port is in use, or none.
    """

    def __init__(self, port: int) -> None:
        self._changed = threading.Condition()
        self._frame, self._number, self._closed = "", 0, False
        try:
            self._server = _Server((HOST, port), _Handler, self)
        except (OSError, OverflowError) as error:
            raise BadInput("--serve", found=f"port {port}: {error}", expected="a free port") from None
        self._thread = threading.Thread(
            target=self._server.serve_forever, kwargs={"poll_interval": 0.1}, daemon=True
        )
        self._thread.start()

    @property
    def address(self) -> str:
        """Where it is read."""
        return f"http://{HOST}:{self._server.server_address[1]}{PATH}"

    def tell(self, states: Sequence[RigState]) -> None:
        """Send the states to all who listen, where they changed."""
        with self._changed:
            frame = frame_of(states, self._number + 1)
            if frame.partition("\n")[2] == self._frame.partition("\n")[2]:
                return
            self._frame, self._number = frame, self._number + 1
            self._changed.notify_all()

    def after(self, number: int) -> tuple[str, int] | None:
        """The frame after a number, as soon as there is one; a comment meanwhile; None at the end."""
        with self._changed:
            self._changed.wait_for(lambda: self._number > number or self._closed, PATIENCE)
            if self._number > number:
                return self._frame, self._number
            return None if self._closed else (KEEP_ALIVE, number)

    def close(self) -> None:
        """Let all who listen go, and stop."""
        with self._changed:
            self._closed = True
            self._changed.notify_all()
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()


class _Server(ThreadingHTTPServer):
    daemon_threads = True
    block_on_close = False
    allow_reuse_address = os.name != "nt"  # there it would let a second program take the port too

    def __init__(
        self, address: tuple[str, int], handler: type[BaseHTTPRequestHandler], serving: Serving
    ) -> None:
        self.serving = serving
        super().__init__(address, handler)


class _Handler(BaseHTTPRequestHandler):
    server: _Server
    server_version, sys_version = "stillroom", ""
    timeout = PATIENCE
    """For so long a client may take to ask, or to take what is sent [s]."""

    def do_GET(self) -> None:
        """Send the stream for as long as the client stays: the states as they are now at once, then each change."""
        if not self._begins():
            return
        number = 0
        try:
            self.wfile.write(BEGIN.encode())
            while (told := self.server.serving.after(number)) is not None:
                frame, number = told
                self.wfile.write(frame.encode())
                self.wfile.flush()
        except OSError:  # the browser went away
            return

    def do_HEAD(self) -> None:
        """Say what a GET would send."""
        self._begins()

    def send_error(self, code: int, _message: str | None = None, _explain: str | None = None) -> None:
        """Answer what can't be understood, and whoever wants to do more than read."""
        self._refuse(HTTPStatus(code))

    def _begins(self) -> bool:
        """Send the head of the answer; whether the stream is to follow."""
        if not self._is_ours():
            self._refuse(HTTPStatus.FORBIDDEN)
        elif self.path.partition("?")[0] != PATH:
            self._refuse(HTTPStatus.NOT_FOUND)
        else:
            self.send_response(HTTPStatus.OK)
            self.send_header("Content-Type", MEDIA_TYPE)
            self.send_header("Cache-Control", "no-store")
            self.end_headers()
            return True
        return False

    def _is_ours(self) -> bool:
        """Whether this computer was asked for by its own name, and by none of another site's pages.

        A page from elsewhere whose name was made to lead here has that name in Host; any other has its own in Origin.
        """
        origin = self.headers.get("Origin")
        here = _host(f"//{self.headers.get('Host', '')}") in NAMES
        return here and (origin is None or _host(origin) in NAMES)

    def _refuse(self, status: HTTPStatus) -> None:
        """Answer with a plain line."""
        words = f"{status.value} {status.phrase}: the rigs are at {PATH}, for this computer alone\n".encode()
        self.send_response(status)
        for name, value in (
            ("Content-Type", "text/plain; charset=utf-8"),
            ("Content-Length", str(len(words))),
        ):
            self.send_header(name, value)
        self.end_headers()
        if self.command != "HEAD":
            self.wfile.write(words)

    def log_message(self, *_words: object) -> None:
        """Say nothing of each request."""


def _host(address: str) -> str | None:
    """The computer that an address names; None where it names none."""
    try:
        return urlsplit(address).hostname
    except ValueError:  # half a pair of brackets
        return None
