"""A reader's page of the invented lab, made once, in headless Chromium; what it may not do is watched in each test.

Without Chromium these tests are skipped with the reason; with STILLROOM_BROWSER=required they fail instead.
"""

from __future__ import annotations

import os
import shutil
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from browsing import Open, Watched

from stillroom.lab.executor import silent
from stillroom.publish.contents import Contents
from stillroom.publish.page.writing import write_page

FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
AXE = Path(__file__).resolve().parents[2] / "browser" / "node_modules" / "axe-core" / "axe.min.js"
IS_REQUIRED = os.environ.get("STILLROOM_BROWSER") == "required"


def missing(what: str) -> None:
    """Skip for what isn't there, or fail where it must be."""
    if IS_REQUIRED:
        pytest.fail(f"STILLROOM_BROWSER=required, but there is no {what}")
    pytest.skip(f"no {what}")


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        missing("Chromium on the PATH")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        missing("playwright for Python")
    with sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=path, args=list(FLAGS))
        yield running
        running.close()


@pytest.fixture(scope="session")
def axe() -> str:
    if not AXE.is_file():
        if shutil.which("npm") is None:
            pytest.skip("no npm that could bring axe-core: `npm ci --prefix tests/browser`")
        missing("axe-core: `npm ci --prefix tests/browser`")
    return AXE.read_text(encoding="utf-8")


@pytest.fixture(scope="session")
def told(gathered: Contents) -> Contents:
    """What the page is made of: with sounds."""
    whole = gathered.whole
    settings = replace(whole.book.settings, publish=replace(whole.book.settings.publish, excerpts=True))
    return replace(gathered, whole=whole._replace(book=replace(whole.book, settings=settings)))


@pytest.fixture(scope="session")
def page_folder(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> Path:
    """The folder `page` in a release, written once for all test processes."""
    base = tmp_path_factory.getbasetemp()
    home = (base.parent if os.environ.get("PYTEST_XDIST_WORKER") else base) / "readers-page"
    try:
        home.mkdir()
    except FileExistsError:
        for _ in range(3000):
            if (home / "done").exists():
                return home / "page"
            time.sleep(0.1)
        raise AssertionError("the reader's page was not made within five minutes") from None
    (home / "documents").mkdir()
    for each in ("index.html", "documents/methodology.html"):
        (home / each).write_text("<!doctype html><title>elsewhere</title>", encoding="utf-8")
    write_page(request.getfixturevalue("told"), home / "page", silent)
    (home / "done").touch()
    return home / "page"


@pytest.fixture
def opened(browser: Any, page_folder: Path) -> Iterator[Open]:
    """Open the reader's page: opened(link, folder or home, width, …); at the end nothing forbidden happened."""
    made: list[tuple[Any, Watched]] = []

    def open_one(
        link: str = "", *, home: str = "", folder: Path | None = None, go: bool = True, **context: Any
    ) -> Watched:
        context.setdefault("viewport", {"width": 1280, "height": 900})
        own = browser.new_context(**context)
        own.set_default_timeout(15_000)
        found = Watched(own.new_page(), home or f"{(folder or page_folder).as_uri()}/")
        made.append((own, found))
        if go:
            found.watch()
            found.go(link)
        return found

    yield open_one
    for own, found in made:
        if found.page.url.startswith(found.home) and found.page.evaluate("!!window.violations"):
            found.check()
        own.close()
