"""A stretch of a recorded ramp around the speed that is asked for, where no dwell is near it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.sound.ramp_track import RampTrack
from stillroom.errors import NotPossible
from stillroom.lab.sound.fan_sound import FanSound, Heard
from stillroom.lab.sound.level_words import speed_in_words
from stillroom.lab.sound.loading import load_spectrogram
from stillroom.lab.sound.nodes import RecordingNode
from stillroom.store.lab import Lab

WITHIN = 0.1
"""How far the speed may stray within the stretch from the one that is asked for [1]."""

TRUSTED = 0.5
"""Share of the stretch's frames that must tell the speed themselves [1]."""


@dataclass(frozen=True)
class Passed:
    """A stretch of a ramp.

    Parameters
    ----------
    heard, recording : the mounting and the ramp. offset : what makes its levels dB re 20 µPa [dB].
    start : within the recording [s]. slowest, fastest : speeds within the stretch [1/s].
    level : of the fan alone at the speed that is asked for [dB(A)]; is_bound : it is at most that.
    """

    heard: Heard
    recording: RecordingNode
    offset: float
    start: float
    slowest: float
    fastest: float
    level: float
    is_bound: bool

    @property
    def words(self) -> str:
        """What must be said beside: the speed isn't steady."""
        return f"cut from a ramp, {speed_in_words(self.slowest)} to {speed_in_words(self.fastest)}"


def passed(lab: Lab, used: FanSound, speed: float, seconds: float) -> Passed | None:
    """The stretch of the ramp that passes a speed most slowly; None where no ramp passes it slowly enough.

    Parameters
    ----------
    speed : in the middle of the stretch [1/s]. seconds : its length.
    """
    found: list[Passed] = []
    for heard in used.heard:
        for each in heard.node.recordings:
            if each.run.recorded.is_ramp and each.run.is_recording:
                own = _stretch(lab, used, heard, each, speed, seconds)
                found += [own] if own else []
    return min(found, key=lambda each: each.fastest - each.slowest, default=None)


def _stretch(
    lab: Lab, used: FanSound, heard: Heard, recording: RecordingNode, speed: float, seconds: float
) -> Passed | None:
    try:
        kept = load_spectrogram(lab, heard.node, recording.name)
    except NotPossible:
        return None
    middle = None if kept.track is None else crossing(kept.track, speed)
    if middle is None or kept.track is None:
        return None
    layout = recording.run.placed.taken.layout
    start = middle - seconds / 2.0
    if start < 0.0 or start + seconds > int(layout["frames"]) / int(layout["rate"]):
        return None
    ends = speeds_within(kept.track, start, seconds)
    if ends is None or max(abs(each / speed - 1.0) for each in ends) > WITHIN:
        return None
    levels = used.levels
    bound = bool(np.interp(speed, levels.speeds, levels.bound.astype(float)) > 0.0)
    level = float(np.interp(speed, levels.speeds, levels.central))
    return Passed(heard, recording, kept.offset, start, *ends, level, bound)


def crossing(track: RampTrack, speed: float) -> float | None:
    """When a ramp first passes a speed [1/s]: [s]; None where it doesn't."""
    over: Array = track.speed - speed
    places = np.flatnonzero(over[:-1] * over[1:] <= 0.0)
    if not len(places):
        return None
    first = int(places[0])
    step = over[first] - over[first + 1]
    share = float(over[first] / step) if step else 0.0
    return float(track.times[first] + share * (track.times[first + 1] - track.times[first]))


def speeds_within(track: RampTrack, start: float, seconds: float) -> tuple[float, float] | None:
    """The slowest and the fastest speed of a stretch [1/s]; None where too few of its frames tell it."""
    inside = (track.times >= start) & (track.times <= start + seconds)
    if not inside.any() or float(np.mean(track.trusted[inside])) < TRUSTED:
        return None
    return float(track.speed[inside].min()), float(track.speed[inside].max())
