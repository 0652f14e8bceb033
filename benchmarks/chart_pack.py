"""Benchmark: a pack of forty charts, first on two cores, then again with one fan changed, against one after another.

    OMP_NUM_THREADS=1 python benchmarks/chart_pack.py

Every chart has ten of thirty fans, so that a fan stands in about a third of them. Each is drawn as in a release: three
layouts, light and dark, as PNG and SVG, with its page, table and words; the first four have reveal sets too. Prints the
time of each, how many pages were drawn, and the ratio to drawing each in one process without a cache.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from pathlib import Path

from stillroom.charts.layout import Layout
from stillroom.charts.series import Bar, RankedBars
from stillroom.lab.executor import silent
from stillroom.lab.pictures.kinds import Kind
from stillroom.publish.pack.belonging import Belongs
from stillroom.publish.pack.writing import Drawn, draw_pack

CHARTS, FANS, BARS, REVEALED = 40, 30, 10, 4
LAYOUTS = (Layout.ARTICLE, Layout.WIDE, Layout.SQUARE)


def bar(fan: int, chart: int, changed: int) -> Bar:
    """A fan's bar in a chart; the changed one has another value."""
    value = 60.0 - fan - 0.1 * chart + (0.37 if fan == changed else 0.0)
    tied = "too close to call" if fan % FANS < 3 else ""
    return Bar(f"Fan {fan + 1}", value, value - 1.5, value + 1.5, tied, bool(tied))


def charts(changed: int = -1) -> list[Belongs]:
    """The pack: every chart has ten fans, beginning with another one."""
    made = []
    for number in range(CHARTS):
        fans = sorted((number * 3 + place) % FANS for place in range(BARS))
        chart = RankedBars(
            f"Through obstacle {number + 1} three fans can't be told apart", "Airflow, m³/h, at 1.2 kg/m³",
            "longer is better", "lab · method airflow 1 · 2026-11-25", "m³/h",
            tuple(bar(fan, number, changed) for fan in fans), alt="Bars of ten fans.", measure="Airflow",
        )  # fmt: skip
        pages = dict.fromkeys(LAYOUTS, chart)
        made.append(Belongs(f"chart-{number + 1:02d}", Kind.BARS, "benchmark", "", "Airflow", pages, chart))
    return made


def timed(name: str, lab: Path, pack: list[Belongs], workers: int) -> float:
    """Draw a pack, print what it took, and give the time [s]."""
    begun = time.perf_counter()
    parts: list[Drawn] = []
    with tempfile.TemporaryDirectory() as place:
        for some, reveal in ((pack[:REVEALED], True), (pack[REVEALED:], False)):
            parts.append(draw_pack(lab, some, Path(place), silent, workers, reveal=reveal))
        took = time.perf_counter() - begun
        size = sum(each.stat().st_size for one in parts for each in one.files) / 1e6
    drawn, pages = sum(each.drawn for each in parts), sum(each.pages for each in parts)
    print(f"{name:<44}{took:>8.1f} s   {drawn:>4} of {pages} pages drawn   {size:.0f} MB")
    return took


def main() -> int:
    """Run and print; 1 where a pack with one fan changed isn't drawn twice as quickly as by one process, no cache."""
    with tempfile.TemporaryDirectory() as one, tempfile.TemporaryDirectory() as other:
        alone = timed("one process, no cache", Path(one), charts(), 1)
        workers = min(2, os.cpu_count() or 1)
        first = timed(f"first, {workers} processes", Path(other), charts(), workers)
        again = timed("again, nothing changed", Path(other), charts(), workers)
        changed = timed("again, one fan changed", Path(other), charts(changed=4), workers)
    print(f"ratio to one process: first {alone / first:.1f}, nothing changed {alone / again:.0f}, "
          f"one fan changed {alone / changed:.1f}")  # fmt: skip
    return int(alone / changed < 2.0)


if __name__ == "__main__":
    sys.exit(main())
