"""Two loggers put on one clock by a step of the heater or the drive in one and a bend of a temperature in the other.

A temperature bends when the heat goes on, and follows a step of speed; but it follows late, by what lies between heater
and probe, and other events bend it too. So only what leaves no doubt is taken, with an uncertainty that says how late a
probe may be.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.heat.clocks import Alignment, How, Series, align_edges
from stillroom.core.heat.edges import KINK_WINDOW, Edge
from stillroom.methods.heat.channels import HEATER, HEATER_AMPS, HEATER_VOLTS, HOT, SPEED

LATE_U = 7.5
"""Standard uncertainty of how late a probe bends [s]: one that follows its block within 30 s bends some 12 s late (as
simulated with a first-order lag; common practice of probes in a block or a pipe)."""

MOST_U = 5.0
"""A bend that is placed less sharply than this aligns nothing [s]."""

WITHIN = 900.0
"""Greatest offset that bends are asked for [s]: clocks set by hand keep within that (common practice)."""

LARGE = 0.6
"""The heater's steps, and the bends that they make, are at least so much of the largest [1]."""

COLD = 0.25
"""Where the heat goes on the probe stands within this share of its range from its lowest [1]."""

_HEATERS, _DRIVES = (HEATER, HEATER_AMPS, HEATER_VOLTS), (SPEED, "duty", "voltage")
_SLOW = (HOT, "liquid_in_temperature", "liquid_out_temperature")

Pieces = Mapping[str, tuple[Array, Array]]


def by_bends(main: Pieces, other: Pieces, shift: float) -> Alignment | None:
    """What is to be added to another logger's times, by bends; None where they leave a doubt.

    Parameters
    ----------
    main : {channel: times [s], values} of the clock with the hot probe. other : of the other clock.
    shift : what is added to the times of the first [s].

    Limits
    ------
    A step of the heater needs a probe that is cold when it comes; steps of the drive must be two or more, and each that
    the temperature's record holds must have bent it. Offsets beyond a quarter of an hour aren't looked for.
    """
    for slow_is_main, slow, fast, is_heater in _seen(main, other):
        bends, steps = _bends(slow, is_heater), _steps(fast, is_heater)
        ours, theirs = (bends, steps) if slow_is_main else (steps, bends)
        ours = tuple(replace(each, time=each.time + shift) for each in ours)
        found = align_edges(ours, theirs, WITHIN)
        late = (
            -found.offset + shift if slow_is_main else found.offset - shift
        )  # added to the slow one's times
        sure = found.how is How.SHARED_EDGE and found.u <= MOST_U and found.edges >= (1 if is_heater else 2)
        if sure and found.edges >= _inside(steps, slow[0] + late):
            return replace(found, u=math.hypot(found.u, LATE_U))
    return None


_Channel = tuple[Array, Array]


def _seen(main: Pieces, other: Pieces) -> Iterator[tuple[bool, _Channel, _Channel, bool]]:
    """Whether the slow channel is the main logger's, it, a quick one of the other logger, and whether that is the
    heater's: the heater first.
    """
    for names, is_heater in ((_HEATERS, True), (_DRIVES, False)):
        for name in names:
            for slow in _SLOW:
                if slow in main and name in other:
                    yield True, main[slow], other[name], is_heater
                if slow in other and name in main:
                    yield False, other[slow], main[name], is_heater


def _bends(channel: _Channel, is_heater: bool) -> tuple[Edge, ...]:
    """The bends of a temperature: those that only the heater makes, or those that the heat going on doesn't."""
    bends = Series(*channel, is_slow=True).edges()
    cold = [each.size > 0.0 and _is_cold(channel, each.time) for each in bends]
    if is_heater:
        largest = _largest(bends)
        return tuple(
            b for b, c in zip(bends, cold, strict=True) if (c or b.size < 0.0) and abs(b.size) >= largest
        )
    return tuple(each for each, from_cold in zip(bends, cold, strict=True) if not from_cold)


def _is_cold(channel: _Channel, time: float) -> bool:
    """Whether a temperature is near its lowest just before a time."""
    times, values = channel
    there = np.isfinite(values)
    before = there & (times <= time) & (times >= time - KINK_WINDOW)
    if not before.any():
        return False
    low, high = np.quantile(values[there], (0.01, 0.99))
    return bool(np.median(values[before]) - low <= COLD * (high - low))


def _steps(channel: _Channel, is_heater: bool) -> tuple[Edge, ...]:
    """The steps of the heater or the drive, turned so that up is what warms."""
    times, values = channel
    steps = Series(times, values if is_heater else -values).edges()
    return tuple(each for each in steps if not is_heater or abs(each.size) >= _largest(steps))


def _largest(edges: Sequence[Edge]) -> float:
    return LARGE * max((abs(each.size) for each in edges), default=0.0)


def _inside(steps: Sequence[Edge], times: Array) -> int:
    """How many steps lie where a temperature's record, on the steps' clock, can show a bend."""
    if not len(times):
        return 0
    first, last = float(times[0]) + 2.0 * KINK_WINDOW, float(times[-1]) - 2.0 * KINK_WINDOW
    return sum(first <= each.time <= last for each in steps)
