"""Recordings as sound pressure: a fan at a speed or over a ramp, the room without it, the calibrator, a lorry.

Samples are in units of 20 µPa (their mean square is 10^(L/10)).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.demo.sound.noise import Noise, bin_frequencies, block_times
from stillroom.demo.sound.voice import MOTOR_ORDER, Voice
from stillroom.demo.sound.weighting import a_level, a_power

Array = NDArray[np.float64]
Array32 = NDArray[np.float32]
Phasor = NDArray[np.complex64]

STEP = 480
"""Samples between two of the course's speeds."""
_AT_ONCE = 40
"""Steps that are worked on at once: they fit the processor's cache."""
_HARDLY = 0.01
"""A share of an amplitude within which it counts as constant."""
HUM = ((50.0, 20.0), (100.0, 17.0), (150.0, 12.0))
"""Mains hum: frequency [Hz] and unweighted level [dB]."""


@dataclass(frozen=True)
class Course:
    """How a fan turns while it is recorded.

    Parameters
    ----------
    times : [s], rising. speeds : [1/s]. openings : q.
    """

    times: Array
    speeds: Array
    openings: Array

    @property
    def mean(self) -> float:
        """Mean speed [1/s], by time."""
        return float(np.trapezoid(self.speeds, self.times) / (self.times[-1] - self.times[0]))

    @property
    def is_steady(self) -> bool:
        """Whether the speed is held, but for a little wandering."""
        return float(np.ptp(self.speeds)) <= _HARDLY * float(self.speeds[0])


def steady(speed: float, q: float, seconds: float, wander: float, phase: float) -> Course:
    """A course at a setting: the speed wanders slowly by a share of itself."""
    times = np.linspace(0.0, seconds, max(2, round(2 * seconds) + 1))
    speeds = speed * (1 + wander * np.sin(2 * np.pi * times / 13.7 + phase))
    return Course(times, speeds, np.full_like(times, q))


def swept(speeds: Array, openings: Array, seconds: float, held: float) -> Course:
    """A ramp through speeds that are evenly spaced in time, held a little at both ends."""
    times = np.linspace(held, seconds - held, len(speeds))
    return Course(
        np.concatenate([[0.0], times, [seconds]]),
        np.concatenate([speeds[:1], speeds, speeds[-1:]]),
        np.concatenate([openings[:1], openings, openings[-1:]]),
    )


