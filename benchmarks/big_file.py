"""A long log of 200 MB: read within twice the time of polars' own strict read, in memory that doesn't grow.

Run `python benchmarks/big_file.py [--size MB]`. Each way in a process of its own, the best of three, all in one
run: polars reading the file strictly (types told beforehand, an error at the first wrong cell); our survey, which
turns each reading into SI, checks it and holds none; our reading into one recording. Then the peak memory of the
survey for a quarter, half and all of the size.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))

AIM = 2.0
HEADER = "point,time,p_s [Pa],dp nozzle [Pa],nozzles,p_baro [hPa],t_air [°C],rh [%],speed [rpm],U [V],I [A]\n"
ROWS = 20_000


def write(path: Path, size: int) -> None:
    """A log of so many bytes: the same 20,000 readings again and again, the nozzles changed at times."""
    rng = np.random.default_rng(2026)
    draw = rng.standard_normal((ROWS, 6))
    rows = "".join(
        f"{i},{i // 10}.{i % 10},{40 + d[0]:.3f},{120 + d[1]:.3f},{'N25+N40' if i % 5000 < 3000 else 'N40'},"
        f"{995 + d[2]:.2f},{21 + d[3] / 9:.2f},{45 + d[4]:.1f},{1200 + d[5]:.1f},12.00,{0.1 + i % 97 / 1e4:.4f}\n"
        for i, d in enumerate(draw)
    ).encode()
    with path.open("wb") as stream:
        stream.write(HEADER.encode())
        while stream.tell() < size:
            stream.write(rows)


def with_polars(path: Path) -> int:
    import polars

    texts = ("nozzles",)
    names = [each.strip() for each in HEADER.split(",")]
    kinds = {name: polars.String if name in texts else polars.Float64 for name in names}
    return polars.read_csv(path, schema=kinds).height


def with_survey(path: Path) -> int:
    from stillroom.readers.reading.streaming import survey
    from stillroom.readers.source import Source

    return survey(Source.of_path(path), _layout()).readings


def with_reading(path: Path) -> int:
    from stillroom.readers.reading.recording import read
    from stillroom.readers.source import Source

    return len(read(Source.of_path(path), _layout()))


def _layout() -> object:
    from stillroom.readers.meaning.understanding import understand
    from stillroom.readers.source import Source

    sample = HEADER + "0,0.0,40.1,120.2,N25+N40,995.0,21.0,45.0,1200.0,12.00,0.1\n" * 5
    return understand(Source("sample.csv", sample.encode())).blocks[0].layout


WAYS: dict[str, Callable[[Path], int]] = {
    "polars": with_polars,
    "survey": with_survey,
    "reading": with_reading,
}


def once(way: str, path: Path) -> None:
    """In a process of its own: best seconds by the clock and of processors of three, rows, peak memory [MiB]."""
    wall = processors = float("inf")
    rows = 0
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    for _ in range(3):
        begun, busy = time.perf_counter(), time.process_time()
        rows = WAYS[way](path)
        wall, processors = min(wall, time.perf_counter() - begun), min(processors, time.process_time() - busy)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(wall, processors, rows, peak / 1024, (peak - before) / 1024)


def measured(way: str, path: Path) -> list[float]:
    done = subprocess.run(
        [sys.executable, __file__, "--way", way, "--file", str(path)],
        capture_output=True,
        text=True,
        check=True,
    )
    return [float(each) for each in done.stdout.split()]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--size", type=int, default=200, help="MB of the largest file")
    parser.add_argument("--way", choices=tuple(WAYS), help=argparse.SUPPRESS)
    parser.add_argument("--file", type=Path, help=argparse.SUPPRESS)
    told = parser.parse_args()
    if told.way:
        once(told.way, told.file)
        return 0
    with tempfile.TemporaryDirectory(prefix="stillroom-benchmark-") as folder:
        path = Path(folder) / "long.csv"
        write(path, told.size * 10**6)
        results = {way: measured(way, path) for way in WAYS}
        print(
            f"{told.size} MB, {results['polars'][2]:,.0f} readings of 11 columns     wall  processors   peak memory"
        )
        for way, (wall, processors, _, peak, _) in results.items():
            print(f"  {way:34s}{wall:14.2f} s{processors:10.2f} s{peak:10.0f} MiB")
        ratios = [results["survey"][i] / results["polars"][i] for i in (0, 1)]
        print(f"  survey against polars: {ratios[0]:.2f} (wall), {ratios[1]:.2f} (processors); aim {AIM:.0f}")
        print("  peak memory of the survey, beyond the program's own:")
        for part in (4, 2, 1):
            small = Path(folder) / f"part{part}.csv"
            write(small, told.size * 10**6 // part)
            print(f"    {told.size // part:6d} MB {measured('survey', small)[4]:8.0f} MiB", flush=True)
            small.unlink()
    return int(ratios[0] >= AIM)


if __name__ == "__main__":
    sys.exit(main())
