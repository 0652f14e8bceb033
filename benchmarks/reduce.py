"""`reduce` of a lab of 200 fans x 8 speeds x 14 points: from nothing, with nothing changed, after one change.

Run `python benchmarks/reduce.py [--quick]`. All in one run, with ratios: on one and on two processes; with
nothing changed (opening the lab included); with one nozzle's bore changed; and the growth over 50, 100, 200
and 400 fans (a quarter of all that with `--quick`). The lab is invented: every fan one sample, one mounting.
"""

from __future__ import annotations

import argparse
import cProfile
import os
import pstats
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date
from functools import partial
from pathlib import Path
from typing import NamedTuple

os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))

from stillroom.demo.calendar import Calendar
from stillroom.demo.rigs import write_rigs
from stillroom.lab.book import open_book
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.recipes import build_graph
from stillroom.lab.reducing import Reduced, missing, reduce_lab
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab

SPEEDS, POINTS = 8, 14
FANS, GROWTH = 200, (50, 100, 200, 400)
HEADER = (
    "point,time [s],p_s [Pa],dp nozzle [Pa],nozzles,p_baro [hPa],t_air [°C],rh [%],speed [rpm],U [V],I [A]"
)
BANK = {"N12": 0.012, "N16": 0.016, "N25": 0.025, "N40": 0.040, "N60": 0.060}
DENSITY, COEFFICIENT, SMALLEST = 1.19, 0.96, 60.0  # kg/m³, nozzle discharge, smallest nozzle pressure [Pa]


def sweep(rng: np.random.Generator, fan: np.ndarray, duty: float) -> str:
    """One export: a falling curve with a mild hump, read with some noise, on the smallest nozzle that fits."""
    speed = 1800.0 * fan[0] * duty * (1.0 + 0.0005 * rng.standard_normal(POINTS))
    part = np.linspace(0.0, 0.99, POINTS)
    scale = speed / 1800.0
    flow = part * 0.033 * fan[1] * scale
    pressure = 24.0 * fan[2] * scale**2 * (1.0 - 0.5 * part - 0.5 * part**3 + 0.06 * np.sin(7.0 * part))
    pressure *= 1.0 + 0.003 * rng.standard_normal(POINTS)
    lines = [HEADER]
    for i in range(POINTS):
        nozzle, dp = _nozzle(flow[i])
        dp *= 1.0 + 0.004 * rng.standard_normal()
        lines.append(
            f"{i + 1},{60 * i},{pressure[i]:.2f},{dp:.2f},{nozzle},995.0,21.5,45.0,"
            f"{speed[i]:.0f},12.005,{0.02 + 0.08 * scale[i] ** 3:.4f}"
        )
    return "\n".join(lines) + "\n"


def _nozzle(flow: float) -> tuple[str, float]:
    if flow <= 0.0:
        return "none", 0.0
    found = "none", 0.0
    for name, bore in BANK.items():
        dp = DENSITY / 2.0 * (flow / (COEFFICIENT * np.pi / 4.0 * bore**2)) ** 2
        if dp < SMALLEST:
            break
        found = name, dp
    return found if found[1] else ("N12", dp)


def write_lab(place: Path, fans: int) -> Path:
    """Write the exports and tables of an invented laboratory; the folder with them."""
    raw = place / "raw"
    raw.mkdir(parents=True)
    write_rigs(raw, Calendar(date(2026, 3, 2)))
    rng = np.random.default_rng(2026)
    runs = ["file,rig,mounting,fan,sample,obstacle,duty [%]"]
    mountings = ["mounting,fan,sample,rig,date,by"]
    for i in range(fans):
        name = f"F{i:03d}"
        mountings.append(f"{name}-m1,{name},s1,chamber,2026-03-{1 + i % 28:02d},")
        each = 1.0 + 0.05 * rng.standard_normal(3)
        (raw / name).mkdir()
        for duty in range(30, 101, 10):
            (raw / name / f"{duty}pct.csv").write_text(sweep(rng, each, duty / 100), encoding="utf-8")
            runs.append(f"{name}/{duty}pct.csv,chamber,{name}-m1,{name},s1,,{duty}")
    header = "fan,size [mm]"
    (raw / "fans.csv").write_text("\n".join([header, *(f"F{i:03d},120" for i in range(fans))]) + "\n")
    (raw / "runs.csv").write_text("\n".join(runs) + "\n")
    (raw / "mountings.csv").write_text("\n".join(mountings) + "\n")
    lab = place / "lab"
    folder.make(lab, template("Benchmark"))
    return lab


