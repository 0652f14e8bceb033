"""A small invented quiet room: recordings with levels and speeds that are known, written as plain files.

A-weighted levels are worked out here from the samples' whole spectrum by the analytic curve of IEC 61672-1:2013,
Annex E (from memory; the same formula as in `core/standards` is held against the standard's table there).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from stillroom.lab.book import open_book
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.recipes import Graph, build_graph
from stillroom.lab.reducing import reduce_lab
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab

Array = NDArray[np.float64]

RATE = 48_000
FULL_SCALE = 118.0
"""Level of a mean square of 1.0 [dB re 20 µPa]."""

BLADES = 7

RIG = """
[rig.quiet]
kind = "sound"
distance = "0.5 m"
angle = "45 °"
height = "0 m"
microphone_side = "inlet"
holder = "soft"
room_from = "150 Hz"

[rig.quiet.roles]
sound_pressure = "mic-1"
calibrator_level = "cal-1"

[instrument.mic-1]
quantity = "sound_pressure"
self_noise = "12 dBA"

[instrument.cal-1]
quantity = "calibrator_level"
calibrator_level = "94 dB"
"""

FANS = (
    f"fan,maker,size [mm],blades,pulses per revolution\nSedge,Moor,120,{BLADES},2\nRush,Moor,120,{BLADES},2\n"
)


def a_weight(f: Array) -> Array:
    """A-weighting as a factor on power, by the analytic curve."""
    square = f**2
    r = (12194.0**2 * square**2) / (
        (square + 20.6**2) * np.sqrt((square + 107.7**2) * (square + 737.9**2)) * (square + 12194.0**2)
    )
    return np.asarray((r * 10**0.1) ** 2)


def a_level(samples: Array) -> float:
    """LAeq of samples in units of full scale [dB re 20 µPa]."""
    power = np.abs(np.fft.rfft(samples)) ** 2 * 2.0 / len(samples) ** 2
    return float(
        10.0 * np.log10(np.sum(power * a_weight(np.fft.rfftfreq(len(samples), 1 / RATE)))) + FULL_SCALE
    )


@lru_cache(maxsize=16)
def noise(seconds: float, seed: int) -> Array:
    """Broad-band noise, falling from 700 Hz on, of mean square 1."""
    draws = np.random.default_rng(seed).standard_normal(round(seconds * RATE))
    spectrum = np.fft.rfft(draws)
    f = np.fft.rfftfreq(len(draws), 1 / RATE)
    shaped = np.fft.irfft(
        spectrum * np.sqrt(f / 30.0 / (1.0 + (f / 30.0)) / (1.0 + (f / 700.0) ** 2)), len(draws)
    )
    return np.asarray(shaped / np.sqrt(np.mean(shaped**2)))


def at_level(samples: Array, level: float) -> Array:
    """The same sound at an A-weighted level."""
    return np.asarray(samples * 10.0 ** ((level - a_level(samples)) / 20.0))


def comb(phase: Array, over: float) -> Array:
    """Blade-pass tones and faint shaft orders of a phase [revolutions], in units of a noise of mean square 1."""
    found = np.zeros(len(phase))
    for order, level in (
        (1, -22.0),
        (BLADES, -2.0),
        (2 * BLADES, -6.0),
        (3 * BLADES, -11.0),
        (4 * BLADES, -15.0),
    ):
        found += np.sqrt(2.0) * 10.0 ** ((level + over) / 20.0) * np.sin(2.0 * np.pi * order * phase + order)
    return found


def fan_level(speed: float) -> float:
    """The invented fans' level at a speed [1/s]: 34 dBA at 1,800 rpm, 53 dB a decade."""
    return 34.0 + 53.0 * float(np.log10(speed / 30.0))


def turning(speed: float, seconds: float, seed: int, over: float = 9.0) -> Array:
    """A fan at one speed, at its level."""
    times = np.arange(round(seconds * RATE)) / RATE
    return at_level(noise(seconds, seed) + comb(times * speed, over), fan_level(speed))


def ramp(first: float, last: float, seconds: float, seed: int) -> Array:
    """A fan whose speed goes evenly from first to last [1/s]; its level follows, about 53 dB a decade."""
    times = np.arange(round(seconds * RATE)) / RATE
    speeds = first + (last - first) * times / seconds
    return swept(speeds, np.cumsum(speeds) / RATE, seconds, seed)


