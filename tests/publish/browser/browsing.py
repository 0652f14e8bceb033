"""A page in a browser and a folder over http, for tests of the reader's page."""

from __future__ import annotations

import functools
import http.server
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any


class Quiet(http.server.SimpleHTTPRequestHandler):
    def log_message(self, format: str, *args: object) -> None:
        pass


@contextmanager
def served(folder: Path) -> Iterator[str]:
    """A folder over http on this machine alone."""
    handler = functools.partial(Quiet, directory=str(folder))
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_address[1]}/"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


@dataclass
class Watched:
    """An open page, and what it did that it must not do."""

    page: Any
    home: str
    wrong: list[str] = field(default_factory=list)

    def watch(self) -> None:
        self.page.on("console", lambda said: self.wrong.append(f"console: {said.type}: {said.text}"))
        self.page.on("pageerror", lambda error: self.wrong.append(f"error: {error}"))
        self.page.on("requestfailed", self._failed)
        self.page.on("request", self._asked)
        self.page.add_init_script(
            "window.violations = []; document.addEventListener('securitypolicyviolation', e =>"
            " window.violations.push(e.violatedDirective + ' ' + e.blockedURI));"
        )

    def _failed(self, asked: Any) -> None:
        is_enough = asked.resource_type == "media" and "ABORTED" in (asked.failure or "")
        if not is_enough:  # a browser stops loading sound when it knows enough
            self.wrong.append(f"failed: {asked.url} {asked.failure}")

    def _asked(self, asked: Any) -> None:
        if not asked.url.startswith((self.home, "data:", "blob:")):
            self.wrong.append(f"outside of its folder: {asked.url}")

    def go(self, link: str = "") -> Any:
        """Open the page by a link, as a reader does who was sent it."""
        self.page.goto("about:blank")
        self.page.goto(f"{self.home}index.html{link}")
        self.page.wait_for_selector("html[data-ready]", state="attached")
        return self.page

    def until(self, true: str) -> None:
        """Wait until an expression holds; the page's policy lets no wait of the browser's driver evaluate words."""
        for _ in range(300):
            if self.page.evaluate(true):
                return
            self.page.wait_for_timeout(50)
        raise AssertionError(f"never became true: {true}")

    def text(self, where: str) -> str:
        return " ".join(self.page.locator(where).inner_text().split())

    def rows(self) -> list[str]:
        return [" ".join(each.split()) for each in self.page.locator("#rows > li").all_inner_texts()]

    def check(self) -> None:
        assert self.wrong == []
        assert self.page.evaluate("window.violations") == []


Open = Callable[..., Watched]
