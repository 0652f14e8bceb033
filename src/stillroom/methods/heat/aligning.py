"""Several loggers' files of one run brought to one clock and one grid of times.

The grid is that of the logger that reads the hot probe, so that what matters most is never resampled. Others are
joined by straight lines between neighbouring readings, settings of the drive by the reading before; over a gap
nothing is joined.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.heat.clocks import Alignment, How, Series, align
from stillroom.errors import NotPossible
from stillroom.methods.heat.bends import by_bends
from stillroom.methods.heat.channels import (
    AIR,
    BAROMETER,
    DRIVES,
    HEATER,
    HEATER_AMPS,
    HEATER_VOLTS,
    HOT,
    HUMIDITY,
    SPEED,
    Channels,
)
from stillroom.methods.heat.loggers import Stretch, loggers_of
from stillroom.methods.heat.moments import moment_of, seconds_of
from stillroom.methods.heat.told import Log
from stillroom.vocabulary import BY_NAME

STATED_U = 0.5
"""Standard uncertainty of an offset that the lab states [s] (common practice: clocks are read to the second)."""

SAME_TEMPERATURE, SAME_READING = 0.5, 0.03
"""Two loggers' accounts of one channel agree within so much [K], and within this share [1] (common practice)."""

GAP = 2.5
"""Readings further apart than so many usual intervals have a gap between them [1]."""

SLOW = frozenset({HUMIDITY, BAROMETER, "temperature"})
"""Channels of the room, which change so slowly that a minute doesn't matter."""

EDGES: tuple[tuple[str, str], ...] = (
    (HEATER, HEATER),
    (HEATER_AMPS, HEATER_AMPS),
    (HEATER_VOLTS, HEATER_VOLTS),
    (SPEED, SPEED),
    ("duty", "duty"),
    ("voltage", "voltage"),
    ("current", "current"),
    (SPEED, "duty"),
    ("duty", SPEED),
    (SPEED, "voltage"),
    ("voltage", SPEED),
    (SPEED, "current"),
    ("current", SPEED),
    (HEATER, HEATER_AMPS),
    (HEATER_AMPS, HEATER),
    (HEATER, HEATER_VOLTS),
    (HEATER_VOLTS, HEATER),
    (AIR, AIR),
    (HOT, HOT),
)
"""Channels in which two loggers see the same event, the sharpest first."""


@dataclass(frozen=True)
class Clock:
    """The files of one logger with what is added to their times.

    Parameters
    ----------
    name : of the logger, or the file. files : as people name them. alignment : how it was brought to the run's clock.
    is_paired : whether it reads anything that is taken together with others' readings; the room's air alone isn't.
    """

    name: str
    files: tuple[str, ...]
    alignment: Alignment
    is_paired: bool = True

    def facts(self) -> dict[str, object]:
        """It in plain words and numbers."""
        told = self.alignment
        return {
            "logger": self.name,
            "files": list(self.files),
            "offset": told.offset,
            "u": told.u if np.isfinite(told.u) else None,
            "how": told.how.value,
            "edges": told.edges,
            "found": told.found,
            "u_found": told.u_found,
            "why": told.why,
            "paired": self.is_paired,
        }


@dataclass(frozen=True)
class Aligned:
    """One run on one clock.

    Parameters
    ----------
    channels : in step. start : seconds of its time 0, as `moments.seconds_of` counts, None where no file tells a
    time of day. clocks : of its loggers, the one with the hot probe first. marks : what must be said.
    begins : {run: when that log's own time 0 is on the run's clock [s]}.
    """

    channels: Channels
    start: float | None
    clocks: tuple[Clock, ...]
    marks: tuple[str, ...]
    begins: Mapping[str, float] = field(default_factory=dict)


