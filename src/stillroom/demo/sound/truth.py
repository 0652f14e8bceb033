"""What is true of the sounds of the invented laboratory. Speeds in 1/s, levels in dB.

Levels of a recording are on the laboratory's own scale: as its calibrator has it, with the hidden errors of
calibrator and microphone in them (`SoundTruth.bias`). Levels of a fan (`FanLevels`, `LimitTruth`) are without.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from stillroom.demo.fan import Fan, Obstacle
from stillroom.demo.sound.room import AIR_DENSITY, DISTANCE
from stillroom.demo.sound.voice import Voice

LIMITS = (25.0, 30.0, 35.0)
"""Levels at which the laboratory compares its fans [dBA]."""
AT_LIMIT, TOPS_OUT, NOT_SO_QUIET = "at limit", "tops out", "not so quiet"
_FINE = 2 / 60
"""Steps of speed in which a limit is looked for [1/s]; between them levels go straight."""
_COARSE = 40
"""Steps of opening in which an operating point is looked for."""
FREE_AIR = ""


@dataclass(frozen=True)
class ToneTruth:
    """A tone in a recording of a steady speed.

    Parameters
    ----------
    order : of the shaft, 0 where it stands still. frequency : [Hz]. level : unweighted [dB].
    density : of the noise around it, fan and room [dB re 20 µPa in 1 Hz].
    """

    order: float
    frequency: float
    level: float
    density: float


@dataclass(frozen=True)
class RecordingTruth:
    """One recording of a fan, the background or the calibrator.

    Parameters
    ----------
    file : relative to the folder. what : in the words of the run table.
    fan, sample, mounting, obstacle, setting : as written down; empty where it is none.
    speed : mean [1/s]; from, to : of a ramp.
    level : of what is recorded [dBA], a passing lorry left out. fan_level, background : its two parts.
    full_scale : level of a mean square of 1.0 as the calibrator before has it [dB].
    tones : of a dwell.
    """

    file: str
    what: str
    level: float
    background: float
    full_scale: float
    fan: str = ""
    sample: str = ""
    mounting: str = ""
    obstacle: str = ""
    setting: str = ""
    speed: float = 0.0
    speed_from: float = 0.0
    speed_to: float = 0.0
    fan_level: float | None = None
    tones: tuple[ToneTruth, ...] = ()


@dataclass(frozen=True)
class LimitTruth:
    """A fan at a level [dBA], at `DISTANCE` and the usual density.

    Parameters
    ----------
    sample : empty for the model. obstacle : empty for free air.
    reached : "at limit", "tops out" (quieter even at full speed) or "not so quiet" (louder at its lowest speed).
    speed : the highest at which the level is at or under the limit; strict : the highest up to which it never
        lies over it; both are full speed where it tops out, the lowest where it isn't so quiet.
    avoid : (from, to) of speeds below `speed` at which it lies over it.
    flow : through the obstacle at `speed` [m³/s]; of several operating points the greatest.
    """

    fan: str
    sample: str
    obstacle: str
    limit: float
    reached: str
    speed: float
    strict: float
    avoid: tuple[tuple[float, float], ...]
    flow: float


@dataclass(frozen=True)
class FanLevels:
    """A fan's level [dBA] over its speed [1/s], at `DISTANCE` and the usual density, with its lowest and full speed."""

    fan: str
    sample: str
    obstacle: str
    speeds: tuple[float, ...]
    levels: tuple[float, ...]


@dataclass(frozen=True)
class MeterTruth:
    """A level that the meter was to show: of the fan alone [dBA] at a speed [1/s], and of the background."""

    file: str
    fan: str
    speed: float
    level: float
    background: float


@dataclass(frozen=True)
class SoundTruth:
    """All that is true of the sounds.

    Parameters
    ----------
    bias : what the laboratory's levels are too high, all of them. distance : [m]. density : [kg/m³].
    meter : what a simple meter was to show.
    """

    bias: float
    distance: float
    density: float
    recordings: tuple[RecordingTruth, ...]
    limits: tuple[LimitTruth, ...]
    levels: tuple[FanLevels, ...]
    meter: tuple[MeterTruth, ...] = ()

    def recording(self, file: str) -> RecordingTruth:
        """The recording in a file, by the end of its path.

        Raises
        ------
        LookupError : there is none.
        """
        for each in self.recordings:
            if each.file.endswith(file):
                return each
        raise LookupError(f"no recording {file!r}")

    def limit(self, fan: str, obstacle: str, limit: float, sample: str = "") -> LimitTruth:
        """A fan at a limit.

        Raises
        ------
        LookupError : there is none.
        """
        for each in self.limits:
            if (each.fan, each.sample, each.obstacle, each.limit) == (fan, sample, obstacle, limit):
                return each
        raise LookupError(f"nothing known of {fan!r} {sample!r} through {obstacle!r} at {limit:g} dBA")


