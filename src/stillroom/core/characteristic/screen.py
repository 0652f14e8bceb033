"""Hold what the other sweeps contradict, before any variance or smoothness is estimated.

First whole sweeps: each pair of sweeps is compared where they overlap, and the largest set that agrees is the
consensus. Then single points: a local quadratic through the nearest points of the other sweeps, with bisquare
weights (Cleveland, J. Am. Stat. Assoc. 74, 1979, 829–836), predicts each point.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.characteristic.readings import Readings
from stillroom.errors import Contradiction

SWEEPS_AGREE = 0.15  # three quarters of the differences lie below it, relative to the greatest ψ
LEAST_OVERLAP = 3
WHOLE_SWEEP = 0.25  # share of its points held above which a sweep is out as a whole
HELD_BEYOND = 6.0  # robust standard deviations
LEAST_SPREAD = 0.015  # floor of the robust standard deviation, relative to ψ
NEAR_SETTINGS = 3
FLOOR = 0.1


def screen(readings: Readings) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Indices of the points to use, and of those to hold one by one.

    The points of a sweep that contradicts the others as a whole are in neither.

    Raises
    ------
    Contradiction : as `consenting_sweeps`.
    """
    sweep = readings.sweep
    used = np.flatnonzero(np.isin(sweep, consenting_sweeps(readings)))
    held = contradicted_points(readings, used)
    most, own = (np.bincount(sweep[each], minlength=int(sweep.max()) + 1) for each in (used, held))
    out = np.flatnonzero((own >= LEAST_OVERLAP - 1) & (own > WHOLE_SWEEP * most))
    used = used[~np.isin(sweep[used], out)]
    if len(out):  # what a wrong sweep has cast doubt on is looked at again without it
        held = contradicted_points(readings, used)
    return np.setdiff1d(used, held), held


def consenting_sweeps(readings: Readings) -> tuple[int, ...]:
    """The largest set of sweeps that agree with each other, directly or through others.

    Raises
    ------
    Contradiction : no set is larger than all others, so that nothing says which sweeps are right.
    """
    sweeps = readings.sweeps
    groups = _groups(readings, sweeps)
    sizes = sorted((len(group) for group in groups), reverse=True)
    if len(sizes) > 1 and sizes[0] == sizes[1]:
        raise Contradiction(
            f"sweeps of {readings.identity}",
            found=f"{len(groups)} sets of sweeps that contradict each other, none the largest",
            expected="most sweeps on one curve; a unit or the pulses per revolution is probably wrong",
        )
    return tuple(sorted(next(group for group in groups if len(group) == sizes[0])))


def _groups(readings: Readings, sweeps: tuple[int, ...]) -> list[set[int]]:
    groups: list[set[int]] = []
    for sweep in sweeps:
        linked = [group for group in groups if any(_agree(readings, sweep, other) for other in group)]
        merged = {sweep}.union(*linked)
        groups = [group for group in groups if group not in linked] + [merged]
    return groups


def _agree(readings: Readings, one: int, other: int) -> bool:
    """Whether two sweeps lie on one curve where they overlap; sweeps that don't overlap don't contradict."""
    differences = np.concatenate([_relative(readings, one, other), _relative(readings, other, one)])
    if len(differences) < LEAST_OVERLAP:
        return True
    return bool(np.quantile(np.abs(differences), 0.75) < SWEEPS_AGREE)


def _relative(readings: Readings, one: int, other: int) -> Array:
    """Points of `one` less the polygon through the points of `other`, relative to the greatest ψ."""
    flow, pressure = readings.flow_coefficient, readings.pressure_coefficient
    mine, theirs = readings.sweep == one, readings.sweep == other
    order = np.argsort(flow[theirs], kind="stable")
    x, y = flow[theirs][order], pressure[theirs][order]
    inside = mine & (flow >= x[0] - 0.02 * x[-1]) & (flow <= x[-1] * 1.02)
    return np.asarray((pressure[inside] - np.interp(flow[inside], x, y)) / np.abs(y).max())


def contradicted_points(readings: Readings, used: NDArray[np.intp]) -> NDArray[np.intp]:
    """Those of the points `used` that the nearest points of other sweeps contradict.

    Nothing is held where there is one sweep alone: a single reading can't be told from the curve's own shape.
    """
    sweep = readings.sweep[used]
    count = len(np.unique(sweep))
    if count < 3:
        return np.empty(0, dtype=np.intp)
    flow, pressure = readings.flow_coefficient[used], readings.pressure_coefficient[used]
    distance = np.abs(flow[:, None] - flow[None, :])
    distance[sweep[:, None] == sweep[None, :]] = np.inf
    near = min(NEAR_SETTINGS * (count - 1), int(np.isfinite(distance).sum(axis=1).min()))
    chosen = np.argpartition(distance, near - 1, axis=1)[:, :near]
    x = flow[chosen] - flow[:, None]
    reach = np.maximum(np.abs(x).max(axis=1, keepdims=True), 1e-12)
    predicted, slope, spread = _bisquare(x / reach, pressure[chosen])
    size = np.maximum(np.abs(predicted), FLOOR * np.abs(pressure).max())
    known = _known_spread(readings, used, slope / reach[:, 0])
    limit = HELD_BEYOND * np.maximum(np.maximum(spread, LEAST_SPREAD * size), known)
    inside = (x.min(axis=1) <= 0.02 * flow.max()) & (x.max(axis=1) >= -0.02 * flow.max())
    return np.asarray(used[inside & (np.abs(pressure - predicted) > limit)])


def _known_spread(readings: Readings, used: NDArray[np.intp], slope: Array) -> Array:
    """Standard deviation of ψ by its known errors, those of φ carried over by the local slope [1]."""
    shared = readings.shared_pressure[:, used] - slope * readings.shared_flow[:, used]
    own = readings.own_pressure[used] ** 2 + (slope * readings.own_flow[used]) ** 2
    return np.asarray(np.sqrt(own + (shared**2).sum(axis=0)))


def _bisquare(x: Array, y: Array) -> tuple[Array, Array, Array]:
    """Local quadratics at x = 0 through rows of (x, y), |x| ≤ 1: predictions, slopes, robust deviations."""
    design = np.stack([np.ones_like(x), x, x**2], axis=2)
    nearness = (1.0 - np.minimum(np.abs(x), 0.999) ** 3) ** 3
    weight = nearness / (1e-12 + np.abs(y - np.median(y, axis=1, keepdims=True)))
    spread = np.zeros(len(x))
    coefficients = np.zeros((len(x), 3))
    for _ in range(6):
        weighted = design * weight[..., None]
        gram = np.swapaxes(weighted, 1, 2) @ design
        ridge = 1e-9 * np.trace(gram, axis1=1, axis2=2)[:, None, None] * np.eye(3)
        right = (weighted * y[..., None]).sum(axis=1)
        coefficients = np.linalg.solve(gram + ridge, right[..., None])[..., 0]
        residual = y - (design @ coefficients[..., None])[..., 0]
        spread = 1.4826 * np.median(np.abs(residual), axis=1)
        scaled = residual / np.maximum(6.0 * spread[:, None], 1e-9 * np.abs(y).max())
        weight = nearness * np.clip(1.0 - scaled**2, 0.0, None) ** 2 + 1e-9
    return coefficients[:, 0], coefficients[:, 1], spread
