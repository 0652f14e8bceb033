"""Find the fixed linear map of one mounting: where the points lie, their slopes, weights and roughness.

The steps go round a few times, each with the last one's curve: stretch φ by the Reynolds effect, gather
points of the same setting on one abscissa, move them there along a chord, carry errors in φ over to ψ by
that chord's slope, estimate the scatter beyond the known errors, weight the roughness by the local curvature.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.characteristic.basis import Basis, second_differences
from stillroom.core.characteristic.curve import reynolds_ratio
from stillroom.core.characteristic.readings import Readings
from stillroom.core.characteristic.smooth import (
    Solved,
    System,
    best_smoothness,
    inverse,
    normal_equations,
)

SEGMENTS = 40
BEYOND = 0.12  # how far the spline reaches beyond the greatest φ, relative to it
REYNOLDS_EXPONENT = 0.3
REYNOLDS_SD = 0.12  # prior standard deviation of c_p and c_q: an exponent of about 0.04
ROUNDS = 5
SAME_SETTING = 4.0  # points nearer than this many standard deviations of φ share a setting
FLOOR = 0.1  # relative errors are taken relative to at least this share of the greatest ψ
USUAL_SCATTER = 0.003
SCATTER_WEIGHT = 10.0  # the usual scatter counts as this many points
SCATTER_WIDTH = 0.06  # width of the neighbourhood in which scatter is estimated, relative to the reach
CURVATURE_FLOOR = 0.1
CURVATURE_POWER = 1.0
CURVATURE_WIDTH = 2.0  # segments


@dataclass(frozen=True)
class Settled:
    """One mounting's linear map before a smoothness is chosen.

    Parameters
    ----------
    basis : of f. used : indices of the points in the fit (n,). ratio : r of them.
    stretched : φ (1 + c_q r) (n,). slope : ∂ψ/∂φ at each (n,). level : ψ of the curve at each (n,).
    scatter : extra scatter relative to ψ (n,). solved : normal equations.
    smoothness : λ of greatest likelihood. reference : Re_ref.
    """

    basis: Basis
    used: NDArray[np.intp]
    ratio: Array
    stretched: Array
    slope: Array
    level: Array
    scatter: Array
    solved: Solved
    smoothness: float
    reference: float


def settle(readings: Readings, used: NDArray[np.intp]) -> Settled:
    """Find the linear map that fits the points `used` of a mounting."""
    flow, pressure = readings.flow_coefficient[used], readings.pressure_coefficient[used]
    reference = float(np.exp(np.mean(np.log(readings.reynolds[used]))))
    ratio = reynolds_ratio(readings.reynolds[used], reference, REYNOLDS_EXPONENT)
    top = float(flow.max())
    basis = Basis(min(0.0, float(flow.min())), top * (1.0 + BEYOND), SEGMENTS)
    spread = _spread_of_flow(readings, used)
    loss_pressure, loss_flow = 0.0, 0.0
    scatter = np.full(len(used), USUAL_SCATTER)
    roughness = second_differences(basis.size)
    coefficients: Array | None = None
    for _ in range(ROUNDS):
        stretched = flow * (1.0 + loss_flow * ratio)
        place, centres = same_settings(stretched, spread)
        factor = 1.0 - loss_pressure * ratio
        chord, level = _chords(basis, coefficients, place, centres, pressure / factor)
        moved = pressure - factor * chord * (stretched - place)
        slope = factor * chord * (1.0 + loss_flow * ratio)
        by_pressure, by_flow = -ratio * level, factor * chord * ratio * flow
        design = np.column_stack([factor[:, None] * basis.values(place), by_pressure, by_flow])
        response = moved + by_pressure * loss_pressure + by_flow * loss_flow
        floor = np.maximum(np.abs(level), FLOOR * np.abs(pressure).max())
        system = System(
            design=design,
            response=response,
            shared=readings.shared_pressure[:, used] - slope * readings.shared_flow[:, used],
            own_variance=_own_variance(readings, used, slope) + (scatter * floor) ** 2,
            roughness=np.pad(roughness, ((0, 0), (0, 2))),
            prior_precision=np.concatenate([np.zeros(basis.size), np.full(2, REYNOLDS_SD**-2)]),
        )
        solved = normal_equations(system)
        smoothness = best_smoothness(solved)
        inverted = inverse(solved, smoothness)
        theta = inverted @ solved.right
        coefficients, loss_pressure, loss_flow = theta[:-2], float(theta[-2]), float(theta[-1])
        scatter = _extra_scatter(solved, inverted, theta, scatter, floor, place / top)
        roughness = _weighted_roughness(coefficients, basis, top)
    return Settled(basis, used, ratio, stretched, slope, level, scatter, solved, smoothness, reference)


def _own_variance(readings: Readings, used: NDArray[np.intp], slope: Array) -> Array:
    """Variance of ψ from own errors, with those of φ carried over by the slope."""
    variance = (
        readings.own_pressure[used] ** 2
        + (slope * readings.own_flow[used]) ** 2
        - 2.0 * slope * readings.own_covariance[used]
    )
    return np.asarray(np.maximum(variance, 1e-12 * np.abs(readings.pressure_coefficient).max() ** 2))


def _spread_of_flow(readings: Readings, used: NDArray[np.intp]) -> Array:
    """Standard deviation of φ by what differs between sweeps: own errors and unlike shared ones.

    A shared error of flow that all points have in proportion shifts a setting as a whole; only what a source
    does beyond that proportion spreads it.
    """
    flow = readings.flow_coefficient[used]
    shared = readings.shared_flow[:, used]
    common = (shared @ flow) / max(float(flow @ flow), 1e-300)
    unlike = shared - np.outer(common, flow)
    return np.asarray(np.sqrt(readings.own_flow[used] ** 2 + (unlike**2).sum(axis=0)))


def same_settings(x: Array, spread: Array) -> tuple[Array, Array]:
    """Gather abscissas that differ by less than their errors.

    Parameters
    ----------
    x : abscissas (n,). spread : their standard deviations (n,).

    Returns
    -------
    (place, centres): the common abscissa of each point (n,), and the distinct ones, rising.
    """
    order = np.argsort(x, kind="stable")
    place = np.empty_like(x)
    centres = []
    start = 0
    for end in range(1, len(x) + 1):
        group = order[start:end]
        if end < len(x):
            following = order[end]
            width = SAME_SETTING * float(np.sqrt(np.mean(spread[group] ** 2)))
            if x[following] - x[group[0]] <= width:
                continue
        weights = 1.0 / np.maximum(spread[group], 1e-12) ** 2
        centre = float(weights @ x[group] / weights.sum())
        place[group] = centre
        centres.append(centre)
        start = end
    return place, np.array(centres)


def _chords(
    basis: Basis, coefficients: Array | None, place: Array, centres: Array, level: Array
) -> tuple[Array, Array]:
    """Slope of a chord over half the usual gap at each place, and the level of the curve there.

    Without a curve yet, straight lines through the means at the centres stand in for it.
    """
    gaps = np.diff(centres)
    usual = float(np.median(gaps)) if len(gaps) else basis.step
    if coefficients is None:
        means = np.array([level[place == each].mean() for each in centres])
        half = usual / 2.0
        high, low = (np.interp(place + sign * half, centres, means) for sign in (1.0, -1.0))
        edges = np.clip(place + half, centres[0], centres[-1]) - np.clip(
            place - half, centres[0], centres[-1]
        )
        return (high - low) / np.maximum(edges, 1e-12), np.interp(place, centres, means)
    half = max(usual / 4.0, basis.step / 2.0)
    high, low = (basis.values(place + sign * half) @ coefficients for sign in (1.0, -1.0))
    return (high - low) / (2.0 * half), basis.values(place) @ coefficients


def _extra_scatter(
    solved: Solved, inverted: Array, theta: Array, scatter: Array, floor: Array, place: Array
) -> Array:
    """Scatter beyond the known errors, relative to ψ, estimated nearby and drawn towards the usual one.

    From residuals after the shared part is removed by its best prediction ZᵀZ W r.
    """
    system = solved.system
    residual = system.response - system.design @ theta
    shared = system.shared.T @ (system.shared @ (solved.weight @ residual))
    own = residual - shared
    hat = np.einsum("ij,jk,ki->i", system.design, inverted, solved.weighted)
    freedom = np.clip(1.0 - hat, 0.2, 1.0)
    known = system.own_variance - (scatter * floor) ** 2
    excess = (own**2 / freedom - known) / floor**2
    near = np.exp(-0.5 * ((place[:, None] - place[None, :]) / SCATTER_WIDTH) ** 2)
    variance = (near @ excess + SCATTER_WEIGHT * USUAL_SCATTER**2) / (near.sum(axis=1) + SCATTER_WEIGHT)
    return np.asarray(np.sqrt(np.maximum(variance, (USUAL_SCATTER / 3.0) ** 2)))


def _weighted_roughness(coefficients: Array, basis: Basis, top: float) -> Array:
    """Second differences weighted by the inverse of the smoothed size of those of the last curve.

    Beyond the last reading the curve is only a guess: there the curvature of its last readings stands in.
    """
    differences = second_differences(len(coefficients))
    size = np.abs(differences @ coefficients)
    reach = np.arange(len(size))
    near = np.exp(-0.5 * ((reach[:, None] - reach[None, :]) / CURVATURE_WIDTH) ** 2)
    near[:, basis.knots[2 : len(size) + 2] > top] = 0.0
    near += 1e-12
    smoothed = near @ size / near.sum(axis=1)
    mean = float(smoothed.mean())
    if mean == 0.0:
        return differences
    weight = (mean / (smoothed + CURVATURE_FLOOR * mean)) ** CURVATURE_POWER
    return np.asarray(weight[:, None] * differences)