def swept(speeds: Array, phase: Array, seconds: float, seed: int) -> Array:
    """The sound of a ramp at each moment's speed and phase: 34 dBA at 30 1/s."""
    times = np.arange(len(speeds)) / RATE
    at_30 = noise(seconds, seed) + comb(times * 30.0, 9.0)
    scale = 10.0 ** ((34.0 - a_level(at_30)) / 20.0)
    return np.asarray(scale * (noise(seconds, seed) + comb(phase, 9.0)) * (speeds / 30.0) ** 2.65)


def calibrator(seconds: float = 6.0, off: float = 0.0, frequency: float = 1000.0) -> Array:
    """The calibrator's 94 dB, off by some dB of gain."""
    times = np.arange(round(seconds * RATE)) / RATE
    return np.asarray(
        np.sqrt(2.0) * 10.0 ** ((94.0 - FULL_SCALE + off) / 20.0) * np.sin(2 * np.pi * frequency * times)
    )


def background(level: float, seconds: float = 12.0, seed: int = 99) -> Array:
    """The room without a fan."""
    return at_level(noise(seconds, seed), level)


COLUMNS = ("file", "recording", "fan", "sample", "mounting", "obstacle", "session", "duty [%]", "tachometer [rpm]",
           "speed from [rpm]", "speed to [rpm]")  # fmt: skip


@dataclass
class Bench:
    """Writes recordings and their run table."""

    base: Path
    rows: list[str] = field(default_factory=list)

    def record(self, name: str, samples: Array, **told: object) -> Path:
        """Write one recording with its row of the run table."""
        path = self.base / "bench" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        soundfile.write(path, samples, RATE, subtype="PCM_24")
        cells = {"file": name} | {key.replace("_", " "): value for key, value in told.items()}
        self.rows.append(",".join(str(cells.get(each.partition(" [")[0], "")) for each in COLUMNS))
        return path

    def finish(self, rig: str = RIG, tables: dict[str, str] | None = None) -> None:
        """Write the tables and the rig's file."""
        files = {"rigs.toml": rig, "fans.csv": FANS, **(tables or {})}
        if self.rows:
            files["runs.csv"] = "\n".join([",".join(COLUMNS), *self.rows]) + "\n"
        for name, text in files.items():
            (self.base / "bench").mkdir(parents=True, exist_ok=True)
            (self.base / "bench" / name).write_text(text, encoding="utf-8")

    @contextmanager
    def lab(self, name: str = "lab", said: dict[str, str] | None = None) -> Iterator[Lab]:
        """A lab into which everything was brought."""
        folder.make(self.base / name, template("Quiet"))
        with Lab(self.base / name) as lab:
            bring_in(lab, [self.base / "bench"], said or {})
            yield lab


def graph_of(lab: Lab) -> Graph:
    """The graph of keys as the lab stands."""
    return build_graph(open_book(lab))


def reduced(lab: Lab, workers: int = 1) -> Graph:
    """The graph, all of it worked out."""
    graph = graph_of(lab)
    reduce_lab(lab, graph, workers=workers)
    return graph


SPEEDS: Sequence[float] = (1800 / 60, 1450 / 60, 1180 / 60)
"""The dwells of the usual session [1/s]."""


def usual_session(bench: Bench, *, room: float = 16.0, seconds: float = 12.0) -> None:
    """Calibrator, background, three dwells, background, calibrator."""
    told = {"fan": "Sedge", "sample": "s1", "session": "A", "mounting": "Sedge-1"}
    bench.record("a/cal-before.wav", calibrator(), recording="calibrator before", session="A")
    bench.record("a/room-before.wav", background(room, seed=98), recording="background before", session="A")
    for i, speed in enumerate(SPEEDS):
        hum = background(room, seconds, seed=50 + i)
        bench.record(f"a/dwell-{i}.wav", turning(speed, seconds, i) + hum, recording="dwell", **told,
                     duty=(100, 70, 50)[i], tachometer=round(speed * 60 / 5) * 5)  # fmt: skip
    bench.record("a/room-after.wav", background(room, seed=97), recording="background after", session="A")
    bench.record("a/cal-after.wav", calibrator(off=0.1), recording="calibrator after", session="A")
