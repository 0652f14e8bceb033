"""A level process conditioned on points: errors in speed, points that neighbours contradict, and bounds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.sound.level_points import LevelPoint
from stillroom.core.sound.level_process import (
    RPM,
    SLOPE,
    Conditioned,
    Data,
    Process,
    Resonances,
    condition,
    data_of,
    sites_of_bounds,
)

Flags = NDArray[np.bool_]

LEAST_U = 0.05
"""Smallest standard uncertainty of a point's own [dB]: keeps the equations solvable."""

NEIGHBOURS = 15.0 * RPM
SAME_SPEED = 3.0 * RPM
CONTRADICTS = 4.0
BY_OTHERS, BY_ITS_OWN = 1.5, 5.0
"""A point is held where two or more others within 15 rpm, on both sides of it or at its speed, put it more than 4
standard deviations off, and none of them lies near it: within 1.5 dB if there are points of other runs among
them, else (all of its own ramp) within 5 dB. A point that stands alone is never judged, nor one that another run
confirms: it may be a resonance."""

HELD_MOST = 0.05
"""Share of the points that may be held [1]."""

NO_USE = 100.0
"""A bound whose reading would be less certain than this says nothing [dB]."""


@dataclass(frozen=True)
class Fit:
    """A process after its points.

    Parameters
    ----------
    after : the process. used : numbers of the points that it was given, in its order. held : those left out.
    """

    after: Conditioned
    used: NDArray[np.int64]
    held: tuple[int, ...]


def fit_process(data: Data, is_bound: Flags, grid: Array, resonances: Resonances) -> Fit:
    """Condition a process on points by rising speed.

    Parameters
    ----------
    data : n points.
    is_bound : which of them are upper bounds, (n,).
    grid : speeds at which the slope is taken, (g,) [1/s].
    resonances : their amplitude and length.
    """
    values = np.flatnonzero(~is_bound)
    process = prior_of(data.part(values) if values.size else data, resonances)
    after, held = _conditioned(process, data.part(values), grid)
    used = np.delete(values, held)
    bounds = np.flatnonzero(is_bound)
    if bounds.size:
        after, told = _with_bounds(after, data.part(bounds))
        used = np.concatenate([used, bounds[told]])
    return Fit(after, used, tuple(int(values[i]) for i in held))


def prior_of(data: Data, resonances: Resonances) -> Process:
    """The prior about the middle of some points."""
    centre = float(np.exp(np.log(data.speed).mean()))
    level = float(np.median(data.level - SLOPE * np.log10(data.speed / centre)))
    return Process(centre, level, resonances)


def _conditioned(process: Process, data: Data, grid: Array) -> tuple[Conditioned, list[int]]:
    """Condition on values: twice, as a speed's error counts by the curve's slope, then without those held."""
    slope = SLOPE / np.log(10.0) / data.speed
    after = condition(process, data, _own(data, slope))
    if data.speed.size == 0:
        return after, []
    if np.any(data.u_speed > 0.0):
        local = np.abs(np.interp(data.speed, grid, np.gradient(after.mean(grid), grid)))
        after = condition(process, data, _own(data, np.maximum(slope, local)))
        slope = np.maximum(slope, local)
    smallest = _smallest_contradiction(data)
    kept = np.arange(data.speed.size)
    most = max(1, int(HELD_MOST * data.speed.size))
    while data.speed.size - kept.size < most:
        off, sd = after.leaving_out()
        excess = np.abs(off) / np.maximum(CONTRADICTS * sd, smallest[kept])
        worst = int(np.argmax(excess))
        if not excess[worst] > 1.0:
            break
        kept = np.delete(kept, worst)
        after = condition(process, data.part(kept), _own(data.part(kept), slope[kept]))
    return after, [int(i) for i in np.setdiff1d(np.arange(data.speed.size), kept)]


def _own(data: Data, slope: Array) -> Array:
    """Standard uncertainty of each level, that of its speed included, (n,) [dB]."""
    return np.asarray(np.hypot(np.maximum(data.u, LEAST_U), slope * data.u_speed))


def _smallest_contradiction(data: Data) -> Array:
    """By how much each point must be off to be held, (n,) [dB]; without end where nothing contradicts it."""
    distance = data.speed[None, :] - data.speed[:, None]
    near = (np.abs(distance) <= NEIGHBOURS) & ~np.eye(data.speed.size, dtype=np.bool_)
    below = (near & (distance <= SAME_SPEED)).any(axis=1)
    above = (near & (distance >= -SAME_SPEED)).any(axis=1)
    judged = below & above & (near.sum(axis=1) >= 2)
    others = near & ((data.ramp[:, None] != data.ramp[None, :]) | (data.ramp[:, None] < 0))
    by_others = others.any(axis=1)
    smallest = np.where(by_others, BY_OTHERS, BY_ITS_OWN)
    witnesses = np.where(by_others[:, None], others, near)
    apart = np.abs(data.level[None, :] - data.level[:, None])
    confirmed = (witnesses & (apart <= smallest[:, None])).any(axis=1)
    return np.where(judged & ~confirmed, smallest, np.inf)


def _with_bounds(after: Conditioned, bounds: Data) -> tuple[Conditioned, NDArray[np.int64]]:
    """Tell the bounds too; which of them said anything, by number."""
    mean, covariance = after.read(bounds)
    level, u = sites_of_bounds(mean, covariance, bounds.level, np.maximum(bounds.u, LEAST_U))
    told = np.flatnonzero(u < NO_USE)
    if told.size == 0:
        return after, told
    return after.told(bounds.part(told), level[told], u[told]), told


AMPLITUDES = np.geomspace(0.4, 4.0, 7)
LENGTHS = np.geomspace(25.0, 250.0, 7) * RPM
PRIOR_SPREAD = 0.5
"""How far a lab's amplitude and length may lie from 1 dB and 80 rpm: standard deviation of the logarithm [1]."""

POINTS_OF_A_RAMP = 100


def pooled_resonances(ramps: Sequence[Sequence[LevelPoint]]) -> Resonances:
    """Amplitude and length of resonances from the ramps of a lab, leaning on 1 dB and 80 rpm.

    Parameters
    ----------
    ramps : points of each mounting's ramps; bounds among them are left out, and long ones thinned.

    Returns
    -------
    The pair of greatest posterior density on a grid of 7 × 7, with log-normal priors; the prior's own where
    there is no ramp.
    """
    prior = Resonances()
    found = [data_of(thin) for thin in (_thinned(each) for each in ramps) if len(thin) >= 10]
    if not found:
        return prior
    best, at = -np.inf, prior
    for amplitude in AMPLITUDES:
        for length in LENGTHS:
            off = np.log([amplitude / prior.amplitude, length / prior.length]) / PRIOR_SPREAD
            hyper = Resonances(float(amplitude), float(length))
            density = -0.5 * float(off @ off) + sum(_likelihood(data, hyper) for data in found)
            if density > best:
                best, at = density, hyper
    return at


def _thinned(points: Sequence[LevelPoint]) -> list[LevelPoint]:
    values = sorted((each for each in points if not each.is_bound), key=lambda each: (each.speed, each.run))
    return values[:: max(1, -(-len(values) // POINTS_OF_A_RAMP))]


def _likelihood(data: Data, hyper: Resonances) -> float:
    slope = SLOPE / np.log(10.0) / data.speed
    return condition(prior_of(data, hyper), data, _own(data, slope)).log_likelihood()