@dataclass(frozen=True)
class Heard:
    """What reaches the microphone of a fan.

    Parameters
    ----------
    voice : of the fan as it is mounted. course : how it turns. density : of the air [kg/m³].
    distance : of the microphone [m]; levels fall by 20 lg of it.
    """

    voice: Voice
    course: Course
    density: float
    distance: float

    @property
    def nearness(self) -> float:
        """Level here less that at 1 m [dB]."""
        return -20 * math.log10(self.distance)

    def power(self, frames: int, rate: float) -> Array:
        """Spectrum of the broadband sound, (B,) or (K, B), as `Noise.shaped` takes it."""
        frequencies = bin_frequencies(rate)
        shape = self.voice.spectrum(frequencies) * frequencies[1]
        levels = [
            self.voice.broadband(n, q, self.density) + self.nearness
            for n, q in zip(self.course.speeds, self.course.openings, strict=True)
        ]
        if max(levels) - min(levels) < 0.05:
            return np.asarray(10 ** (float(np.mean(levels)) / 10) * shape)
        at_blocks = np.interp(block_times(frames, rate), self.course.times, levels)
        return np.asarray(10 ** (at_blocks[:, None] / 10) * shape)

    def tones(self, frames: int, rate: float) -> Array32:
        """The tones, by the phase of the shaft."""
        steps = -(-frames // STEP)
        times = np.arange(steps + 1) * STEP / rate
        speeds = np.interp(times, self.course.times, self.course.speeds)
        openings = np.interp(times, self.course.times, self.course.openings)
        amplitudes = self._amplitudes(speeds, openings)
        begun = np.concatenate([[0.0], np.cumsum((speeds[:-1] + speeds[1:]) / 2 * STEP / rate)])
        out = np.empty((steps, STEP), np.float32)
        for start in range(0, steps, _AT_ONCE):
            here = slice(start, min(start + _AT_ONCE, steps) + 1)
            turn = _phasor(begun[here], speeds[here], rate)
            out[start : start + len(turn)] = self._chunk(
                turn, {order: each[here] for order, each in amplitudes.items()}
            )
        flat = out.reshape(-1)[:frames]
        if self.voice.whine:
            loud = self.voice.whine_level + self.nearness
            flat += tone(self.voice.whine, loud - a_level(self.voice.whine), frames, rate)
        return flat

    def _chunk(self, turn: Phasor, amplitudes: dict[int, Array]) -> Array32:
        passing = _power(turn, self.voice.blades)
        out = _between(amplitudes[MOTOR_ORDER]) * _power(turn, MOTOR_ORDER).real
        out += _between(amplitudes[1]) * turn.real
        out += _between(amplitudes[2]) * (turn * turn).real
        harmonic = passing
        for number in range(1, len(self.voice.passing) + 1):
            out += _between(amplitudes[number * self.voice.blades]) * harmonic.real
            harmonic = harmonic * passing
        return out

    def _amplitudes(self, speeds: Array, openings: Array) -> dict[int, Array]:
        """{order: amplitude at each step}; worked out at a few speeds, between them by straight lines."""
        count = 8 if self.course.is_steady else 400
        places = np.unique(np.linspace(0, len(speeds) - 1, count).astype(int))
        found: dict[int, list[float]] = {}
        for place in places:
            for each in self.voice.tones(speeds[place], openings[place], self.density):
                if each.order:
                    level = each.level + self.nearness - a_level(each.frequency)
                    found.setdefault(int(each.order), []).append(math.sqrt(2) * 10 ** (level / 20))
        return {order: np.interp(np.arange(len(speeds)), places, values) for order, values in found.items()}


def tone(frequency: float, level: float, frames: int, rate: float) -> Array32:
    """A steady tone of a level [dB]."""
    turns = np.arange(frames) * (frequency / rate)
    turns -= np.floor(turns)
    wave = np.cos((2 * np.pi * turns).astype(np.float32))
    return np.asarray(wave * np.float32(math.sqrt(2) * 10 ** (level / 20)))


def hum(frames: int, rate: float, louder: float = 0.0) -> Array32:
    """The mains' hum: one of its periods over and over."""
    period = round(rate / HUM[0][0])
    once = sum(
        (tone(frequency, level + louder, period, rate) for frequency, level in HUM),
        np.zeros(period, np.float32),
    )
    return np.resize(once, frames)


def lorry(noise: Noise, frames: int, rate: float, level: float, start: float, length: float) -> Array32:
    """A lorry that passes: rumble that swells and dies away within `length` [s]; `level` A-weighted, at its height."""
    f = np.maximum(bin_frequencies(rate), 1.0)
    shape = 1 / ((60 / f) ** 4 + (f / 60) ** 1.5) / f
    from_a = 10 ** (level / 10) / np.sum(shape * a_power(f))
    first, count = round(start * rate), round(length * rate)
    swell = np.sin(np.pi * np.arange(count) / count) ** 2
    out = np.zeros(frames, np.float32)
    out[first : first + count] = noise.shaped(shape * from_a, count) * swell.astype(np.float32)
    return out


def bump(frames: int, rate: float, level: float, start: float) -> Array32:
    """A knock against the stand: a short, low thump with a peak of `level` [dB re 20 µPa]."""
    times = np.arange(frames) / rate - start
    shape = np.where(times > 0, np.exp(-np.maximum(times, 0) / 0.12) * np.sin(2 * np.pi * 31 * times), 0.0)
    return np.asarray(10 ** (level / 20) * shape, np.float32)


def _phasor(begun: Array, speeds: Array, rate: float) -> Phasor:
    """exp(2πi × turns of the shaft) at each sample; the speed goes straight from step to step.

    `begun` is the turns at each step.
    """
    along = (np.arange(STEP) / rate).astype(np.float32)
    slope = (np.diff(speeds) / (2 * STEP / rate)).astype(np.float32)
    speed, whole = speeds[:-1].astype(np.float32), (begun[:-1] % 1.0).astype(np.float32)
    angle = np.float32(2 * np.pi) * (whole[:, None] + (speed[:, None] + slope[:, None] * along) * along)
    found = np.empty(angle.shape, np.complex64)
    found.real, found.imag = np.cos(angle), np.sin(angle)
    return found


def _power(phasor: Phasor, exponent: int) -> Phasor:
    """A whole power by squaring."""
    found, square = None, phasor
    while exponent:
        if exponent & 1:
            found = square if found is None else found * square
        exponent >>= 1
        if exponent:
            square = square * square
    assert found is not None
    return found


def _between(values: Array) -> Array32 | np.float32:
    """Values at each step, spread over its samples by straight lines; one number where they hardly differ."""
    if values.max() - values.min() <= _HARDLY * abs(values[0]):
        return np.float32(values.mean())
    along = (np.arange(STEP) / STEP).astype(np.float32)
    begin, rise = values[:-1].astype(np.float32), np.diff(values).astype(np.float32)
    return np.asarray(begin[:, None] + rise[:, None] * along)
