"""The states of the rigs for a browser on this computer: server-sent events on 127.0.0.1, and nothing else."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

from stillroom.errors import BadInput
from stillroom.live.states import RigState
from stillroom.live.stream import KEEP_ALIVE, MEDIA_TYPE, frame_of

HOST = "127.0.0.1"
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
            if self._closed:
                return None
            return (self._frame, self._number) if self._number > number else (KEEP_ALIVE, number)

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

    def __init__(
        self, address: tuple[str, int], handler: type[BaseHTTPRequestHandler], serving: Serving
    ) -> None:
        self.serving = serving
        super().__init__(address, handler)


class _Handler(BaseHTTPRequestHandler):
    server: _Server

    def do_GET(self) -> None:
        """Send the stream; anything else isn't here. Only this computer's own names are answered."""
        host = self.headers.get("Host", "").rpartition(":")[0]
        if host not in {HOST, "localhost"} or self.path != PATH:
            self.send_error(HTTPStatus.NOT_FOUND)
            return
        self.send_response(HTTPStatus.OK)
        self.send_header("Content-Type", MEDIA_TYPE)
        self.send_header("Cache-Control", "no-store")
        self.end_headers()
        number = 0
        try:
            while (told := self.server.serving.after(number)) is not None:
                frame, number = told
                self.wfile.write(frame.encode())
                self.wfile.flush()
        except OSError:  # the browser went away
            return

    def log_message(self, *_words: object) -> None:
        """Say nothing of each request."""