@dataclass(frozen=True)
class Blowing:
    """A fan with its voice before an obstacle, or in free air where that is None."""

    fan: Fan
    voice: Voice
    obstacle: Obstacle | None

    def at(self, free_speed: float) -> tuple[float, float]:
        """(speed [1/s], opening) at a setting that would give `free_speed` at free delivery."""
        if self.obstacle is None:
            return free_speed, 1.0
        q = self._met(lambda q: self.fan.loaded_speed(free_speed, q))
        return self.fan.loaded_speed(free_speed, q), q

    def opening(self, speed: float) -> float:
        """The opening at a true speed [1/s]."""
        return 1.0 if self.obstacle is None else self._met(lambda _: speed)

    def _met(self, speed: Callable[[float], float]) -> float:
        """The greatest opening at which the fan meets its obstacle; `speed` by opening."""
        fan, obstacle = self.fan, self.obstacle
        assert obstacle is not None

        def surplus(q: float) -> float:
            n = speed(q)
            return fan.pressure(q, n) - obstacle.drop(fan.flow(q, n))

        steps = (1 - i / _COARSE for i in range(1, _COARSE))
        low = next(q for q in steps if surplus(q) > 0)
        high = low + 1 / _COARSE
        for _ in range(32):
            middle = (low + high) / 2
            low, high = (middle, high) if surplus(middle) > 0 else (low, middle)
        return (low + high) / 2

    @property
    def reach(self) -> tuple[float, float]:
        """Lowest and highest speed [1/s]."""
        return self.at(self.fan.lowest_speed)[0], self.at(self.fan.full_speed)[0]

    def level(self, openings: Callable[[float], float], speed: float) -> float:
        """Level at `DISTANCE` and the usual density [dBA]; `openings` by speed."""
        return self.voice.total(speed, openings(speed), AIR_DENSITY) - 20 * math.log10(DISTANCE)

    def openings(self) -> Callable[[float], float]:
        """The opening by speed, worked out at few of them."""
        low, high = self.reach
        places = [low + (high - low) * i / 24 for i in range(25)]
        known = [self.opening(each) for each in places]

        def between(speed: float) -> float:
            along = min(max((speed - low) / (high - low) * 24, 0.0), 24.0)
            i = min(int(along), 23)
            return known[i] + (known[i + 1] - known[i]) * (along - i)

        return between


def limit_truths(
    blowing: Blowing, sample: str, obstacle: str, limits: Sequence[float] = LIMITS
) -> Iterator[LimitTruth]:
    """A fan at each of the limits [dBA]; `obstacle` by its name in the tables."""
    low, high = blowing.reach
    openings = blowing.openings()
    count = int((high - low) / _FINE)
    speeds = [low + (high - low) * i / count for i in range(count + 1)]
    levels = [blowing.level(openings, each) for each in speeds]
    for limit in limits:
        spans = list(_under(speeds, levels, limit))
        avoid = tuple((before[1], after[0]) for before, after in pairwise(spans))
        if not spans:
            reached, speed, strict = NOT_SO_QUIET, low, low
        else:
            reached = TOPS_OUT if spans[-1][1] == speeds[-1] else AT_LIMIT
            speed, strict = spans[-1][1], spans[0][1] if spans[0][0] == speeds[0] else low
        flow = openings(speed) * blowing.fan.flow(1.0, speed)
        yield LimitTruth(blowing.fan.name, sample, obstacle, limit, reached, speed, strict, avoid, flow)


def fan_levels(blowing: Blowing, sample: str, obstacle: str) -> FanLevels:
    """A fan's level over its speed, every 10 rpm and at both ends."""
    low, high = blowing.reach
    step = 10 / 60
    inner = [i * step for i in range(int(low / step) + 1, int(high / step) + 1)]
    speeds = (low, *(each for each in inner if low < each < high), high)
    openings = blowing.openings()
    levels = tuple(blowing.level(openings, each) for each in speeds)
    return FanLevels(blowing.fan.name, sample, obstacle, speeds, levels)


def _under(speeds: list[float], levels: list[float], limit: float) -> Iterator[tuple[float, float]]:
    """The spans of speed at which the level is at or under the limit."""
    begun = speeds[0] if levels[0] <= limit else None
    for (n0, l0), (n1, l1) in pairwise(zip(speeds, levels, strict=True)):
        if (l0 <= limit) == (l1 <= limit):
            continue
        crossed = n0 + (n1 - n0) * (limit - l0) / (l1 - l0)
        if begun is None:
            begun = crossed
        else:
            yield begun, crossed
            begun = None
    if begun is not None:
        yield begun, speeds[-1]
