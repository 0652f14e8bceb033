"""Findings on import: how long one run takes from its file to the word about it (aim: under 1 s a run).

Run `python benchmarks/findings.py [--fans N]`. An invented lab of so many fans x 8 speeds is there already and
worked out; one more export comes in. Timed apart: bringing the file in; working out the one curve that it
changes; the findings of its fan, as `check_in` asks for them; and, for comparison, those of the whole lab.
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))

from reduce import add, reduce, sweep, write_lab

from stillroom.lab.book import open_book
from stillroom.lab.findings import findings, findings_of
from stillroom.lab.intake.checking_in import check_in
from stillroom.lab.recipes import build_graph
from stillroom.store.lab import Lab

AIM = 1.0
TIMES = 5


def one_more(lab: Path, fan: str, number: int) -> tuple[Path, str]:
    """Another export of a fan that the lab has, in a mounting of its own; the folder to add."""
    rng = np.random.default_rng(number)
    raw = lab.parent / f"more{number}"
    (raw / fan).mkdir(parents=True)
    (raw / fan / f"{70 + number}pct.csv").write_text(sweep(rng, np.ones(3), 0.7), encoding="utf-8")
    mounting = f"{fan}-again{number}"
    (raw / "runs.csv").write_text(
        f"file,rig,mounting,fan,sample,obstacle,duty [%]\n{fan}/{70 + number}pct.csv,chamber,{mounting},{fan},s1,,70\n"
    )
    (raw / "mountings.csv").write_text(
        f"mounting,fan,sample,rig,date,by\n{mounting},{fan},s1,chamber,2026-04-01,\n"
    )
    return raw, mounting


def seconds(work: Callable[[], object]) -> float:
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def check(lab: Path, mounting: str) -> int:
    with Lab(lab) as opened:
        runs = [run.placed.run for node in build_graph(open_book(opened)).curves for run in node.runs
                if node.subject == mounting]  # fmt: skip
        assert runs, "the export that was added is not in the lab"
        checked, _, _ = check_in(opened, runs, workers=1)
        return len(checked)


def only_findings(lab: Path, fans: tuple[str, ...]) -> int:
    with Lab(lab) as opened:
        book = open_book(opened)
        graph = build_graph(book)
        return len(findings_of(opened, book, graph, fans) if fans else findings(opened, book, graph))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fans", type=int, default=40)
    told = parser.parse_args()
    place = Path(tempfile.mkdtemp(prefix="stillroom-benchmark-"))
    try:
        lab = write_lab(place / "main", told.fans)
        add(lab, lab.parent / "raw")
        reduce(lab, 2)
        bringing, checking, own = [], [], []
        for number in range(TIMES):
            fan = f"F{number:03d}"
            raw, mounting = one_more(lab, fan, number)
            bringing.append(seconds(partial(add, lab, raw)))
            checking.append(seconds(partial(check, lab, mounting)))
            own.append(seconds(partial(only_findings, lab, (fan,))))
        whole = seconds(partial(only_findings, lab, ()))
        each = statistics.median(a + b for a, b in zip(bringing, checking, strict=True))
        print(f"a lab of {told.fans} fans x 8 speeds; one run more, {TIMES} times, medians")
        print(f"  from the file to the word  {each:8.3f} s a run, aim {AIM:.0f}")
        print(f"    brought in               {statistics.median(bringing):8.3f} s")
        print(f"    worked out and checked   {statistics.median(checking):8.3f} s")
        print(f"      findings of its fan    {statistics.median(own):8.3f} s, the lab opened anew")
        print(f"  findings of the whole lab  {whole:8.3f} s, {whole / (9 * told.fans) * 1e3:.1f} ms a run")
    finally:
        shutil.rmtree(place, ignore_errors=True)
    return int(each >= AIM)


if __name__ == "__main__":
    sys.exit(main())
