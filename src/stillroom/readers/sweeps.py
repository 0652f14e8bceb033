"""The sweeps of a recording: stretches of readings at one setting, in one direction.

A change of the column that tells the setting parts sweeps; where no column tells it, a jump of the measured
speed with the flow beginning anew does, or a flow that begins anew by itself. A sweep that goes up and comes
back is parted where it turns. What isn't told is left open, not guessed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from stillroom.readers.blocks import BLANK
from stillroom.readers.headers import DIRECTION, SWEEP
from stillroom.readers.numbers import Array
from stillroom.readers.recording import Recording
from stillroom.readers.settings import DUTY, SPEED, VOLTAGE, chosen

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

_TURN = 0.4
"""Share of the range of flows that has to lie on both sides of a turn."""

_STEADY = 0.85
"""Share of all movement that goes one way in a sweep with a direction."""

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
    count = len(recording)
    flow = _flow(recording)
    edges = _told_edges(recording)
    if not edges:
        edges = _seen_edges(recording, flow)
    edges = [0, *edges, count]
    parts = [part for first, last in pairwise(edges) for part in _turned(recording, flow, first, last)]
    return _with_settings(recording, parts)


def _flow(recording: Recording) -> Array | None:
    """What rises with the flow along a sweep, for its order only; None where nothing shows it.

    Without a flow it is the fan's pressure that falls, or an obstacle's drop that rises, both per speed².
    """
    columns = recording.columns
    speed = columns.get("speed")
    turning = speed if speed is not None and bool((speed > 0).all()) else np.ones(len(recording))
    if "flow" in columns:
        return np.asarray(columns["flow"] / turning, dtype=np.float64)
    if "resistance_pressure" in columns:
        return np.sqrt(np.maximum(columns["resistance_pressure"], 0.0))
    if "static_pressure" in columns:
        return np.asarray(-columns["static_pressure"] / turning**2, dtype=np.float64)
    return None


def _told_edges(recording: Recording) -> list[int]:
    """Where a column says that another sweep begins; empty where none does.

    A duty that changes with nearly every reading is no setting (a control that holds the speed moves it);
    nor is any column that leaves stretches of fewer than `FEWEST` readings on the average.
    """
    count = len(recording)
    words = [recording.texts[name] for name in (SWEEP, DIRECTION) if name in recording.texts]
    named = {i for cells in words for i in range(1, count) if cells[i] != cells[i - 1]}
    if named and count / (len(named) + 1) >= FEWEST:
        return sorted(named | set(_steps(recording)))
    return _steps(recording)


def _steps(recording: Recording) -> list[int]:
    edges: set[int] = set()
    for name in _COLUMNS:
        if name in recording.columns:
            values = recording.columns[name]
            absolute, relative = _STEP[name]
            change = np.abs(np.diff(values))
            limit = np.maximum(absolute, relative * np.maximum(np.abs(values[1:]), np.abs(values[:-1])))
            found = (np.flatnonzero(change > limit) + 1).tolist()
            if len(recording) / (len(found) + 1) >= FEWEST:
                edges |= set(found)
    return sorted(edges)


def _seen_edges(recording: Recording, flow: Array | None) -> list[int]:
    """Where speed and flow show that another sweep begins."""
    count = len(recording)
    if flow is None or count < 2 * FEWEST:
        return []
    span = float(np.ptp(flow))
    if span <= 0:
        return []
    blank = _after_blanks(recording)
    steps = np.abs(np.diff(flow)) / span
    changes = _changes(recording.columns.get("speed"), count)
    edges: list[int] = []
    begin = 0
    for i in range(FEWEST, count - FEWEST + 1):
        far, gap, jumped = float(steps[i - 1]), i in blank, changes[i - 1] > _JUMP
        if i - begin < FEWEST or not (far > _ANEW / 2 or gap or jumped):
            continue
        before, after = flow[begin:i], flow[i : i + FEWEST]
        turned = _way(before) * _way(flow[i : i + 2 * FEWEST]) < 0
        anew = far > (_ANEW / 2 if gap else _ANEW) and _anew(before, after)
        if anew or (turned and (gap or (jumped and _stands_out(changes, i)))):
            edges.append(i)
            begin = i
    return edges


def _changes(speed: Array | None, count: int) -> Array:
    """The relative change of the speed from each reading to the next; infinite where one stands still."""
    if speed is None:
        return np.zeros(count - 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.nan_to_num(np.abs(np.diff(np.log(speed))), nan=0.0)


def _stands_out(changes: Array, i: int) -> bool:
    """Whether the speed changes before reading i by more than it moves on either side."""
    beside = np.concatenate((changes[max(0, i - FEWEST) : i - 1], changes[i : i + FEWEST - 1]))
    return bool(changes[i - 1] > 2 * beside.max(initial=0.0))


def _anew(before: Array, after: Array) -> bool:
    """Whether a flow that went one way all along goes back before `after`, and on the same way from there."""
    way = _way(before)
    return way * float(after[0] - before[-1]) < 0 and _way(after) * way > 0


def _way(flow: Array) -> float:
    """1.0 where the flow rises nearly all along, -1.0 where it falls, 0.0 where neither."""
    moves = flow[1:] - flow[:-1]
    total = float(np.abs(moves).sum())
    net = float(flow[-1] - flow[0])
    return math.copysign(1.0, net) if total > 0 and abs(net) >= (2 * _STEADY - 1) * total else 0.0


def _after_blanks(recording: Recording) -> set[int]:
    """The readings before which a blank line stands."""
    gaps = np.array([each.line for each in recording.left_out if each.why == BLANK], dtype=np.int64)
    return set(np.searchsorted(np.array(recording.lines, dtype=np.int64), gaps).tolist())


def _turned(recording: Recording, flow: Array | None, first: int, last: int) -> list[SweepPart]:
    """A stretch as one sweep, or as one up and one down where it turns around."""
    told = recording.texts.get(DIRECTION)
    if told is not None and (word := _direction_word(told[first])):
        return [SweepPart(first, last, direction=word)]
    if flow is None or last - first < FEWEST:
        return [SweepPart(first, last)]
    part = flow[first:last]
    span = float(np.ptp(part))
    for extreme in (int(np.argmax(part)), int(np.argmin(part))):
        there, back = part[: extreme + 1], part[extreme:]
        if min(len(there), len(back)) < FEWEST or span <= 0:
            continue
        ways = _way(there), _way(back)
        far = min(float(np.ptp(there)), float(np.ptp(back)))
        if ways[0] * ways[1] < 0 and far > _TURN * span:
            turn = first + extreme + 1
            return [
                SweepPart(first, turn, direction=_direction(ways[0])),
                SweepPart(turn, last, direction=_direction(ways[1])),
            ]
    return [SweepPart(first, last, direction=_direction(_way(part)))]


def _direction(way: float) -> str:
    return {1.0: "up", -1.0: "down"}.get(way, "")


def _direction_word(text: str) -> str:
    word = text.strip().casefold()
    return "up" if word in _UP else "down" if word in _DOWN else ""


def _with_settings(recording: Recording, parts: list[SweepPart]) -> tuple[SweepPart, ...]:
    """The parts with the setting that a column tells, or the lines above the table."""
    by_column = [_column_setting(recording, part) for part in parts]
    if any(by_column):
        return tuple(replace(part, setting=setting) for part, setting in zip(parts, by_column, strict=True))
    if recording.setting and _one_speed(recording, parts):
        return tuple(replace(part, setting=dict(recording.setting)) for part in parts)
    return tuple(parts)


def _column_setting(recording: Recording, part: SweepPart) -> dict[str, float]:
    """The setting that is one and the same in all readings of a part; of several the one that counts."""
    found: dict[str, float] = {}
    for name in _COLUMNS:
        if name not in recording.columns:
            continue
        values = recording.columns[name][part.first : part.last]
        absolute, relative = _STEP[name]
        middle = float(np.median(values))
        if float(np.ptp(values)) <= 2 * max(absolute, relative * abs(middle)):
            found[_NAMES[name]] = middle
    return chosen(found)


def _one_speed(recording: Recording, parts: list[SweepPart]) -> bool:
    """Whether the speeds of the parts agree with one setting for all of them."""
    if "speed" not in recording.columns or len(parts) == 1:
        return True
    speed = recording.columns["speed"]
    middles = [float(np.median(speed[part.first : part.last])) for part in parts]
    return max(middles) <= (1 + _SAME_SPEED) * min(middles)