def aligned(logs: Sequence[Log], corrected: Mapping[str, Mapping[str, Array]]) -> Aligned:
    """The logs of one run on one clock.

    Parameters
    ----------
    logs : of one run. corrected : {run: its columns, corrected by calibrations}.

    Raises
    ------
    NotPossible : none of them reads a hot probe, or air going in.
    """
    clocks = _clocks(logs)
    reference = next((name for name, own in clocks.items() if any(HOT in log.columns for log in own)), None)
    if reference is None:
        raise NotPossible(
            "heat run", place=_files(logs), found="no hot probe", expected="a column of its readings"
        )
    origin = _origin(clocks[reference])
    told = {name: _pieces(own, corrected, origin) for name, own in clocks.items()}
    main = clocks[reference]
    stated = next((log.told.offset for log in main if log.told.offset is not None), None)
    shift = stated or 0.0
    made = [Clock(_name(main), _named(main), Alignment(shift, STATED_U if stated else 0.0, _how(stated)))]
    grid = _grid(told[reference]) + shift
    columns = {name: _resampled(grid, t + shift, v, name) for name, (t, v) in told[reference].items()}
    marks = [mark for own in clocks.values() for mark in _read_twice(own, corrected, origin)]
    offsets = {reference: shift}
    for name, own in clocks.items():
        if name != reference:
            found = _beside(_alignment(told[reference], told[name], shift, own), told[name], grid)
            made.append(Clock(_name(own), _named(own), found, is_paired=not told[name].keys() <= SLOW))
            offsets[name] = found.offset
            for channel, (t, v) in told[name].items():
                again = _resampled(grid, t + found.offset, v, channel)
                taken = columns.setdefault(channel, again)
                if differ(taken, again, channel):
                    marks.append(
                        f"{BY_NAME[channel].label.lower()} of {_name(own)} differs: {_name(main)}'s taken"
                    )
    first, last = _window(logs, clocks, made, grid, origin)
    kept = Channels(grid, columns).between(first, last)
    if not len(kept.times):
        raise NotPossible(
            "heat run", place=_files(logs), found="logs that don't overlap", expected="the same hours"
        )
    start = None if origin is None else origin + float(kept.times[0])
    moment = "" if start is None else moment_of(start)
    channels = Channels(kept.times - kept.times[0], kept.columns, moment)
    begins = {
        each.told.run: _begins(each, origin) + offsets[name] - float(kept.times[0])
        for name, own in clocks.items()
        for each in own
    }
    return Aligned(channels, start, tuple(made), (*_marks(made), *marks), begins)


def _how(stated: float | None) -> How:
    return How.SAME_CLOCK if stated is None else How.STATED


def _files(logs: Sequence[Log]) -> str:
    return ", ".join(each.told.file for each in logs)


def _clocks(logs: Sequence[Log]) -> dict[str, list[Log]]:
    """The logs by the clock that wrote them: that of the logger told, else of files that follow each other."""
    found: dict[str, list[Log]] = {}
    for each, number in zip(logs, loggers_of([_stretch(each) for each in logs]), strict=True):
        found.setdefault(each.told.logger or f"untold {number}", []).append(each)
    return found


def _stretch(log: Log) -> Stretch:
    begin, times = seconds_of(log.told.moment), log.columns["time"]
    return Stretch(
        file=log.told.file,
        channels=frozenset(log.columns) - {"time"},
        first=None if begin is None or not len(times) else begin + float(times[0]),
        last=None if begin is None or not len(times) else begin + float(times[-1]),
        logger=log.told.logger,
        offset=log.told.offset,
    )


def _name(own: Sequence[Log]) -> str:
    return own[0].told.logger or own[0].told.file


def _named(own: Sequence[Log]) -> tuple[str, ...]:
    return tuple(each.told.file for each in own)


def _origin(own: Sequence[Log]) -> float | None:
    """The second from which times count: of the earliest file of the reference clock that tells a time of day."""
    return min((at for each in own if (at := seconds_of(each.told.moment)) is not None), default=None)


Pieces = dict[str, tuple[Array, Array]]


def _pieces(own: Sequence[Log], corrected: Mapping[str, Mapping[str, Array]], origin: float | None) -> Pieces:
    """{channel: times, values} of one clock: its files one after the other, what was not read left out."""
    found: dict[str, list[tuple[Array, Array]]] = {}
    for each in own:
        columns = corrected[each.told.run]
        times = np.asarray(columns["time"], dtype=np.float64) + _begins(each, origin)
        for name, values in columns.items():
            if name != "time":
                found.setdefault(name, []).append((times, np.asarray(values, dtype=np.float64)))
    return {name: _rising(parts) for name, parts in found.items()}


def _read_twice(
    own: Sequence[Log], corrected: Mapping[str, Mapping[str, Array]], origin: float | None
) -> Iterator[str]:
    """What is said of two files of one clock that read one channel at once, otherwise."""
    for first, second in combinations(own, 2):
        one, other = corrected[first.told.run], corrected[second.told.run]
        times = np.asarray(one["time"], dtype=np.float64) + _begins(first, origin)
        theirs = np.asarray(other["time"], dtype=np.float64) + _begins(second, origin)
        for name in one.keys() & other.keys() - {"time"}:
            if differ(np.asarray(one[name]), _resampled(times, theirs, np.asarray(other[name]), name), name):
                files = f"{first.told.file} and {second.told.file}"
                yield f"{BY_NAME[name].label.lower()} differs in {files}, which read it at once"


def differ(first: Array, second: Array, name: str) -> bool:
    """Whether two accounts of one channel, reading by reading, can't both be right."""
    there = np.isfinite(first) & np.isfinite(second)
    if first is second or not there.any():
        return False
    apart = float(np.median(np.abs(first[there] - second[there])))
    size = float(np.median(np.abs(first[there])))
    return apart > (SAME_TEMPERATURE if BY_NAME[name].dimension == "temperature" else SAME_READING * size)


