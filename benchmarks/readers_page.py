"""The reader's page of 500 fans in headless Chromium: bytes over the wire, first ranking, an answer to the slider.

Run `python benchmarks/readers_page.py [--fans N] [--keep FOLDER]`. The demo's lab gives six fans; the others are those
six with every number moved at random, so that nothing of them compresses away. Bytes are those of a first visit as a
web server sends them, compressed by gzip; a fan's own file and sounds come only when one looks at the fan. The first
ranking is timed from the navigation on a fresh profile over http on this machine; an answer to the slider from the
event to the finished layout, over every step of the slider, forth and back.
"""

from __future__ import annotations

import argparse
import functools
import gzip
import http.server
import os
import shutil
import sys
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any
from unittest.mock import patch

os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))

from stillroom.publish.contents import Contents, gather
from stillroom.publish.estimate import writing as estimate
from stillroom.publish.estimate.gathering import FanTables, Gathered
from stillroom.publish.page.writing import write_page
from stillroom.store.lab import Lab
from stillroom.verbs import demo

AIMS = {"bytes": 1_000_000.0, "first ranking": 1000.0, "slider": 16.0}
"""Over the wire; [ms]; 95th percentile [ms]."""

FLAGS = ("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
         "--disable-background-networking", "--disable-component-update", "--disable-sync")  # fmt: skip

MOVED = 0.03
"""By which share the numbers of a fan are moved at random [1]."""

HELD = ("limits", "low", "high", "deep", "rise", "own")
"""Numbers that stay: they are in an order, or shares."""

LATER = ("fans", "sounds")
"""Folders of the page of which a first visit loads nothing."""

SLIDE = """() => {
  const slider = document.querySelector('#limit'), times = [];
  const low = parseFloat(slider.min), high = parseFloat(slider.max), steps = [];
  for (let at = low; at <= high; at += 0.5) steps.push(at);
  for (const at of [...steps, ...steps.slice().reverse(), ...steps]) {
    slider.value = String(at);
    const start = performance.now();
    slider.dispatchEvent(new Event('input', { bubbles: true }));
    document.body.getBoundingClientRect();
    times.push(performance.now() - start);
  }
  return times;
}"""


def moved(value: Any, by: np.random.Generator) -> Any:
    """The same with every positive number moved at random; rising limits stay rising."""
    if isinstance(value, np.ndarray) and value.dtype.kind == "f":
        return value * (1.0 + MOVED * by.standard_normal(value.shape))
    if is_dataclass(value) and not isinstance(value, type):
        names = [each.name for each in fields(value) if each.name not in HELD]
        return replace(value, **{name: moved(getattr(value, name), by) for name in names})
    return value


def many(found: Gathered, count: int) -> Gathered:
    """As many fans, made of those that there are."""
    by = np.random.default_rng(2026)
    made: list[FanTables] = []
    for at in range(count):
        one = found.fans[at % len(found.fans)]
        sound = {name: replace(moved(each, by), limits=each.limits + by.normal(0.0, 2.0))
                 for name, each in one.sound.items()}  # fmt: skip
        airflow = {name: moved(each, by) for name, each in one.airflow.items()}
        made.append(replace(one, fan=f"{one.fan} {at:03d}", airflow=airflow, sound=sound))
    return replace(found, fans=tuple(made))


def with_records(contents: Contents, count: int) -> Contents:
    """The contents with a record of each of the fans."""
    book, names = contents.book, list(contents.fans)
    records = {}
    for at in range(count):
        one = book.fans[names[at % len(names)]]
        records[f"{one.fan} {at:03d}"] = replace(one, fan=f"{one.fan} {at:03d}")
    whole = contents.whole._replace(book=replace(book, fans={**book.fans, **records}))
    return replace(contents, whole=whole)


