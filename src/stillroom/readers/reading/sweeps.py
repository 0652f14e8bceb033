"""The sweeps of a recording: stretches of readings at one setting, in one direction.

A change of the column that tells the setting parts sweeps; where no column tells it, a jump of the measured
speed with the flow beginning anew does, or a flow that begins anew by itself. A sweep that goes up and comes
back is parted where it turns. What isn't told is left open, not guessed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from stillroom.readers.grids.starts import BLANK
from stillroom.readers.reading.courses import Course, course_of, turns_of
from stillroom.readers.reading.recording import Recording
from stillroom.readers.words.headers import DIRECTION, NAMES, SWEEP
from stillroom.readers.words.numbers import Array
from stillroom.readers.words.settings import DUTY, SPEED, VOLTAGE, is_usual

FEWEST = 3
"""Fewest readings of a sweep that is told apart without a column that says so."""

_STEP = {"duty": (0.012, 0.0), "voltage": (0.12, 0.02), "set_speed": (0.08, 0.004)}
"""{column: (absolute [SI], relative)}: a larger change from one reading to the next is another setting."""

_COLUMNS = ("duty", "voltage", "set_speed")
_NAMES = {"duty": DUTY, "voltage": VOLTAGE, "set_speed": SPEED}
_JUMP = 0.05
"""Relative change of the measured speed that can be another setting; along a sweep it moves slower."""

_ANEW = 0.5
"""Share of the range of flows by which a flow that begins anew goes back in one step."""

_LEG, _ACROSS = 4, 0.7
"""Readings that the legs of a sweep that turns have on the average; share of the range that each crosses."""

_SAME_SPEED = 0.10
"""How far the speeds of sweeps may lie apart that are said to be at one setting."""

_UP = frozenset({"up", "rising", "increasing", "auf", "aufwärts", "steigend", "montée", "+", "↑"})
_DOWN = frozenset({"down", "falling", "decreasing", "ab", "abwärts", "fallend", "descente", "-", "↓"})


@dataclass(frozen=True)
class SweepPart:
    """One sweep of a recording.

    Parameters
    ----------
    first, last : its readings, from `first` up to but not including `last`.
    setting : {"duty": 0.4}, {"voltage": 7.0} or {"speed": 25.0} [SI]; empty where the file doesn't tell.
    direction : "up" where the flow rises, "down" where it falls, "" where that can't be told.
    """

    first: int
    last: int
    setting: dict[str, float] = field(default_factory=dict)
    direction: str = ""


def sweeps(recording: Recording) -> tuple[SweepPart, ...]:
    """The sweeps of a recording: at least one, contiguous, together all its readings."""
    with np.errstate(over="ignore", invalid="ignore"):  # absurdly large readings tell nothing
        return _sweeps(recording)


def _sweeps(recording: Recording) -> tuple[SweepPart, ...]:
    course = course_of(recording)
    told = [0, *_told_edges(recording), len(recording)]
    parts = [part for first, last in pairwise(told) for part in _within(recording, course, first, last)]
    return _with_settings(recording, parts)


def _within(recording: Recording, course: Course | None, first: int, last: int) -> list[SweepPart]:
    """The sweeps of a stretch that no column parts further.

    What is parted by its course alone has to go one way in every part: throttle settings in any order begin
    anew by chance.
    """
    whole = _turned(recording, course, first, last)
    if course is None:
        return whole
    edges = [first, *_seen_edges(recording, course, first, last), last]
    parts = [part for pair in pairwise(edges) for part in _turned(recording, course, *pair)]
    changes = _changes(recording.columns.get("speed"), len(recording))
    by_speed = all(changes[part.first - 1] > _JUMP for part in parts[1:])
    enough = by_speed or last - first >= _LEG * len(parts)
    return parts if enough and all(part.direction for part in parts) else whole


def _told_edges(recording: Recording) -> list[int]:
    """Where a column says that another sweep begins; empty where none does.

    A duty that changes with nearly every reading is no setting (a control that holds the speed moves it);
    nor is any column that leaves stretches of fewer than `FEWEST` readings on the average.
    """
    count = len(recording)
    edges: set[int] = set()
    words = [recording.texts[name] for name in (SWEEP, DIRECTION) if name in recording.texts]
    words += [_carried_on(recording.texts[name]) for name in NAMES if name in recording.texts]
    found = [[i for i in range(1, count) if cells[i] != cells[i - 1]] for cells in words]
    for name in _COLUMNS:
        if name in recording.columns:
            values = recording.columns[name]
            limit = _width(name, np.maximum(np.abs(values[1:]), np.abs(values[:-1])))
            found.append((np.flatnonzero(np.abs(np.diff(values)) > limit) + 1).tolist())
    for each in found:
        if count / (len(each) + 1) >= FEWEST:
            edges |= set(each)
    return sorted(edges)


def _carried_on(cells: Sequence[str]) -> list[str]:
    """Cells of names, an empty one as the one above it."""
    filled: list[str] = []
    for cell in cells:
        filled.append(cell or (filled[-1] if filled else ""))
    return filled


def _width(name: str, values: Array) -> Array:
    absolute, relative = _STEP[name]
    return np.maximum(absolute, relative * values)


def _seen_edges(recording: Recording, course: Course, begin: int, end: int) -> list[int]:
    """Where speed and flow show that another sweep begins, within the readings [begin, end)."""
    flow = course.values
    span = float(np.ptp(flow[begin:end]))
    if end - begin < 2 * FEWEST or span <= 0:
        return []
    blank = _after_blanks(recording)
    steps = np.abs(np.diff(flow)) / span
    changes = _changes(recording.columns.get("speed"), len(recording))
    edges: list[int] = []
    for i in range(begin + FEWEST, end - FEWEST + 1):
        far, gap, jumped = float(steps[i - 1]), i in blank, changes[i - 1] > _JUMP
        if i - begin < FEWEST or not (far > _ANEW / 2 or gap or jumped):
            continue
        way, onward = course.way(max(begin, i - 2 * FEWEST), i), course.way(i, min(end, i + 2 * FEWEST))
        back = way * float(flow[i] - flow[i - 1]) < 0 and course.way(i, i + FEWEST) * way > 0
        anew = back and far > (_ANEW / 2 if gap else _ANEW)
        if anew or (way * onward < 0 and (gap or (jumped and _stands_out(changes, i)))):
            edges.append(i)
            begin = i
    return edges


def _changes(speed: Array | None, count: int) -> Array:
    """The relative change of the speed from each reading to the next; 0 where it isn't known."""
    if speed is None:
        return np.zeros(count - 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.nan_to_num(np.abs(np.diff(np.log(speed))), nan=0.0)


def _stands_out(changes: Array, i: int) -> bool:
    """Whether the speed changes before reading i by more than it moves on either side."""
    beside = np.concatenate((changes[max(0, i - FEWEST) : i - 1], changes[i : i + FEWEST - 1]))
    return bool(changes[i - 1] > 2 * beside.max(initial=0.0))


def _after_blanks(recording: Recording) -> set[int]:
    """The readings before which a blank line stands."""
    gaps = np.array([each.line for each in recording.left_out if each.why == BLANK], dtype=np.int64)
    return (
        set(np.searchsorted(np.array(recording.lines, dtype=np.int64), gaps).tolist()) if gaps.size else set()
    )


def _turned(recording: Recording, course: Course | None, first: int, last: int) -> list[SweepPart]:
    """A stretch as one sweep, or as several where it turns around and goes one way in between."""
    told = recording.texts.get(DIRECTION)
    if told is not None and (word := direction_word(told[first])):
        return [SweepPart(first, last, direction=word)]
    if course is None or last - first < FEWEST:
        return [SweepPart(first, last)]
    legs = list(pairwise([first, *turns_of(course.values, first, last), last]))
    ways = [course.way(max(first, begin - 1), end) for begin, end in legs]
    if all(ways) and _long_enough(course.values[first:last], [(a - first, b - first) for a, b in legs]):
        return [
            SweepPart(begin, end, direction=_direction(way))
            for (begin, end), way in zip(legs, ways, strict=True)
        ]
    return [SweepPart(first, last, direction=_direction(course.way(first, last)))]


def _long_enough(values: Array, legs: list[tuple[int, int]]) -> bool:
    """Whether each leg has readings enough and goes nearly all the way, so that it is a sweep and no chance."""
    span = float(np.ptp(values))
    fewest = min(end - begin for begin, end in legs)
    short = min(float(np.ptp(values[max(0, begin - 1) : end])) for begin, end in legs)
    return len(legs) == 1 or (
        fewest >= FEWEST and len(values) >= _LEG * len(legs) and short >= _ACROSS * span
    )


def _direction(way: float) -> str:
    return {1.0: "up", -1.0: "down"}.get(way, "")


def direction_word(text: str) -> str:
    """What a cell says of the direction: "up", "down", or "" where it says neither."""
    word = text.strip().casefold()
    return "up" if word in _UP else "down" if word in _DOWN else ""


def _with_settings(recording: Recording, parts: list[SweepPart]) -> tuple[SweepPart, ...]:
    """The parts with the setting that a column tells, or the lines above the table."""
    found = _column_settings(recording, parts)
    if not any(found) and recording.setting and _one_speed(recording, parts):
        found = [dict(recording.setting) for _ in parts]
    return tuple(replace(part, setting=setting) for part, setting in zip(parts, found, strict=True))


def _column_settings(recording: Recording, parts: list[SweepPart]) -> list[dict[str, float]]:
    """The setting of each part, by the one column that tells it: it is one and the same all along a part.

    The duty does, unless it is 100 % everywhere and the voltage isn't the usual one; a voltage that is the
    usual one everywhere tells no setting.
    """
    levels = {
        name: _levels(recording.columns[name], name, parts) for name in _COLUMNS if name in recording.columns
    }
    duties = [each for each in levels.get("duty", []) if each is not None]
    volts = [each for each in levels.get("voltage", []) if each is not None]
    reduced = any(not is_usual(each) for each in volts)
    if duties and not (reduced and all(each == 1 for each in duties)):
        name = "duty"
    elif "set_speed" in levels and not reduced:
        name = "set_speed"
    elif reduced:
        name = "voltage"
    else:
        return [{} for _ in parts]
    return [{} if each is None else {_NAMES[name]: each} for each in levels[name]]


def _levels(values: Array, name: str, parts: list[SweepPart]) -> list[float | None]:
    """A column's value in each part, or None in a part along which it isn't the same."""
    levels: list[float | None] = []
    for part in parts:
        cells = values[part.first : part.last]
        middle = float(np.median(cells))
        steady = float(np.ptp(cells)) <= 2 * float(_width(name, np.abs(np.array(middle))))
        levels.append(middle if steady else None)
    return levels


def _one_speed(recording: Recording, parts: list[SweepPart]) -> bool:
    """Whether the speeds of the parts agree with one setting for all of them, and with a speed that is told."""
    if "speed" not in recording.columns:
        return True
    speed = recording.columns["speed"]
    middles = [float(np.median(speed[part.first : part.last])) for part in parts]
    told = recording.setting.get(SPEED, middles[0])
    return max(*middles, told) <= (1 + _SAME_SPEED) * min(*middles, told)
