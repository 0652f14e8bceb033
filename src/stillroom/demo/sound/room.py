"""The quiet room: its background, microphone, calibrator and recorders, with their hidden errors."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.demo.bench import room_air
from stillroom.demo.calendar import Calendar, day_name
from stillroom.demo.draws import Draws
from stillroom.demo.sound.noise import bin_frequencies
from stillroom.demo.sound.waves import HUM
from stillroom.demo.sound.weighting import a_level, a_power

Array = NDArray[np.float64]

RIG = "quiet"
MICROPHONE, CALIBRATOR = "mic-1", "cal-1"
DISTANCE, ANGLE, HEIGHT = 0.5, 45.0, 0.0
"""Where the microphone stands: from the middle of the hub [m], off the axis [°], above it [m]."""
SIDE, HOLDER = "inlet", "rubber loops"
ROOM_FROM = 100.0
"""Lowest frequency at which the room is qualified [Hz]."""
CALIBRATOR_LEVEL, CALIBRATOR_U = 94.0, 0.1
"""Of the calibrator: nominal level and its standard uncertainty [dB]."""
RESPONSE_U = 0.15
"""Standard uncertainty of the microphone's response to sound from the front [dB]."""
SELF_NOISE = 12.0
"""A-weighted level that the microphone shows in silence [dB]."""
QUIET = 13.0
"""A-weighted level of the room itself [dB]."""
DAY_SD, MOUNTING_SD, SAMPLE_SD = 0.25, 0.4, 0.65
"""Spread of a fan's level between days, mountings, samples [dB] (design ranges 0.2–0.3, 0.3–0.5, 0.5–0.8)."""
AIR_DENSITY = 1.157
"""Of the laboratory's air on a usual day [kg/m³]: levels are stated in it."""


@dataclass(frozen=True)
class Recorder:
    """A recorder at one setting of its gain; `full_scale` is the level of a mean square of 1.0 [dB]."""

    name: str
    full_scale: float


FIELD = Recorder("field recorder", 130.3)
"""Of 24 bits, with the calibrator far below its full scale."""
OLD = Recorder("old recorder", 101.6)
"""Of 16 bits, with as much gain as the calibrator allows."""


@dataclass(frozen=True)
class Room:
    """The quiet room with its hidden errors.

    Parameters
    ----------
    seed : of the laboratory. calibrator : the level that it truly gives [dB].
    response : what the microphone shows over what there is [dB].
    """

    seed: int
    calibrator: float
    response: float

    @property
    def bias(self) -> float:
        """What the laboratory's levels are too high, all of them [dB]."""
        return self.response - (self.calibrator - CALIBRATOR_LEVEL)

    def day_level(self, day: int) -> float:
        """What levels are higher on a working day than usual [dB]."""
        return Draws(self.seed, f"quiet room {day_name(day)}").normal(DAY_SD)

    def density(self, day: int, occasion: str) -> float:
        """Of the room's air [kg/m³]."""
        return room_air(self.seed, day, f"quiet room {occasion}").density

    def background(self, rate: float, occasion: str, louder: float = 0.0) -> Array:
        """Spectrum of room and microphone without a fan, as `Noise.shaped` takes it; mains hum comes beside it.

        Parameters
        ----------
        occasion : names the recording's own small departure.
        louder : by how much the room itself is louder than usual [dB].
        """
        own = Draws(self.seed, f"background {occasion}").normal(0.15)
        f = np.maximum(bin_frequencies(rate), 5.0)
        room = _scaled(f, f**-1.7 / (1 + (25 / f) ** 6), QUIET + louder + own)
        return room + _scaled(f, 1 + 60 / f, SELF_NOISE)


def build_room(seed: int) -> Room:
    """Draw the room's hidden errors."""
    return Room(
        seed,
        CALIBRATOR_LEVEL + Draws(seed, "calibrator").normal(CALIBRATOR_U),
        Draws(seed, "microphone").normal(RESPONSE_U),
    )


def background_level(power: Array, rate: float, hum_louder: float = 0.0) -> float:
    """A-weighted level of a background's spectrum with the hum [dB]."""
    humming = sum(10 ** ((level + hum_louder + a_level(f)) / 10) for f, level in HUM)
    return 10 * math.log10(float(np.sum(power * a_power(bin_frequencies(rate)))) + humming)


def rig_lines(calendar: Calendar, done: int, due: int) -> Iterator[str]:
    """The quiet room in the laboratory's own words: `quiet.toml`.

    `done` is how many days before the round things were calibrated, `due` how long that holds.
    """
    yield f"[rig.{RIG}]"
    yield 'kind = "sound"'
    yield f'distance = "{DISTANCE:g} m"'
    yield f'angle = "{ANGLE:g} °"'
    yield f'height = "{HEIGHT:g} m"'
    yield f'microphone_side = "{SIDE}"'
    yield f'holder = "{HOLDER}"'
    yield f'room_from = "{ROOM_FROM:g} Hz"'
    yield ""
    yield f"[rig.{RIG}.roles]"
    yield f'sound_pressure = "{MICROPHONE}"'
    yield f'calibrator_level = "{CALIBRATOR}"'
    yield ""
    yield f"[instrument.{MICROPHONE}]"
    yield 'quantity = "sound_pressure"'
    yield f'self_noise = "{SELF_NOISE:g} dBA"'
    yield f'accuracy = "± {math.sqrt(3) * RESPONSE_U:.2f} dB"'
    yield from _calibration(MICROPHONE, calendar, done, due, "M")
    yield f"[instrument.{CALIBRATOR}]"
    yield 'quantity = "calibrator_level"'
    yield f'calibrator_level = "{CALIBRATOR_LEVEL:g} dB"'
    yield f'accuracy = "± {math.sqrt(3) * CALIBRATOR_U:.2f} dB"'
    yield from _calibration(CALIBRATOR, calendar, done, due, "C")


def _calibration(name: str, calendar: Calendar, done: int, due: int, series: str) -> Iterator[str]:
    yield ""
    yield f"[instrument.{name}.calibration]"
    yield f'date = "{calendar.before(done)}"'
    yield f'due = "{calendar.before(done - due)}"'
    yield f'certificate = "{series}-{calendar.first.year - 1}-17"'
    yield ""


def _scaled(frequencies: Array, shape: Array, level: float) -> Array:
    """A spectrum of this shape with this A-weighted level."""
    return np.asarray(shape * 10 ** (level / 10) / np.sum(shape * a_power(frequencies)))
