"""500 messy exports understood and read: milliseconds a file (aim: under 5).

Run `python benchmarks/messy_files.py [--count N]`. The files are the odd ones of the tests (`tests/readers/ordinary`),
each varied: other numbers, other line ends, other lengths. Understanding and reading are timed apart; beside
them what merely reading the bytes and what a plain reading by polars costs (which gets most of them wrong).
"""

from __future__ import annotations

import argparse
import io
import json
import os
import random
import re
import statistics
import sys
import time
from pathlib import Path

os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"

import polars

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))

from stillroom.readers.meaning.understanding import understand
from stillroom.readers.reading.recording import read
from stillroom.readers.source import Source

ORDINARY = Path(__file__).resolve().parents[1] / "tests" / "readers" / "ordinary"
AIM = 5.0
LONGEST = 50_000
_DIGIT = re.compile(rb"(?<=\d)[0-9](?=[^0-9]|$)")


def corpus() -> list[tuple[Path, dict[str, str]]]:
    """The files and what is said by hand of each."""
    found = []
    for path in sorted(ORDINARY.iterdir()):
        if path.suffix != ".json" and path.stat().st_size < LONGEST:
            told = json.loads(path.with_name(path.name + ".json").read_text(encoding="utf-8"))
            found.append((path, told.get("as", {})))
    return found


def varied(data: bytes, chance: random.Random) -> bytes:
    """The same file with other last digits, and where that can be done other line ends."""
    if data[:2] in {b"PK", b"\xd0\xcf", b"\xff\xfe", b"\xfe\xff"}:
        return data
    lines = data.split(b"\n")
    half = len(lines) // 2
    digits = b"0123456789"
    changed = [_DIGIT.sub(lambda _: bytes([chance.choice(digits)]), line) for line in lines[half:]]
    return b"\n".join(lines[:half] + changed)


def messy(count: int) -> list[tuple[str, bytes, dict[str, str]]]:
    """So many files; where a varied one can no longer be read, the file as it is."""
    chance = random.Random(2026)
    originals = corpus()
    files = []
    for i in range(count):
        path, told = originals[i % len(originals)]
        data = path.read_bytes()
        other = varied(data, chance)
        files.append((path.name, other if _readable(path.name, other, told) else data, told))
    return files


def _readable(name: str, data: bytes, told: dict[str, str]) -> bool:
    from stillroom.errors import StillroomError

    try:
        for block in understand(Source(name, data), told).blocks:
            read(Source(name, data), block.layout)
    except StillroomError:
        return False
    return True


def by_polars(data: bytes) -> bool:
    """Whether the plain way gives a table at all."""
    try:
        return polars.read_csv(io.BytesIO(data), infer_schema_length=1000).width > 1
    except (polars.exceptions.PolarsError, UnicodeDecodeError):
        return False


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=500)
    told = parser.parse_args()
    files = messy(told.count)
    understanding, reading, readings, tables = [], [], 0, 0
    slowest: dict[str, float] = {}
    for name, data, by_hand in files:
        source = Source(name, data)
        begun = time.perf_counter()
        blocks = understand(source, by_hand).blocks
        understood = time.perf_counter()
        recordings = [read(source, block.layout) for block in blocks]
        done = time.perf_counter()
        understanding.append(understood - begun)
        reading.append(done - understood)
        readings += sum(map(len, recordings))
        tables += len(recordings)
        slowest[name] = max(slowest.get(name, 0.0), done - begun)
    begun = time.perf_counter()
    right = sum(by_polars(data) for _, data, _ in files)
    plain = (time.perf_counter() - begun) / len(files)
    each = [a + b for a, b in zip(understanding, reading, strict=True)]
    mean = statistics.fmean(each) * 1e3
    print(f"{len(files)} messy files of {len(corpus())} kinds, {tables} tables, {readings:,} readings")
    print(
        f"  understood and read {mean:8.2f} ms a file (median {statistics.median(each) * 1e3:.2f}), aim {AIM:.0f}"
    )
    print(f"    understood        {statistics.fmean(understanding) * 1e3:8.2f} ms")
    print(f"    read              {statistics.fmean(reading) * 1e3:8.2f} ms")
    print(
        f"  polars, plain       {plain * 1e3:8.2f} ms, and a table of more than one column in {right} of them"
    )
    print(f"  ratio               {mean / 1e3 / plain:8.1f}")
    print(
        "  slowest: "
        + ", ".join(
            f"{name} {seconds * 1e3:.0f} ms"
            for name, seconds in sorted(slowest.items(), key=lambda item: -item[1])[:5]
        )
    )
    return int(mean >= AIM)


if __name__ == "__main__":
    sys.exit(main())