def _beside(found: Alignment, other: Pieces, grid: Array) -> Alignment:
    """How a clock was brought to the run's; as not aligned, where all it read lies before or after the run."""
    begin = min((float(t[0]) for t, _ in other.values() if len(t)), default=0.0) + found.offset
    end = max((float(t[-1]) for t, _ in other.values() if len(t)), default=0.0) + found.offset
    apart = max(begin - float(grid[-1]), float(grid[0]) - end)
    if not apart > 0.0:
        return found
    side = "after" if begin > float(grid[-1]) else "before"
    why = f"all of its readings lie {apart / 60.0:.0f} min or more {side} those of the hot probe"
    return replace(found, u=np.inf, how=How.NOT_ALIGNED, why=why)


def _begins(log: Log, origin: float | None) -> float:
    """When a file begins, since the origin [s]; 0 where either tells no time of day, as if all began at once."""
    at = seconds_of(log.told.moment)
    return 0.0 if at is None or origin is None else at - origin


def _rising(parts: Sequence[tuple[Array, Array]]) -> tuple[Array, Array]:
    """Readings in order of time, each time once; an empty cell stays, so that a gap stays a gap."""
    times = np.concatenate([each for each, _ in parts])
    values = np.concatenate([each for _, each in parts])
    if len(times) > 1 and not (np.diff(times) > 0.0).all():
        times, at = np.unique(times, return_index=True)
        values = values[at]
    return times, values


def _grid(pieces: Pieces) -> Array:
    """The times at which the hot probe was read."""
    return pieces[HOT][0]


def usual_interval(times: Array) -> float:
    """The usual interval between readings [s]; 0.0 for a single one."""
    return float(np.median(np.diff(times))) if len(times) > 1 else 0.0


def _resampled(grid: Array, times: Array, values: Array, name: str) -> Array:
    """A channel at the times of the grid; NaN in its gaps and beyond its ends."""
    if len(times) == len(grid) and np.array_equal(times, grid):
        return values
    there = np.isfinite(values)
    times, values = times[there], values[there]
    if not len(times):
        return np.full(len(grid), np.nan)
    reach = GAP * max(usual_interval(times), usual_interval(grid))
    after = np.clip(np.searchsorted(times, grid), 0, len(times) - 1)
    before = np.clip(np.searchsorted(times, grid, side="right") - 1, 0, len(times) - 1)
    joined = (times[after] - times[before] <= reach) & (grid >= times[before]) & (grid <= times[after])
    if name in DRIVES.values():
        held = (grid >= times[before]) & (grid - times[before] <= reach)
        return np.where(held, values[before], np.nan)
    return np.where(joined, np.interp(grid, times, values), np.nan)


def _alignment(main: Pieces, other: Pieces, shift: float, own: Sequence[Log]) -> Alignment:
    """How another clock is brought to the run's: by what is stated, checked by an edge, else by the edge alone.

    Offsets hold against true time, as the lab states them; that of an edge is taken against the reference as it stands
    with its own offset. Where no sharp edge tells, the bend of a temperature may.
    """
    stated = next((log.told.offset for log in own if log.told.offset is not None), None)
    told = None if stated is None else (stated, STATED_U)
    best: Alignment | None = None
    for mine, theirs in EDGES:
        if mine in main and theirs in other:
            reference = Series(main[mine][0] + shift, main[mine][1])
            found = align(reference, Series(*other[theirs]), stated=told)
            if found.how is How.SHARED_EDGE or (told and found.found is not None):
                return found
            best = best or found
    bent = by_bends(main, other, shift)
    if bent is not None and told is None:
        return bent
    if bent is not None and told is not None:
        return Alignment(*told, How.STATED, bent.edges, found=bent.offset, u_found=bent.u)
    if best is not None:
        return best
    if stated is not None:
        return Alignment(stated, STATED_U, How.STATED)
    return Alignment(0.0, np.inf, How.NOT_ALIGNED, why="no channel in which both loggers see the same event")


def _window(
    logs: Sequence[Log],
    clocks: Mapping[str, list[Log]],
    made: Sequence[Clock],
    grid: Array,
    origin: float | None,
) -> tuple[float, float]:
    """From when to when the run lasts: as long as the files that belong to the fan, where a log of the whole day lies
    beside them.
    """
    if all(each.told.names_fan for each in logs):
        return float(grid[0]), float(grid[-1])
    offsets = {file: each.alignment.offset for each in made for file in each.files}
    ends = [
        (begin, begin + float(each.columns["time"][-1] - each.columns["time"][0]))
        for own in clocks.values()
        for each in own
        if each.told.names_fan and len(each.columns["time"])
        for begin in (_begins(each, origin) + offsets[each.told.file] + float(each.columns["time"][0]),)
    ]
    if not ends:
        return float(grid[0]), float(grid[-1])
    return min(low for low, _ in ends), max(high for _, high in ends)


def _marks(clocks: Sequence[Clock]) -> tuple[str, ...]:
    lost = [each.name for each in clocks if each.alignment.how is How.NOT_ALIGNED and each.is_paired]
    return (f"clock of {', '.join(lost)} not aligned",) if lost else ()
