"""Where a fan has several operating points on one load, or its sweeps up and down differ: a band of a table's openings.

Inside the band a range stands for one value. Near its lower edge the point of greatest flow vanishes and the value
jumps; a table is not to be read across that jump.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.intervals import coverage_interval
from stillroom.core.operating import NOT_UNIQUE
from stillroom.measures.crossing import FELT
from stillroom.publish.estimate.loads import OPENINGS, SHARES, loads_at, shares
from stillroom.publish.estimate.mounting_flows import MountingFlows

KNOTS = 5
"""At how many places across the band its ranges are kept."""

FINE = 4
"""Openings that are looked at between two knots of the table."""

JUMPS = 0.04
"""A flow that changes by more than this from one of them to the next jumps [1]."""


@dataclass(frozen=True)
class Several:
    """The band of openings in which one value would be a lie.

    Parameters
    ----------
    edges : its least and greatest opening at the least and the greatest speed, (2, SHARES, 2).
    jump : opening at which the value jumps, the same but for the last axis; 0 where it doesn't, (2, SHARES).
    sides : how many knots of the table lie before the jump; 0 where there is none, (SHARES,).
    low, high : ends of the range as shares of the value. deep, rise : 2.5 % of the trials of the low end lie below, and
        of those of the high end above these shares; across the band, (SHARES, KNOTS) [1].
    """

    edges: Array
    jump: Array
    sides: Array
    low: Array
    high: Array
    deep: Array
    rise: Array


def several_of(parts: Sequence[MountingFlows], speed: float, speeds: tuple[float, float]) -> Several | None:
    """The band of a fan; None where there is none.

    Parameters
    ----------
    parts : its mountings. speed : at which ranges hold, speeds : at which edges do [1/s].
    """
    where = _region(parts)
    if where is None:
        return None
    u, f = (each.ravel() for each in np.meshgrid(where, shares(), indexing="ij"))
    loads = loads_at(u, f)
    looked = {at: _Looked.of(parts, at, loads, len(where)) for at in (speeds[0], speed, speeds[1])}
    edges = np.stack([_edges(looked[at], where) for at in speeds])
    jump = np.stack([_jump(looked[at].value, where) for at in speeds])
    middle = looked[speed]
    own = _edges(middle, where)
    step = (where[1] - where[0]) / 2.0  # the ranges are those of openings inside
    inner = np.sort(own + np.array([step, -step]), axis=1)
    across = [np.linspace(float(inner[f, 0]), float(inner[f, 1]), KNOTS) for f in range(SHARES)]
    told = [
        np.stack([np.interp(across[f], where, each[:, f] / middle.value[:, f]) for f in range(SHARES)])
        for each in (middle.low, middle.high, middle.deep, middle.rise)
    ]
    before = _jump(middle.value, where)
    sides = np.where(before > 0.0, np.ceil(before * (OPENINGS - 1)), 0.0)
    return Several(edges, jump, sides, *told)


def _region(parts: Sequence[MountingFlows]) -> Array | None:
    """The openings that are looked at: about all cells in which some trials have several points."""
    felt = np.any([each.felt for each in parts], axis=0)
    some = felt | np.any([each.several > 0.0 for each in parts], axis=0)
    if not felt.any() and not np.any([each.several > NOT_UNIQUE for each in parts]):
        return None
    at = np.flatnonzero(some.reshape(-1, SHARES).any(axis=1)) + 1  # the first opening has no cells
    first, last = max(int(at[0]) - 1, 1), min(int(at[-1]) + 1, OPENINGS - 1)
    return np.arange(FINE * first, FINE * last + 1, dtype=np.float64) / (FINE * (OPENINGS - 1))


@dataclass(frozen=True)
class _Looked:
    """What all mountings together have at one speed on each load, (openings, SHARES) each."""

    value: Array
    low: Array
    high: Array
    deep: Array
    rise: Array
    inside: NDArray[np.bool_]

    @classmethod
    def of(
        cls, parts: Sequence[MountingFlows], speed: float, loads: tuple[Array, Array], count: int
    ) -> _Looked:
        """Means over the mountings, the trials by trials."""
        ends = [(each.weight, each.ends(speed, loads)) for each in parts]
        value, low, high = (
            sum(weight * getattr(end, name) for weight, end in ends) for name in ("value", "low", "high")
        )
        lows, highs = (sum(weight * getattr(end, name) for weight, end in ends) for name in ("lows", "highs"))
        inside = np.any(
            [(end.several > NOT_UNIQUE) | (end.high - end.low > FELT * end.value) for _, end in ends], axis=0
        )
        deep, rise = coverage_interval(lows, axis=1)[0], coverage_interval(highs, axis=1)[1]
        shape = (count, SHARES)
        return cls(*(np.reshape(each, shape) for each in (value, low, high, deep, rise, inside)))


def _edges(looked: _Looked, where: Array) -> Array:
    """Least and greatest opening inside, halfway to the next one outside; where none is, the place likeliest to be."""
    step = (where[1] - where[0]) / 2.0
    found = np.empty((SHARES, 2))
    for share in range(SHARES):
        at = np.flatnonzero(looked.inside[:, share])
        if len(at):
            found[share] = where[at[0]] - step, where[at[-1]] + step
        else:
            found[share] = where[int(np.argmin(looked.deep[:, share] / looked.value[:, share]))]
    return found


def _jump(value: Array, where: Array) -> Array:
    """Where a value jumps most, (SHARES,); 0 where it doesn't."""
    change = np.diff(np.log(value), axis=0)
    place = np.argmax(change, axis=0)
    size = change[place, np.arange(SHARES)]
    return np.where(size > JUMPS, (where[place] + where[place + 1]) / 2.0, 0.0)
