"""The second invented laboratory's sound: another room, other spectra, 44.1 kHz, German words.

It shares nothing with the demo's synthesis: noise is shaped in one transform of the whole recording, from
NumPy's own normal numbers; levels go with 55 lg n, and the hum of the motor stands at a fixed frequency.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

Array = NDArray[np.float64]

RATE = 44_100
FULL_SCALE = 118.0
"""Level of a mean square of 1.0 [dB]."""
ROOM = 17.0
"""Background with the microphone's own noise [dBA]."""
SECONDS = 30.0
SETTINGS = (50.0, 70.0, 90.0)
GAIN = 0.8
"""By how much the recorder's gain was moved in the second session [dB]."""


@dataclass(frozen=True)
class Voice:
    """A fan: blades, full speed [1/s], level at 25 1/s in dBA where the microphone stands, level of blade pass over
    the broadband [dB]."""

    name: str
    blades: int
    full: float
    level: float
    passing: float


VOICES = (
    Voice("Thrift", 7, 1500 / 60, 33.0, -3.0),
    Voice("Campion", 9, 1800 / 60, 31.0, -10.0),
    Voice("Dulse", 5, 2100 / 60, 36.0, -14.0),
)


@dataclass(frozen=True)
class Heard:
    """A recording: levels [dBA] of the fan alone and with the background, speed [1/s], frequency of blade pass [Hz]."""

    file: str
    fan: str
    speed: float
    fan_level: float
    level: float
    passing: float


def write_other_sound(folder: Path, seed: int, *, faults: bool = True) -> tuple[Heard, ...]:
    """Write recordings, a run table and a rig; the second session's gain and one tachometer go wrong."""
    heard: list[Heard] = []
    rows: list[list[str]] = []
    for number, voices in enumerate((VOICES[:2], VOICES[2:]), start=1):
        session = f"Sitzung {number}"
        here = f"Schallraum/{session}"
        for what in ("vorher", "nachher"):
            gain = GAIN if faults and number == 2 and what == "nachher" else 0.0
            _save(folder / f"{here}/Kal114 {what}.wav", _calibrator(seed, f"{session} {what}"), gain)
            _save(folder / f"{here}/Hintergrund {what}.wav", _background(seed, f"{session} {what}"))
            word = "before" if what == "vorher" else "after"
            rows.append([f"{here}/Kal114 {what}.wav", f"calibrator {word}", session, *[""] * 5])
            rows.append([f"{here}/Hintergrund {what}.wav", f"background {word}", session, *[""] * 5])
        for voice in voices:
            for setting in SETTINGS:
                file = f"{here}/{voice.name} Probe 1 {setting:g} Prozent.wav"
                one, wave = _fan(seed, file, voice, setting)
                _save(folder / file, wave)
                heard.append(one)
                wrong = faults and voice.name == "Campion" and setting == 70.0
                read = one.speed * 60 * (0.5 if wrong else 1.0)
                rows.append(
                    [
                        file,
                        "dwell",
                        session,
                        f"{voice.name}/s1/ton",
                        voice.name,
                        "s1",
                        f"{setting:g}",
                        f"{read:.0f}",
                    ]
                )
    _tables(folder, rows)
    return tuple(heard)


def a_weighting(f: Array) -> Array:
    """As a factor on power; IEC 61672-1, annex E (from memory)."""
    s = f.astype(complex) * 2j * np.pi
    w = [2 * np.pi * each for each in (20.598997, 107.65265, 737.86223, 12194.217)]
    h = w[3] ** 2 * s**4 / ((s + w[0]) ** 2 * (s + w[1]) * (s + w[2]) * (s + w[3]) ** 2)
    return np.asarray(np.abs(h) ** 2 * 10**0.19997)


