"""From a ramp to levels at speeds: the speed of each frame by the comb of orders, the level of each narrow step."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.sound import ramp_track
from stillroom.core.sound.level_points import LevelPoint, ramp_points
from stillroom.core.sound.ramp_track import RampTrack
from stillroom.errors import Contradiction, NotPossible
from stillroom.methods.sound.levels import Level
from stillroom.methods.sound.told import Chain, FanTold, Told
from stillroom.methods.sound.turning import FASTEST, SLOWEST, TACHOMETER, range_of

MARGIN = 0.1
"""So far beyond the told ends of a ramp its speed is looked for [1]."""

LEAST_TRUSTED = 0.3
"""Share of the frames that must tell their speed themselves [1]."""

REVERSED = 3.0
"""From this fall of the level on, from its first to its last part, a ramp did not go up, and likewise for one that is
told to go down [dB]: over its range a fan's level moves by tens of decibels, resonances by less (common practice)."""

PART = 0.2
"""The first and the last part of a ramp [1]."""


@dataclass(frozen=True)
class Ramp:
    """A ramp as points, with its track where it is a recording."""

    points: tuple[LevelPoint, ...]
    track: RampTrack | None


def ramp_of(told: Told, level: Level, fan: FanTold, chain: Chain) -> Ramp:
    """The levels at speeds of a ramp, corrected for background.

    Raises
    ------
    NotPossible : neither a comb that can be followed nor a logged speed.
    Contradiction : its level moves against the direction that is told.
    """
    background = level.room.total.level if level.room.total else None
    heard = level.heard
    if heard.series is not None and heard.series.speeds is not None:
        speeds = heard.series.speeds
        levels, track, u, trusted = heard.series.levels, None, TACHOMETER * speeds, speeds > 0.0
    elif heard.spectrogram is not None:
        _require_direction(told, heard.spectrogram.levels)
        track = ramp_track.track_ramp(
            heard.spectrogram, blades=fan.blades, between=_between(told, fan), rising=told.rising
        )
        levels, speeds, u, trusted = heard.spectrogram.levels, track.speed, track.u, track.trusted
        _require_trusted(told, track)
    else:
        raise NotPossible(
            "ramp", place=told.file, found="no speeds", expected="a recording, or speeds beside levels"
        )
    used = np.asarray(trusted & np.isfinite(levels))
    points = ramp_points(
        speeds,
        _shifted(levels, level.scale.offset),
        run=told.run,
        u_speeds=u,
        trusted=used,
        background=background,
        floor=chain.self_noise,
    )
    return Ramp(points, track)


def _shifted(levels: Array, offset: float) -> Array:
    return np.asarray(levels, dtype=np.float64) + offset


def _between(told: Told, fan: FanTold) -> tuple[float, float]:
    """Between which speeds a ramp runs [1/s]: its told ends with some room, else the fan's range."""
    ends = [each for each in (told.speed_from, told.speed_to) if each]
    if len(ends) < 2:
        return range_of(fan, told)
    return max(SLOWEST, min(ends) * (1.0 - MARGIN)), min(FASTEST, max(ends) * (1.0 + MARGIN))


def _require_direction(told: Told, levels: Array) -> None:
    """Refuse a ramp whose level falls where its speed is told to rise, and the other way round: followed in the wrong
    direction, chance tones would make a track, and a level at each of its speeds.
    """
    heard = np.asarray(levels, dtype=np.float64)
    heard = heard[np.isfinite(heard)]
    part = int(PART * len(heard))
    if told.rising is None or part < 1:
        return
    change = float(np.median(heard[-part:]) - np.median(heard[:part]))
    if change * (1.0 if told.rising else -1.0) < -REVERSED:
        raise Contradiction(
            "ramp",
            place=told.file,
            found=f"a ramp told to go {'up' if told.rising else 'down'}, whose level"
            f" {'falls' if change < 0.0 else 'rises'} by {abs(change):.0f} dB",
            expected=f"a ramp {'down' if told.rising else 'up'}: tell it by recording=, or record it again",
        )


def _require_trusted(told: Told, track: RampTrack) -> None:
    share = float(np.mean(track.trusted)) if len(track.trusted) else 0.0
    if share < LEAST_TRUSTED:
        raise NotPossible(
            "ramp",
            place=told.file,
            found=f"a speed that only {share:.0%} of its frames tell",
            expected="a slower ramp, further above the background, or the number of blades",
        )
