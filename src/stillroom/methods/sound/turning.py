"""How fast the fan turned in a dwell: heard, by its tachometer wire, by an optical one, or told."""

from __future__ import annotations

from dataclasses import dataclass

from stillroom.core.sound.shaft_speed import SpeedFromSound, speed_from_sound
from stillroom.core.sound.sound_mounting import SpeedFrom
from stillroom.errors import NotPossible, StillroomError
from stillroom.methods.sound.levels import Level
from stillroom.methods.sound.told import FanTold, Told

SLOWEST, FASTEST = 150.0 / 60.0, 6000.0 / 60.0
"""Between these a fan's speed is looked for [1/s]."""

FASTER = 1.25
"""A fan turns at most so much faster than its record says [1]."""

HEARD_WITHIN = 1e-3
"""A speed that was heard comes first where its relative standard uncertainty is no greater [1]."""

AGREE = 0.01
"""Two speeds agree within this [1]."""

TACHOMETER = 0.003
OPTICAL = 0.001
TOLD = 0.01
"""Relative standard uncertainty of a reading, and of a speed that was only set [1] (common practice)."""


@dataclass(frozen=True)
class Turning:
    """All that is known of a dwell's speed [1/s].

    Parameters
    ----------
    sound : heard, None where the sound doesn't tell it. tachometer, optical, told : as read or told.
    used, u : what counts, with its standard uncertainty. by : which of them it is.
    """

    sound: SpeedFromSound | None
    tachometer: float | None
    optical: float | None
    told: float | None
    used: float
    u: float
    by: SpeedFrom


def range_of(fan: FanTold, told: Told) -> tuple[float, float]:
    """Between which speeds the fan's is looked for [1/s]."""
    known = [
        each for each in (fan.full_speed, told.optical, told.speed_to, told.speed_from, _set(told)) if each
    ]
    return SLOWEST, min(FASTEST, FASTER * max(known)) if known else FASTEST


def _set(told: Told) -> float | None:
    return told.setting if told.setting_kind == "speed" else None


def turning_of(told: Told, level: Level, fan: FanTold) -> Turning:
    """The speed of a dwell.

    Raises
    ------
    NotPossible : nothing tells it.
    """
    set_speed = _set(told) if level.heard.speed is None else level.heard.speed
    sound = _heard(told, level, fan, set_speed)
    read = {
        SpeedFrom.TACHOMETER: (told.tachometer, TACHOMETER),
        SpeedFrom.OPTICAL: (told.optical, OPTICAL),
        SpeedFrom.TOLD: (set_speed, TOLD),
    }
    opinions = {by: (speed, speed * share) for by, (speed, share) in read.items() if speed}
    if sound is not None and sound.u <= HEARD_WITHIN * sound.speed:
        opinions = {SpeedFrom.SOUND: (sound.speed, sound.u), **opinions}
    by = _chosen({name: speed for name, (speed, _) in opinions.items()}, told.file)
    used, u = opinions[by]
    return Turning(sound, told.tachometer, told.optical, set_speed, used, u, by)


def _heard(told: Told, level: Level, fan: FanTold, near: float | None) -> SpeedFromSound | None:
    heard = level.heard
    if level.spectrum is None or heard.resolution is None or heard.noise_bandwidth is None:
        return None
    try:
        return speed_from_sound(
            level.spectrum,
            heard.resolution,
            heard.noise_bandwidth,
            blades=fan.blades,
            between=range_of(fan, told),
            near=told.optical or told.tachometer or near,
        )
    except StillroomError:
        return None  # a sound without a comb tells no speed; others may


def _chosen(speeds: dict[SpeedFrom, float], file: str) -> SpeedFrom:
    """The first that is known; the next one where two others agree against it."""
    if not speeds:
        raise NotPossible(
            "speed",
            place=file,
            found="neither heard, nor read by a tachometer, nor told",
            expected="a reading of a tachometer, or a longer recording",
        )
    first, *others = speeds
    for each in others:
        alike = sum(abs(speeds[other] / speeds[each] - 1.0) <= AGREE for other in others)
        if alike >= 2 and abs(speeds[first] / speeds[each] - 1.0) > AGREE:
            return each
    return first