def add(lab: Path, path: Path) -> None:
    with Lab(lab) as opened:
        bring_in(opened, [path], {})


def reduce(lab: Path, workers: int) -> Reduced:
    """What `stillroom reduce` does, from opening the lab to closing it."""
    with Lab(lab) as opened:
        return reduce_lab(opened, build_graph(open_book(opened)), workers=workers)


class Took(NamedTuple):
    """How long something took [s]: by the clock on the wall, and of processors (workers included)."""

    wall: float
    processors: float

    def __str__(self) -> str:
        return f"{self.wall:8.2f} s {self.processors:10.2f} s"


def timed(work: Callable[[], object]) -> Took:
    before, start = os.times(), time.perf_counter()
    work()
    wall, after = time.perf_counter() - start, os.times()
    return Took(wall, sum(after[:4]) - sum(before[:4]))


def forget(lab: Path) -> None:
    """Delete the cache, as one may at any time."""
    shutil.rmtree(lab / "cache")
    (lab / "cache").mkdir()


def change_bore(lab: Path) -> None:
    """A new certificate: one nozzle is 0.01 mm wider."""
    text = (lab.parent / "raw" / "rigs.toml").read_text(encoding="utf-8")
    assert "40.012" in text, "the nozzle's bore is written in another way now"
    changed = lab.parent / "rigs.toml"
    changed.write_text(text.replace("40.012", "40.022"), encoding="utf-8")
    add(lab, changed)


def growth(place: Path, sizes: tuple[int, ...]) -> None:
    """How add, reduce and seeing that nothing changed grow with the number of fans."""
    print("\n  fans   add, wall  reduce, wall  reduce, processors   a fan   unchanged, wall")
    for fans in sizes:
        lab = write_lab(place / f"grow{fans}", fans)
        adding = timed(partial(add, lab, lab.parent / "raw"))
        first = timed(partial(reduce, lab, 2))
        unchanged = min(timed(partial(reduce, lab, 1)) for _ in range(3))
        each = first.processors / fans * 1e3
        print(
            f"{fans:6d} {adding.wall:9.2f} s {first.wall:11.2f} s {first.processors:17.2f} s"
            f" {each:5.0f} ms {unchanged.wall:15.3f} s",
            flush=True,
        )
        shutil.rmtree(lab.parent)


def profile(lab: Path) -> None:
    """What dominates in the reduction of ten mountings."""
    from stillroom.lab.airflow.work import CurveTask, work

    with Lab(lab) as opened:
        nodes = build_graph(open_book(opened)).curves[:10]
    profiler = cProfile.Profile()
    profiler.enable()
    for node in nodes:
        work(CurveTask(lab, node))
    profiler.disable()
    pstats.Stats(profiler).sort_stats("cumulative").print_stats(45)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="a quarter of the fans")
    parser.add_argument("--profile", action="store_true", help="show what dominates in ten mountings")
    told = parser.parse_args()
    share = 4 if told.quick else 1
    place = Path(tempfile.mkdtemp(prefix="stillroom-benchmark-"))
    try:
        lab = write_lab(place / "main", FANS // share)
        print(f"{FANS // share} fans x {SPEEDS} speeds x {POINTS} points: wall, processors, wall's ratio")
        print(f"add                        {timed(partial(add, lab, lab.parent / 'raw'))}", flush=True)
        if told.profile:
            profile(lab)
        one = timed(partial(reduce, lab, 1))
        print(f"reduce, one process        {one}   1.00", flush=True)
        forget(lab)
        two = timed(partial(reduce, lab, 2))
        print(f"reduce, two processes      {two}   {one.wall / two.wall:.2f} x as fast", flush=True)
        same = min(timed(partial(reduce, lab, 1)) for _ in range(3))
        print(f"reduce, nothing changed    {same}   {one.wall / same.wall:.0f} x as fast ({same.wall:.3f} s)")
        change_bore(lab)
        with Lab(lab) as opened:
            graph = build_graph(open_book(opened))
            stale = len(missing(opened, graph))
        bore = timed(partial(reduce, lab, 2))
        print(f"reduce, one bore changed   {bore}   {stale} of {len(graph.curves)} curves, two processes")
        growth(place, tuple(each // share for each in GROWTH))
    finally:
        shutil.rmtree(place, ignore_errors=True)


if __name__ == "__main__":
    main()
