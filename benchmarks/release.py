"""A release of a lab of 200 fans, from the raw exports to the last hash: time of each part, and peak memory.

Run `python benchmarks/release.py [--fans N] [--mountings N] [--keep FOLDER]`. The lab is invented
(`release_lab.py`): each fan two mountings in the chamber, a sheet of levels, a heat run, a control test. What comes
before a release (adding, reducing) is told apart from it: it is paid once, a release each time. Then the same release
under another name, with all results kept: what is paid again after a small change. Wall time and processors' time,
workers included; peak memory is that of this process and, beside it, of the largest worker.
"""

from __future__ import annotations

import argparse
import os
import resource
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))

from release_lab import write_lab

from stillroom.lab.book import open_book
from stillroom.lab.executor import shared_workers
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.recipes import build_graph
from stillroom.lab.reducing import reduce_lab
from stillroom.publish.contents import Contents, gather
from stillroom.publish.freezing import freeze
from stillroom.publish.parts import PARTS
from stillroom.publish.release import Release
from stillroom.store.lab import Lab

AIMS = {"release [min]": 15.0, "memory [MB]": 1500.0}
"""What a release of 200 fans should stay under (our choice: one can wait for it, on a laptop)."""


@contextmanager
def timed(what: str) -> Iterator[None]:
    """Print how long something took, by the clock and of processors, and the peak of memory so far."""
    before, start = os.times(), time.perf_counter()
    yield
    wall, after = time.perf_counter() - start, os.times()
    spent = sum(after[:4]) - sum(before[:4])
    print(f"{what:34s}{wall:9.1f} s {spent:9.1f} s {peak():8.0f} MB", flush=True)


def peak() -> float:
    """Peak memory of this process so far [MB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def prepare(lab: Lab, raw: Path) -> None:
    """Bring in all exports and work out what they hold."""
    with timed("add"):
        told = bring_in(lab, [raw], {})
        for each in getattr(told, "bad", ()):
            print(f"  not added: {each}")
    with timed("reduce"):
        done = reduce_lab(lab, build_graph(open_book(lab)))
    print(
        f"  {done.curves} curves, {done.sounds} sounds, {done.heats} heat runs, {done.controls} tests of the control"
    )
    for name, why in list((done.failed | done.unplaced).items())[:5]:
        print(f"  not had: {name}: {why}")


def frozen(contents: Contents) -> Release:
    """Freeze a release, each part timed by itself."""
    clocks: list[tuple[str, float]] = []

    def told(what: str, done: int, every: int) -> None:
        if done == 0 or done >= every:
            clocks.append((what, time.perf_counter()))

    start = time.perf_counter()
    release = freeze(contents, told)
    last: dict[str, list[float]] = {}
    for what, at in clocks:
        last.setdefault(what, []).append(at)
    for what, moments in last.items():
        print(f"  {what:32s}{moments[-1] - moments[0]:9.1f} s")
    print(f"  {'all parts and the manifest':32s}{time.perf_counter() - start:9.1f} s")
    return release


def size_of(release: Release) -> str:
    """How much a release holds, by folder."""
    sizes: dict[str, int] = {}
    for path, told in release.manifest.items():
        folder = path.partition("/")[0] if "/" in path else "."
        sizes[folder] = sizes.get(folder, 0) + int(told["bytes"])
    said = ", ".join(f"{name} {size / 1e6:.1f} MB" for name, size in sorted(sizes.items()))
    return f"{len(release.manifest)} files: {said}"


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fans", type=int, default=200)
    parser.add_argument("--mountings", type=int, default=2)
    parser.add_argument(
        "--keep", type=Path, help="a folder that keeps the lab for a look; it must not be there"
    )
    told = parser.parse_args()
    place = told.keep or Path(tempfile.mkdtemp(prefix="stillroom-release-"))
    try:
        return measured(place, told.fans, told.mountings)
    finally:
        if not told.keep:
            shutil.rmtree(place, ignore_errors=True)


def measured(place: Path, fans: int, mountings: int) -> int:
    """Time all of it; 1 where an aim for 200 fans is missed."""
    path = write_lab(place, fans, mountings)
    names = ", ".join(dict.fromkeys(each.what for each in PARTS))
    print(f"{fans} fans, {mountings} mountings each; a release of: {names}")
    print(f"{'':34s}{'wall':>11s} {'processors':>11s} {'peak memory':>11s}")
    with shared_workers(), Lab(path) as lab:
        prepare(lab, path.parent / "raw")
        start = time.perf_counter()
        with timed("gather (rankings, claims, findings)"):
            contents = gather(lab, "first", highlight="F001", date="2026-04-01")
        print(f"  {len(contents.published)} measures")
        with timed("freeze"):
            release = frozen(contents)
        took = (time.perf_counter() - start) / 60.0
        print(f"  {size_of(release)}")
        with timed("again: gather"):
            contents = gather(lab, "second", highlight="F001", date="2026-04-01")
        with timed("again: freeze"):
            frozen(contents)
    worker = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024.0
    print(f"release {took:.1f} min, peak {peak():.0f} MB, largest worker {worker:.0f} MB")
    missed = fans >= 200 and (took > AIMS["release [min]"] or peak() > AIMS["memory [MB]"])
    return int(missed)


if __name__ == "__main__":
    sys.exit(main())
