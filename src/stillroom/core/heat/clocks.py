"""Clocks of loggers brought to one: by what somebody told, or by sudden changes that two loggers both saw."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.heat.edges import Edge, kink_edges, step_edges

PAIRED_WITHIN = 2.0
"""Loggers that are further apart, or might be, don't pair their readings [s] (common practice)."""

WITHIN = 7200.0
"""Greatest offset looked for [s]: two hours cover summer time and a time zone."""

TOLERANCE = 3.0
"""Edges pair when they fall together within so many standard uncertainties of theirs and 1 s."""

SLACK = 1.0


class How(Enum):
    """How the clock of a logger was brought to another's."""

    SAME_CLOCK = "same clock"
    STATED = "stated offset"
    SHARED_EDGE = "shared edge"
    NOT_ALIGNED = "not aligned"


@dataclass(frozen=True)
class Alignment:
    """What to add to a logger's times.

    Parameters
    ----------
    offset, u : [s]; u is without end where nothing aligns them. how : from what it is known.
    edges : number of edges that both saw. why : why they could not be aligned, "" where they were.
    found : offset that shared edges show where one was stated [s]; None where no edge tells. u_found : of that [s].
    """

    offset: float
    u: float
    how: How
    edges: int = 0
    why: str = ""
    found: float | None = None
    u_found: float | None = None

    @property
    def pairs(self) -> bool:
        """Whether readings of the two belong together within two seconds."""
        return self.u <= PAIRED_WITHIN and self.contradiction <= PAIRED_WITHIN

    @property
    def contradiction(self) -> float:
        """By how much, beyond uncertainty, shared edges contradict the offset that was stated [s]."""
        if self.found is None:
            return 0.0
        return max(0.0, abs(self.found - self.offset) - 2.0 * math.hypot(self.u, self.u_found or 0.0))


SAME_CLOCK = Alignment(0.0, 0.0, How.SAME_CLOCK)


@dataclass(frozen=True)
class Series:
    """Values of one channel at times (n,) [s], any unit; `is_slow` for one that follows slowly (a temperature)."""

    times: Array
    values: Array
    is_slow: bool = False

    def edges(self) -> tuple[Edge, ...]:
        """Its sudden changes: steps, or kinks of a slow one."""
        return kink_edges(self.times, self.values) if self.is_slow else step_edges(self.times, self.values)


def align(
    reference: Series,
    other: Series,
    *,
    stated: tuple[float, float] | None = None,
    within: float = WITHIN,
) -> Alignment:
    """Align another logger's clock to a reference by sudden changes that both saw.

    Parameters
    ----------
    reference, other : of each a channel in which the same events show (heater on, a step of speed).
    stated : offset and its standard uncertainty that the lab tells [s]; it holds, and edges are held against it.
    within : greatest offset looked for [s].

    Returns
    -------
    Alignment. A pattern of edges that fits at two different offsets aligns nothing: `why` says so.

    Limits
    ------
    The clocks run at the same rate. A channel that follows slowly tells an edge within some seconds; its u says so.
    """
    seen = _by_edges(reference.edges(), other.edges(), within)
    if stated is not None:
        offset, u = stated
        near = None if isinstance(seen, str) else seen
        return Alignment(
            offset,
            u,
            How.STATED,
            near[2] if near else 0,
            found=near[0] if near else None,
            u_found=near[1] if near else None,
        )
    return _aligned(seen)


def align_edges(reference: Sequence[Edge], other: Sequence[Edge], within: float = WITHIN) -> Alignment:
    """As `align`, by sudden changes that were found already.

    Parameters
    ----------
    reference, other : the changes that each of two loggers saw.
    within : greatest offset looked for [s].

    Returns
    -------
    Alignment. A pattern of edges that fits at two different offsets aligns nothing: `why` says so.

    Limits
    ------
    The clocks run at the same rate.
    """
    return _aligned(_by_edges(reference, other, within))


def _aligned(seen: tuple[float, float, int] | str) -> Alignment:
    if isinstance(seen, str):
        return Alignment(0.0, math.inf, How.NOT_ALIGNED, why=seen)
    return Alignment(seen[0], seen[1], How.SHARED_EDGE, seen[2])


def _by_edges(ours: Sequence[Edge], theirs: Sequence[Edge], within: float) -> tuple[float, float, int] | str:
    """Offset, u and number of pairs; or why there is none."""
    if not ours or not theirs:
        return "no sudden change that the two loggers could both have seen"
    tries = [(one.time - two.time, one, two) for one in ours for two in theirs if _alike(one, two)]
    tries = [each for each in tries if abs(each[0]) <= within]
    if not tries:
        return "the changes that one logger saw are none that the other saw"
    matched = [(offset, _pairs(ours, theirs, offset)) for offset, _, _ in tries]
    most = max(len(pairs) for _, pairs in matched)
    best = [_mean(pairs) for _, pairs in matched if len(pairs) == most]
    offset, u = min(best, key=lambda each: (each[1], abs(each[0])))
    if any(abs(each[0] - offset) > TOLERANCE * math.hypot(u, each[1]) + SLACK for each in best):
        return f"{most} shared change{'s' if most > 1 else ''} that fit at more than one offset"
    return offset, u, most


def _alike(one: Edge, two: Edge) -> bool:
    """Both up or both down."""
    return (one.size > 0.0) == (two.size > 0.0)


def _pairs(ours: Sequence[Edge], theirs: Sequence[Edge], offset: float) -> list[tuple[Edge, Edge]]:
    """Which edges fall together at an offset: to each of theirs the nearest of ours."""
    times = np.array([each.time for each in ours])
    found = []
    for two in theirs:
        one = ours[int(np.argmin(np.abs(times - two.time - offset)))]
        apart = abs(one.time - two.time - offset)
        if _alike(one, two) and apart <= TOLERANCE * math.hypot(one.u, two.u) + SLACK:
            found.append((one, two))
    return found


def _mean(pairs: Sequence[tuple[Edge, Edge]]) -> tuple[float, float]:
    """Weighted mean of the offsets of pairs, and its u: that of their scatter if that is more [s].

    Settings that last a round number of readings meet the readings in the same way each time, so the errors of several
    edges are taken as one and the same: more edges don't make u smaller.
    """
    offsets = np.array([one.time - two.time for one, two in pairs])
    u = np.array([max(math.hypot(one.u, two.u), 1e-3) for one, two in pairs])
    weights = u**-2.0
    mean = float(np.average(offsets, weights=weights))
    freedom = max(1, len(pairs) - 1)
    scatter = math.sqrt(max(1.0, float(np.sum(weights * (offsets - mean) ** 2)) / freedom))
    return mean, scatter * float(np.average(u, weights=weights))
