"""One recording as it would come: sound pressure at the microphone over time, and what is true of it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.demo.draws import Draws
from stillroom.demo.fan import Fan, Obstacle
from stillroom.demo.sound.noise import Noise, bin_frequencies
from stillroom.demo.sound.plan import Take, Trouble, Visit, What
from stillroom.demo.sound.room import CALIBRATOR_LEVEL, Room, background_level
from stillroom.demo.sound.truth import Blowing, ToneTruth
from stillroom.demo.sound.voice import Component, Voice
from stillroom.demo.sound.waves import Course, Heard, hum, lorry, steady, swept, tone
from stillroom.demo.sound.weighting import a_level

Array = NDArray[np.float64]
Array32 = NDArray[np.float32]

WANDER = 1.5e-4
"""By what share a held speed wanders to and fro."""
HELD = 2.0
"""How long the ends of a ramp are held [s]."""
LORRY_LEVEL, LORRY_START, LORRY_LENGTH = 37.0, 9.0, 11.0
"""Of a lorry: level at its height [dBA], when it comes and how long it takes [s]."""


@dataclass(frozen=True)
class Played:
    """A recording.

    Parameters
    ----------
    pressure : at the microphone, in 20 µPa, hidden errors of the microphone in it.
    level, background, fan_level : on the laboratory's scale [dBA]; the fan's is None where none runs.
    speed : mean [1/s], 0 without a fan. ends : of a ramp [1/s]. tones : of a steady speed.
    """

    pressure: Array32
    level: float
    background: float
    fan_level: float | None = None
    speed: float = 0.0
    ends: tuple[float, float] = (0.0, 0.0)
    tones: tuple[ToneTruth, ...] = ()


@dataclass(frozen=True)
class Stage:
    """Where and when a recording is made.

    Parameters
    ----------
    room : the quiet room. name : of the recording, for its random numbers. day : working day.
    louder : what the room itself is louder than usual [dB]. rate : sampling rate [Hz].
    """

    room: Room
    name: str
    day: int
    louder: float
    rate: int

    @property
    def scale(self) -> float:
        """Factor of the microphone's response on pressure."""
        return float(10 ** (self.room.response / 20))


def play_background(stage: Stage, seconds: float) -> Played:
    """The room without a fan."""
    frames = round(seconds * stage.rate)
    power = stage.room.background(stage.rate, stage.name, stage.louder)
    wave = Noise(stage.room.seed, stage.name).shaped(power, frames) + hum(frames, stage.rate)
    level = background_level(power, stage.rate) + stage.room.bias
    return Played(wave * np.float32(stage.scale), level, level)


def play_calibrator(stage: Stage, seconds: float) -> Played:
    """The calibrator's tone, with a little of the room in it."""
    frames = round(seconds * stage.rate)
    quiet = stage.room.background(stage.rate, stage.name, stage.louder - 15.0)
    wave = Noise(stage.room.seed, stage.name).shaped(quiet, frames)
    frequency = 1000.0 * Draws(stage.room.seed, stage.name).near_one(5e-4)
    wave += tone(frequency, stage.room.calibrator, frames, stage.rate)
    return Played(wave, CALIBRATOR_LEVEL, background_level(quiet, stage.rate))


def play_fan(
    stage: Stage, visit: Visit, take: Take, fan: Fan, voice: Voice, obstacle: Obstacle | None
) -> Played:
    """A fan at a setting, or over a ramp.

    Parameters
    ----------
    fan : the sample. voice : as it hangs in the room.
    """
    frames = round(take.seconds * stage.rate)
    course = _course(stage, take, Blowing(fan, voice, obstacle))
    heard = Heard(voice, course, stage.room.density(stage.day, visit.name), visit.distance)
    room = stage.room.background(stage.rate, stage.name, stage.louder)
    broadband = heard.power(frames, stage.rate)
    wave = Noise(stage.room.seed, stage.name).shaped(broadband + room, frames)
    wave += heard.tones(frames, stage.rate)
    wave += hum(frames, stage.rate)
    wave += _troubled(stage, take.wrong, frames)
    wave *= np.float32(stage.scale)
    background = background_level(room, stage.rate) + stage.room.bias
    level = _mean_level(heard) + stage.room.bias
    both = 10 * math.log10(10 ** (level / 10) + 10 ** (background / 10))
    tones = () if take.setting is None else _tone_truths(heard, broadband + room, stage)
    ends = (float(course.speeds[0]), float(course.speeds[-1]))
    return Played(wave, both, background, level, course.mean, ends, tones)


def _troubled(stage: Stage, wrong: Trouble, frames: int) -> Array32:
    if not wrong.lorry:
        return np.zeros(frames, np.float32)
    noise = Noise(stage.room.seed, f"lorry {stage.name}")
    return lorry(noise, frames, stage.rate, LORRY_LEVEL, LORRY_START, LORRY_LENGTH)


def _course(stage: Stage, take: Take, blowing: Blowing) -> Course:
    """How the fan turns: by its setting and what it blows through."""
    fan = blowing.fan
    if take.setting is not None:
        speed, opening = blowing.at(fan.free_speed(take.setting))
        phase = Draws(stage.room.seed, f"wander {stage.name}").between(0.0, 2 * math.pi)
        return steady(speed, opening, take.seconds, WANDER, phase)
    free = np.linspace(fan.lowest_speed, fan.full_speed, 25)
    met = [blowing.at(each) for each in (free if take.what is What.RAMP_UP else free[::-1])]
    speeds, openings = (np.array([each[i] for each in met]) for i in (0, 1))
    return swept(speeds, openings, take.seconds, HELD)


def _mean_level(heard: Heard) -> float:
    """Level of the fan alone, its energy meant over the course [dBA]."""
    course = heard.course
    times = np.linspace(course.times[0], course.times[-1], 2 if course.is_steady else 600)
    speeds, openings = (np.interp(times, course.times, each) for each in (course.speeds, course.openings))
    powers = [
        10 ** (heard.voice.total(n, q, heard.density) / 10) for n, q in zip(speeds, openings, strict=True)
    ]
    return 10 * math.log10(float(np.mean(powers))) + heard.nearness


def _tone_truths(heard: Heard, power: Array, stage: Stage) -> tuple[ToneTruth, ...]:
    course, bias = heard.course, stage.room.bias
    f = bin_frequencies(stage.rate)
    per_hertz = (power if power.ndim == 1 else power.mean(axis=0)) / f[1]

    def truth(each: Component) -> ToneTruth:
        level = each.level + heard.nearness - a_level(each.frequency) + bias
        around = 10 * math.log10(float(np.interp(each.frequency, f, per_hertz))) + bias
        return ToneTruth(each.order, each.frequency, level, around)

    return tuple(
        truth(each) for each in heard.voice.tones(course.mean, float(course.openings[0]), heard.density)
    )