def write(place: Path, count: int) -> Path:
    """The page of so many fans; the fans' own files are those of the demo's, again and again."""
    if not (place / "lab").exists():
        demo(place / "lab")
    with Lab(place / "lab") as lab:
        contents = gather(lab, "benchmark", date="2026-01-01")
        folder = place / "release" / "page"
        write_page(contents, folder)
        found = many(estimate.gathered(contents.whole), count)
        with patch.object(estimate, "gathered", lambda *_: found):
            estimate.write_estimate(with_records(contents, count), folder)
    six = len(contents.fans)
    for at in range(six, count):
        text = (folder / "fans" / f"{at % six}.js").read_text(encoding="utf-8")
        (folder / "fans" / f"{at}.js").write_text(text.replace(f"stillroomFan({at % six},", f"stillroomFan({at},"),
                                                  encoding="utf-8")  # fmt: skip
    return folder


def sent(path: Path) -> int:
    return len(gzip.compress(path.read_bytes(), 6, mtime=0))


class Compressing(http.server.SimpleHTTPRequestHandler):
    """Files compressed, as a web server sends them."""

    def do_GET(self) -> None:
        path = Path(self.translate_path(self.path))
        if not path.is_file():
            self.send_error(404)
            return
        body = gzip.compress(path.read_bytes(), 6, mtime=0)
        self.send_response(200)
        for name, value in (("Content-Type", self.guess_type(path)), ("Content-Encoding", "gzip"),
                            ("Content-Length", str(len(body)))):  # fmt: skip
            self.send_header(name, value)
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, format: str, *args: object) -> None:
        """Nothing is logged."""


@contextmanager
def served(folder: Path) -> Iterator[str]:
    server = http.server.ThreadingHTTPServer(
        ("127.0.0.1", 0), functools.partial(Compressing, directory=str(folder))
    )
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_address[1]}/index.html"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def browsed(address: str, chromium: str) -> tuple[list[float], dict[str, list[float]]]:
    """First rankings [ms], and answers to the slider with the first rows and with all rows shown [ms]."""
    from playwright.sync_api import sync_playwright

    firsts: list[float] = []
    answers: dict[str, list[float]] = {}
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium, args=list(FLAGS))
        for _ in range(5):
            context = browser.new_context()
            page = context.new_page()
            page.goto(address)
            page.wait_for_selector("#rows > li")
            firsts.append(page.evaluate("performance.getEntriesByName('ranking')[0].startTime"))
            context.close()
        page = browser.new_page()
        page.goto(address)
        page.wait_for_selector("#rows > li")
        page.evaluate(SLIDE)
        answers["first rows"] = page.evaluate(SLIDE)
        if page.locator("#all").is_visible():
            page.locator("#all").click()
            answers["all rows"] = page.evaluate(SLIDE)
        browser.close()
    return firsts, answers


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fans", type=int, default=500)
    parser.add_argument("--keep", type=Path, help="a folder in which the page stays")
    told = parser.parse_args()
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    with tempfile.TemporaryDirectory(prefix="stillroom-benchmark-") as temporary:
        place = told.keep or Path(temporary)
        folder = write(place, told.fans)
        first = [each for each in folder.rglob("*") if each.is_file() and each.parent.name not in LATER]
        wire = sum(map(sent, first))
        print(f"{told.fans} fans; over the wire, gzip:")
        for each in sorted(first, key=sent, reverse=True)[:4]:
            print(f"  {each.name:20s}{sent(each):10,d} B")
        print(f"  {'all of a first visit':20s}{wire:10,d} B   aim {AIMS['bytes']:,.0f}")
        print(f"  {'a fan more':20s}{sent(folder / 'fans' / '0.js'):10,d} B")
        if chromium is None:
            print("no Chromium on the PATH: nothing was timed")
            return int(wire >= AIMS["bytes"])
        with served(folder) as address:
            firsts, answers = browsed(address, chromium)
    print(
        f"first ranking     {np.median(firsts):8.0f} ms median of {len(firsts)}, worst {max(firsts):.0f}   aim 1,000"
    )
    for name, times in answers.items():
        print(f"slider, {name:10s}{np.percentile(times, 95):8.1f} ms p95 of {len(times)}, median {np.median(times):.1f}"
              f"   aim {AIMS['slider']:.0f}")  # fmt: skip
    slow = (
        np.percentile(answers["first rows"], 95) >= AIMS["slider"]
        or np.median(firsts) >= AIMS["first ranking"]
    )
    return int(wire >= AIMS["bytes"] or slow)


if __name__ == "__main__":
    sys.exit(main())