def _noise(seed: int, name: str, level: float, slope: float, corner: float, count: int) -> Array:
    """Noise whose power a hertz falls by `slope` decades a decade above `corner` [Hz], of a level [dBA]."""
    rng = np.random.default_rng([seed, *name.encode()])
    f = np.maximum(np.fft.rfftfreq(count, 1 / RATE), 1e-3)
    power = 1 / (1 + (f / corner) ** slope) / (1 + (35 / f) ** 6)
    spectrum = np.fft.rfft(rng.standard_normal(count)) * np.sqrt(power)
    weighted = 2 * np.sum(np.abs(spectrum) ** 2 * a_weighting(f)) / count**2
    return np.fft.irfft(spectrum, count) * math.sqrt(10 ** (level / 10) / weighted)


def _tone(frequency: float, level: float, count: int) -> Array:
    return math.sqrt(2) * 10 ** (level / 20) * np.sin(2 * np.pi * frequency * np.arange(count) / RATE)


def _calibrator(seed: int, name: str) -> Array:
    return _tone(1000.2, 114.0, 12 * RATE) + _noise(seed, f"calibrator {name}", ROOM, 1.4, 60.0, 12 * RATE)


def _background(seed: int, name: str) -> Array:
    return _noise(seed, f"quiet {name}", ROOM, 1.4, 60.0, round(SECONDS * RATE))


def _fan(seed: int, file: str, voice: Voice, setting: float) -> tuple[Heard, Array]:
    count = round(SECONDS * RATE)
    speed = voice.full * (0.2 + 0.8 * setting / 100)
    broad = voice.level + 55 * math.log10(speed / 25)
    wave = _noise(seed, file, broad, 1.9, 420.0, count) + _background(seed, file)
    power = 10 ** (broad / 10)
    tones = [(k * voice.blades * speed, broad + voice.passing - 7 * (k - 1)) for k in (1, 2, 3)]
    for frequency, level in (*tones, (745.0, broad - 25)):
        a = 10 * math.log10(a_weighting(np.array([frequency]))[0])
        wave += _tone(frequency, level - a, count)
        power += 10 ** (level / 10)
    level = 10 * math.log10(power)
    both = 10 * math.log10(power + 10 ** (ROOM / 10))
    return Heard(file, voice.name, speed, level, both, voice.blades * speed), wave


def _save(path: Path, wave: Array, gain: float = 0.0) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    scaled = wave * 10 ** ((gain - FULL_SCALE) / 20)
    assert np.abs(scaled).max() < 1.0
    soundfile.write(path, scaled, RATE, subtype="PCM_24")


def _tables(folder: Path, rows: list[list[str]]) -> None:
    header = ["file", "recording", "session", "mounting", "fan", "sample", "duty [%]", "tachometer [rpm]"]
    _table(folder / "Aufnahmen.csv", [*header, "rig"], ([*row, "room"] for row in rows))
    _table(
        folder / "fans.csv",
        ["fan", "maker", "size [mm]", "wires", "blades", "pulses per revolution", "full speed [rpm]"],
        ([v.name, "Ostrel", "140", "4", str(v.blades), "2", f"{v.full * 60:.0f}"] for v in VOICES),
    )
    sheet = ["Lüfter;Drehzahl (1/min);Schallpegel (dB(A));Hintergrund (dB(A));Abstand (m)"]
    sheet += ["Sandwort;800;22,4;17,1;1,0", "Sandwort;1200;31,6;17,1;1,0", "Sandwort;1600;38,7;17,2;1,0"]
    (folder / "Handmessung.csv").write_bytes("\r\n".join(sheet).encode("cp1252"))
    (folder / "Schallraum.toml").write_text(_RIG, encoding="utf-8")


def _table(path: Path, header: list[str], rows: Iterator[list[str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out, delimiter=";", lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)


_RIG = """\
[rig.room]
kind = "sound"
distance = "1 m"
angle = "0 °"
microphone_side = "outlet"
holder = "foam"
sound_pressure = "Mikrofon"
calibrator_level = "Kalibrator"

[instrument.Mikrofon]
quantity = "sound_pressure"
self_noise = "15 dBA"

[instrument.Kalibrator]
quantity = "calibrator_level"
calibrator_level = "114 dB"
accuracy = "± 0.3 dB"
"""
