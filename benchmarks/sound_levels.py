"""Levels from a recording: ours against PyOctaveBand 2.0.0, and against reading the file with one transform of it.

Run `python benchmarks/sound_levels.py [--quick]`. All in one run: LAeq and 31 one-third-octave bands of a 24-bit
WAV file (best of several rounds, each way in turn); LAF with its maximum and percentiles; the whole analysis; peak
memory over a recording of an hour; many short recordings one after the other and on two processes.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"

import numpy as np
import scipy
import soundfile

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))

from stillroom.core.sound.analysis import FOR_LEVELS, Weighting, analyse
from stillroom.core.sound.fast_levels import LevelsInTime
from stillroom.core.sound.frames import FADE, GROUP, FrameStream, crossing, in_batches
from stillroom.core.sound.levels import level_of
from stillroom.core.sound.spectra import SortedSpectra
from stillroom.core.sound.weighting import bin_weights
from stillroom.core.standards.iec_61260_1_2014 import band_powers
from stillroom.readers.sound.audio import blocks
from stillroom.readers.source import Source

RATE = 48_000
BLOCK = 65_536
AIMS = {"bands": 50.0, "transform": 2.0, "fast": 5.0, "memory": 40.0}


def noise(seconds: float, seed: int = 1) -> np.ndarray:
    """Noise that falls with frequency, as a fan's."""
    white = np.random.default_rng(seed).standard_normal(round(RATE * seconds) + 15)
    return (0.05 * np.convolve(white, 0.7 ** np.arange(16), mode="valid")).astype(np.float32)


# --- one recording ---------------------------------------------------------------------------------------------------


def ours_bands(path: Path) -> np.ndarray:
    spectra = SortedSpectra(FrameStream(RATE, FOR_LEVELS, crossing, 2), RATE, sort=False)
    read = blocks(Source.of_path(path), 1)
    for samples, last in in_batches(read, GROUP * spectra.frames.hop, round(FADE * RATE)):
        spectra.feed(samples, (), last=last)
    power = spectra.mean()
    total = power @ bin_weights(Weighting.A, spectra.frames.resolution, len(power))
    return level_of(np.append(band_powers(power, spectra.frames.resolution), total))


def ours_fast(path: Path) -> np.ndarray:
    in_time = LevelsInTime(RATE)
    for samples in blocks(Source.of_path(path), 1):
        in_time.feed(samples)
    in_time.feed(np.zeros(0, dtype=np.float32), last=True)
    fast = in_time.done()
    return np.array([fast.fast_max, *(fast.exceeded[share] for share in (1, 10, 50, 90))])


def ours_all(path: Path) -> np.ndarray:
    found = analyse(blocks(Source.of_path(path), 1), RATE)
    return np.append(found.bands, found.equivalent[Weighting.A])


def read_and_transform(path: Path) -> np.ndarray:
    buffer = np.empty(BLOCK, dtype=np.float32)
    with soundfile.SoundFile(path) as file:
        while len(read := file.read(out=buffer)):
            scipy.fft.rfft(read)
    return np.zeros(0)


def theirs_bands(path: Path) -> np.ndarray:
    import pyoctaveband
    from pyoctaveband.levels import laeq

    samples, rate = soundfile.read(path)
    levels, _ = pyoctaveband.octavefilter(samples, rate, fraction=3, limits=[18, 21_000], dbfs=True)
    return np.append(levels, laeq(samples, rate, dbfs=True))


def theirs_fast(path: Path) -> np.ndarray:
    import pyoctaveband
    from pyoctaveband.levels import ln_levels

    samples, rate = soundfile.read(path)
    weighted = pyoctaveband.weighting_filter(samples, rate, "A")
    highest = 10.0 * np.log10(pyoctaveband.time_weighting(weighted, rate).max())
    exceeded = ln_levels(weighted, rate, n=(1, 10, 50, 90), dbfs=True)
    return np.array([highest, *(exceeded[share] for share in (1, 10, 50, 90))])


