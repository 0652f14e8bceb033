"""The course of the flow through a recording: which way it goes, and where it turns."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from stillroom.readers.reading.recording import Recording
from stillroom.readers.words.numbers import Array

_NET, _NET_PRESSURE = 0.7, 0.4
"""Net movement over all movement of a sweep with a direction: of a flow; of a pressure, which has a saddle."""

_FAR = 0.5
"""Share of the range that a pressure has to cross from first to last reading of a sweep with a direction."""

_PLATEAU = 0.06
"""Share of the range within which readings at a turn count as one."""

_TURN = 0.4
"""Share of the range of flows that has to lie on both sides of a turn."""


@dataclass(frozen=True)
class Course:
    """What rises with the flow along a sweep, for its order only.

    Parameters
    ----------
    values : of each reading. whether_flow : the flow itself (or an obstacle's drop); else a fan's pressure,
        taken negative, which comes back a little in the saddle.
    """

    values: Array
    whether_flow: bool

    def way(self, first: int, last: int) -> float:
        """1.0 where it rises nearly all along [first, last), -1.0 where it falls, 0.0 where neither."""
        part = self.values[first:last]
        moves = part[1:] - part[:-1]
        total = float(np.abs(moves).sum())
        net = float(part[-1] - part[0])
        least = _NET * total if self.whether_flow else max(_NET_PRESSURE * total, _FAR * float(np.ptp(part)))
        return math.copysign(1.0, net) if total > 0 and abs(net) >= least else 0.0


def course_of(recording: Recording) -> Course | None:
    """The course of the flow, each reading at its own speed; None where nothing shows it."""
    columns = recording.columns
    speed = columns.get("speed")
    turning = speed if speed is not None and bool((speed > 0).all()) else np.ones(len(recording))
    if "flow" in columns:
        return Course(np.asarray(columns["flow"] / turning, dtype=np.float64), whether_flow=True)
    if "resistance_pressure" in columns:
        return Course(np.sqrt(np.maximum(columns["resistance_pressure"], 0.0)), whether_flow=True)
    if "static_pressure" in columns:
        pressure = np.asarray(-columns["static_pressure"] / turning**2, dtype=np.float64)
        return Course(pressure, whether_flow=False)
    return None


def turns_of(values: Array, first: int, last: int) -> list[int]:
    """Where [first, last) turns and goes back by more than `_TURN` of its range: the first reading after."""
    span = float(np.ptp(values[first:last]))
    turns: list[int] = []
    low = high = first
    way = 0
    for i in range(first + 1, last):
        low = i if values[i] < values[low] else low
        high = i if values[i] > values[high] else high
        if way >= 0 and values[high] - values[i] > _TURN * span:
            if way > 0:
                turns.append(_after_turn(values, high, span, first, last))
            way, low = -1, i
        elif way <= 0 and values[i] - values[low] > _TURN * span:
            if way < 0:
                turns.append(_after_turn(-values, low, span, first, last))
            way, high = 1, i
    return turns


def _after_turn(values: Array, top: int, span: float, first: int, last: int) -> int:
    """Where the way back begins from the highest reading: those that are as high count half to either side."""
    begin, end = top, top + 1
    least = values[top] - _PLATEAU * span
    while begin > first and values[begin - 1] >= least:
        begin -= 1
    while end < last and values[end] >= least:
        end += 1
    return (begin + end + 1) // 2
