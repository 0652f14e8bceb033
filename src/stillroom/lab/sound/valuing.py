"""A measure of sound of one mounting at a setting or a speed, with its errors by kind."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.combine import MountingResult
from stillroom.core.monotone_cubic import monotone_cubic
from stillroom.core.sound.level_curve import SPEED_TOLERANCE, LevelCurve
from stillroom.core.sound.sound_mounting import SoundMounting
from stillroom.core.speeds import SAME, setting_named, setting_words
from stillroom.core.standards.iso_532_1_2017.loudness import sone_from_phon
from stillroom.errors import NotPossible
from stillroom.lab.sound.fan_sound import Heard
from stillroom.lab.sound.level_words import speed_in_words
from stillroom.measures import Condition
from stillroom.measures.sound import LEVEL, LOUDNESS, SHARPNESS

TOP_MARK = "at the greatest speed measured"


@dataclass(frozen=True)
class SoundValue:
    """A measure of sound in one mounting.

    Parameters
    ----------
    result : value and trials, as mountings are combined. speed : at which it was taken [1/s].
    is_bound : whether it is at most that. was_dwelt : whether a dwell lies at that speed. marks : beside it.
    """

    result: MountingResult
    speed: float
    is_bound: bool
    was_dwelt: bool
    marks: tuple[str, ...] = ()


def sound_value(heard: Heard, measure: str, condition: Condition) -> SoundValue:
    """A measure of one mounting under a condition that sets its speed.

    Raises
    ------
    NotPossible : the speed or setting lies outside those measured, or there are no levels in bands.
    """
    speed, marks = speed_of(heard.sound, condition)
    return value_at_speed(heard, measure, speed, marks)


def value_at_speed(heard: Heard, measure: str, speed: float, marks: tuple[str, ...] = ()) -> SoundValue:
    """The same at a speed [1/s]."""
    sound, node = heard.sound, heard.node
    within(sound.levels, speed)
    value, shared, noise, loadings, is_bound = _TAKEN[measure](sound, speed)
    return SoundValue(
        MountingResult(f"{node.fan}/{node.sample}", node.subject, value, shared, noise, loadings),
        speed,
        is_bound,
        any(abs(each.speed / speed - 1.0) <= SPEED_TOLERANCE for each in sound.dwells),
        marks,
    )


def within(levels: LevelCurve, speed: float) -> None:
    """Refuse a speed [1/s] beyond those measured: a level is never extrapolated."""
    low, high = levels.reach
    if not low * (1.0 - SPEED_TOLERANCE) <= speed <= high * (1.0 + SPEED_TOLERANCE):
        raise NotPossible(
            f"level at {speed_in_words(speed)}",
            found=f"sound measured from {low * 60:,.0f} to {speed_in_words(high)}",
            expected="a speed within these",
        )


_Taken = tuple[float, Array, Array, dict[str, float], bool]


def _of_curve(levels: LevelCurve, speed: float, scale: Callable[[Array], Array]) -> _Taken:
    at = np.array([float(np.clip(speed, *levels.reach))])
    total, shared = (scale(levels.rows(part, levels.sources, at)[:, 0]) for part in (Part.TOTAL, Part.SHARED))
    k, value = len(levels.sources), float(total[0])
    loadings = {name: float(total[1 + i]) - value for i, name in enumerate(levels.sources)}
    bound = bool(levels.bound[int(np.argmin(np.abs(levels.speeds - at[0])))])
    return value, shared[1 + k :], total[1 + k :] - shared[1 + k :], loadings, bound


def _level(sound: SoundMounting, speed: float) -> _Taken:
    return _of_curve(sound.levels, speed, lambda rows: rows)


def _loudness(sound: SoundMounting, speed: float) -> _Taken:
    if sound.phons is None:
        raise NotPossible(
            "loudness",
            found="sound without one-third-octave levels",
            expected="recordings, or levels in bands",
        )
    return _of_curve(sound.phons, speed, lambda rows: np.asarray(sone_from_phon(rows)))


def _sharpness(sound: SoundMounting, speed: float) -> _Taken:
    """Between dwells on straight lines; its errors are those between mountings and samples."""
    told = [(each.speed, each.sharpness) for each in sound.dwells if each.sharpness is not None]
    if not told:
        raise NotPossible(
            "sharpness",
            found="dwells without one-third-octave levels",
            expected="recordings, or levels in bands",
        )
    speeds, values = np.array(sorted(told)).T
    if not speeds[0] * (1.0 - SPEED_TOLERANCE) <= speed <= speeds[-1] * (1.0 + SPEED_TOLERANCE):
        raise NotPossible(
            f"sharpness at {speed_in_words(speed)}",
            found=f"dwells from {speeds[0] * 60:,.0f} to {speed_in_words(float(speeds[-1]))}",
            expected="a speed within these",
        )
    value = float(np.interp(speed, speeds, values))
    trials = len(sound.levels.noise)
    return value, np.full(trials, value), np.zeros(trials), {}, False


_TAKEN: dict[str, Callable[[SoundMounting, float], _Taken]] = {
    LEVEL: _level,
    LOUDNESS: _loudness,
    SHARPNESS: _sharpness,
}


def speed_of(sound: SoundMounting, condition: Condition) -> tuple[float, tuple[str, ...]]:
    """The speed of a mounting under a condition [1/s], and what must be said of it.

    Raises
    ------
    NotPossible : a setting outside those measured.
    """
    if condition.speed is not None:
        return condition.speed, ()
    for kind, value in (("duty", condition.duty), ("volts", condition.volts)):
        if value is not None:
            return _at_setting(sound, kind, value)
    if sound.full_speed is not None:
        return sound.full_speed, ()
    return sound.levels.reach[1], (TOP_MARK,)


def _at_setting(sound: SoundMounting, kind: str, value: float) -> tuple[float, tuple[str, ...]]:
    """At a tested setting, else between two by a monotone cubic."""
    pairs = np.array(sound.settings.get(kind, ()))
    thing = setting_named(kind, value)
    if not len(pairs):
        raise NotPossible(thing, found="no dwell with such a setting", expected="dwells at some, or --speed")
    settings, speeds = pairs.T
    near = int(np.argmin(np.abs(settings - value)))
    if abs(settings[near] - value) <= SAME * value:
        return float(speeds[near]), ()
    if not settings[0] < value < settings[-1]:
        first, last = (setting_words(kind, float(each)) for each in (settings[0], settings[-1]))
        raise NotPossible(thing, found=f"dwells from {first} to {last}", expected="a setting within these")
    above = int(np.searchsorted(settings, value))
    lower, upper = (setting_words(kind, float(settings[at])) for at in (above - 1, above))
    speed = float(monotone_cubic(settings, speeds, value))
    return speed, (f"interpolated between {lower} and {upper}",)