def one_recording(path: Path, seconds: float, rounds: int) -> bool:
    ways: dict[str, Callable[[Path], np.ndarray]] = {
        "LAeq and 31 bands, ours": ours_bands,
        "reading and one transform": read_and_transform,
        "LAeq and 31 bands, PyOctaveBand": theirs_bands,
        "LAF and percentiles, ours": ours_fast,
        "LAF and percentiles, PyOctaveBand": theirs_fast,
        "everything, ours": ours_all,
    }
    best, result = dict.fromkeys(ways, float("inf")), {}
    for i in range(rounds):
        for name, way in ways.items():
            if i < 5 or "PyOctaveBand" not in name:
                begun = time.process_time()
                result[name] = way(path)
                best[name] = min(best[name], time.process_time() - begun)
    print(
        f"{seconds:g} s, 24 bit, {RATE / 1000:g} kHz: time of a processor, best of {rounds} (PyOctaveBand: of 5)"
    )
    for name, spent in best.items():
        print(f"  {name:38s}{spent:9.3f} s{seconds / spent:10,.0f} x real time")
    ours, transform, bands, fast, fast_theirs, everything = best.values()
    a, b = result["LAeq and 31 bands, ours"], result["LAeq and 31 bands, PyOctaveBand"]
    c, d = result["LAF and percentiles, ours"], result["LAF and percentiles, PyOctaveBand"]
    apart = np.abs(a - b)[8:].max(), np.abs(c - d).max()
    print(f"  apart by at most {apart[0]:.2f} dB (LAeq, bands from 125 Hz) and {apart[1]:.2f} dB (LAF)")
    print(f"  LAeq and bands: {bands / ours:.0f} x faster than PyOctaveBand; aim {AIMS['bands']:.0f}")
    print(
        f"  LAeq and bands: {ours / transform:.2f} x reading and one transform; aim {AIMS['transform']:.0f}"
    )
    print(
        f"  LAF and percentiles: {fast_theirs / fast:.1f} x faster than PyOctaveBand; aim {AIMS['fast']:.0f}"
    )
    print(f"  everything: {everything / transform:.2f} x reading and one transform")
    return (
        bands / ours >= AIMS["bands"]
        and ours / transform <= AIMS["transform"]
        and fast_theirs / fast >= AIMS["fast"]
    )


# --- memory ----------------------------------------------------------------------------------------------------------


def memory(path: Path) -> None:
    """In a process of its own: the highest memory over what is taken before the first sample is read [MiB]."""
    source = Source.of_path(path)
    assert scipy.signal.sosfilt, scipy.fft.rfft  # loaded when they are first asked for
    before = highest_memory()
    begun = time.perf_counter()
    analyse(blocks(source, 1), RATE)
    spent = time.perf_counter() - begun
    print(highest_memory() - before, spent)


def highest_memory() -> float:
    """Of this process so far [MiB]: what the system counts for a child begins with its parent's."""
    (line,) = (
        each for each in Path("/proc/self/status").read_text().splitlines() if each.startswith("VmHWM")
    )
    return float(line.split()[1]) / 1024


def long_recording(folder: Path, minutes: int) -> bool:
    path = folder / "long.wav"
    with soundfile.SoundFile(path, "w", RATE, 1, "PCM_24") as file:
        for i in range(minutes):
            file.write(noise(60.0, i))
    words = [sys.executable, __file__, "--memory", str(path)]
    told = subprocess.run(words, capture_output=True, text=True, check=True).stdout.split()
    path.unlink()
    print(
        f"{minutes} minutes: {float(told[0]):.0f} MiB above idle, aim {AIMS['memory']:.0f}; {float(told[1]):.1f} s"
    )
    return float(told[0]) <= AIMS["memory"]


# --- many ------------------------------------------------------------------------------------------------------------


def many_recordings(path: Path, count: int, seconds: float) -> None:
    """As many analyses of one file: one after the other, then on two processes that are running already."""
    begun = time.perf_counter()
    for _ in range(count):
        ours_all(path)
    one = time.perf_counter() - begun
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        list(pool.map(ours_all, [path] * 8))
        begun = time.perf_counter()
        list(pool.map(ours_all, [path] * count, chunksize=10))
        two = time.perf_counter() - begun
    print(
        f"{count:,} recordings of {seconds:g} s: {one:.1f} s, on two processes {two:.1f} s, {one / two:.2f} x"
    )


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="shorter recordings, fewer of them")
    parser.add_argument("--memory", type=Path, help=argparse.SUPPRESS)
    told = parser.parse_args()
    if told.memory:
        memory(told.memory)
        return 0
    with tempfile.TemporaryDirectory(prefix="stillroom-benchmark-") as name:
        folder = Path(name)
        seconds = 60.0 if told.quick else 300.0
        soundfile.write(folder / "one.wav", noise(seconds), RATE, subtype="PCM_24")
        met = one_recording(folder / "one.wav", seconds, 20)
        met &= long_recording(folder, 10 if told.quick else 60)
        soundfile.write(folder / "short.wav", noise(10.0), RATE, subtype="PCM_24")
        many_recordings(folder / "short.wav", 100 if told.quick else 1000, 10.0)
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
