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
from stillroom.core.characteristic.basis import Basis, differences
from stillroom.core.characteristic.curve import reynolds_lack
from stillroom.core.characteristic.readings import Readings
from stillroom.core.characteristic.smooth import (
    Solved,
    System,
    best_smoothness,
    inverse,
    normal_equations,
)

SEGMENTS = 56
BEYOND = 0.12  # how far the spline reaches beyond the greatest φ, relative to it
REYNOLDS_MEAN = 0.02  # prior mean and standard deviation of c_p and c_q: practice
REYNOLDS_SD = 0.03
ROUNDS = 5
SAME_SETTING = 6.0  # points within this many standard deviations of φ share a setting
LEAST_SPREAD = 1e-4  # of φ, relative to the greatest φ: shut-off is read without any
FLOOR = 0.1  # relative errors are taken relative to at least this share of the greatest ψ
USUAL_SCATTER = 0.003
SCATTER_WEIGHT = 10.0  # the usual scatter counts as this many points
GREATEST_RESIDUAL = 2.5  # standard deviations that one point may add to the scatter
SCATTER_WIDTH = 0.06  # width of the neighbourhood in which scatter is estimated, relative to the reach
CURVATURE_FLOOR = 0.1
LEAST_THIRD = 2.0  # third derivative that any fan may have, of ψ/ψ_max by φ/φ_max: a parabola has none
CURVATURE_POWER = 1.1
CURVATURE_WIDTH = 2.8  # segments


@dataclass(frozen=True)
class Settled:
    """One mounting's linear map before a smoothness is chosen.

    Parameters
    ----------
    basis : of f. used : indices of the points in the fit (n,). ratio : r = ln(Re_ref/Re) of them.
    slope : ∂ψ/∂φ at each (n,). level : ψ of the curve at each (n,).
    scatter : extra scatter relative to ψ (n,). solved : normal equations.
    smoothness : λ of greatest likelihood. reference : Re_ref.
    """

    basis: Basis
    used: NDArray[np.intp]
    ratio: Array
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
    ratio = reynolds_lack(readings.reynolds[used], reference)
    top = float(flow.max())
    basis = Basis(min(0.0, float(flow.min())), top * (1.0 + BEYOND), SEGMENTS)
    spread = _spread_of_flow(readings, used)
    loss_pressure, loss_flow = REYNOLDS_MEAN, REYNOLDS_MEAN
    scatter = np.full(len(used), USUAL_SCATTER)
    roughness = differences(basis.size)
    coefficients: Array | None = None
    for _ in range(ROUNDS):
        stretched = flow * np.exp(loss_flow * ratio)
        place, centres = same_settings(stretched, spread)
        factor = np.exp(-loss_pressure * ratio)
        chord, level = _chords(basis, coefficients, place, centres, pressure / factor)
        moved = pressure - factor * chord * (stretched - place)
        slope = factor * chord * np.exp(loss_flow * ratio)
        by_pressure, by_flow = -ratio * factor * level, factor * chord * ratio * stretched
        design = np.column_stack([factor[:, None] * basis.values(place), by_pressure, by_flow])
        response = moved + by_pressure * loss_pressure + by_flow * loss_flow
        response -= (by_pressure + by_flow) * REYNOLDS_MEAN  # the parameters are departures from their prior
        floor = np.maximum(np.abs(factor * level), FLOOR * np.abs(pressure).max())
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
        coefficients = theta[:-2]
        loss_pressure, loss_flow = (REYNOLDS_MEAN + float(each) for each in theta[-2:])
        scatter = _extra_scatter(solved, inverted, theta, scatter, floor, place / top)
        roughness = _weighted_roughness(coefficients, basis, top)
    return Settled(basis, used, ratio, slope, factor * level, scatter, solved, smoothness, reference)


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
    x : abscissas (n,).
    spread : their standard deviations (n,).

    Returns
    -------
    (place, centres): the common abscissa of each point (n,), and the distinct ones, rising.
    """
    order = np.argsort(x, kind="stable")
    spread = np.maximum(spread, LEAST_SPREAD * np.abs(x).max())
    ends = [*range(len(x) + 1)]  # group i holds order[ends[i]:ends[i + 1]]
    weight = 1.0 / spread[order] ** 2
    moment, weights = (np.concatenate([[0.0], np.cumsum(each)]) for each in (weight * x[order], weight))
    variances = np.concatenate([[0.0], np.cumsum(spread[order] ** 2)])
    while len(ends) > 2:
        cut = np.array(ends)
        centres = np.diff(moment[cut]) / np.diff(weights[cut])
        width = x[order[cut[2:] - 1]] - x[order[cut[:-2]]]
        typical = np.sqrt((variances[cut[2:]] - variances[cut[:-2]]) / (cut[2:] - cut[:-2]))
        apart = np.where(width <= SAME_SETTING * typical, np.diff(centres), np.inf)
        nearest = int(np.argmin(apart))
        if not np.isfinite(apart[nearest]):
            break
        del ends[nearest + 1]
    cut = np.array(ends)
    centres = np.diff(moment[cut]) / np.diff(weights[cut])
    place = np.empty_like(x)
    place[order] = np.repeat(centres, np.diff(cut))
    return place, centres


def _chords(
    basis: Basis, coefficients: Array | None, place: Array, centres: Array, level: Array
) -> tuple[Array, Array]:
    """Slope of a chord over half the usual gap at each place, and the level of the curve there.

    Without a curve yet, straight lines through the means at the centres stand in for it.
    """
    gaps = np.diff(centres)
    usual = float(np.median(gaps)) if len(gaps) else basis.step
    half = usual / 2.0 if coefficients is None else max(usual / 4.0, basis.step / 2.0)
    right, left = (np.clip(place + sign * half, centres[0], centres[-1]) for sign in (1.0, -1.0))
    if coefficients is None:
        means = np.array([level[place == each].mean() for each in centres])
        rise = np.interp(right, centres, means) - np.interp(left, centres, means)
        return rise / np.maximum(right - left, 1e-12), np.interp(place, centres, means)
    rise = (basis.values(right) - basis.values(left)) @ coefficients
    return rise / np.maximum(right - left, 1e-12), basis.values(place) @ coefficients


def _extra_scatter(
    solved: Solved, inverted: Array, theta: Array, scatter: Array, floor: Array, place: Array
) -> Array:
    """Scatter beyond the known errors, relative to ψ, estimated nearby and drawn towards the usual one.

    From residuals after the shared part is removed by its best prediction: what stays is diag(v) W r.
    """
    system = solved.system
    residual = system.response - system.design @ theta
    own = system.own_variance * (solved.weight @ residual)
    hat = np.einsum("ij,jk,ki->i", system.design, inverted, solved.weighted)
    freedom = np.clip(1.0 - hat, 0.2, 1.0)
    known = system.own_variance - (scatter * floor) ** 2
    most = GREATEST_RESIDUAL**2 * (known + (scatter * floor) ** 2)  # so that one wrong point isn't scatter
    excess = (np.minimum(own**2 / freedom, most) - known) / floor**2
    near = np.exp(-0.5 * ((place[:, None] - place[None, :]) / SCATTER_WIDTH) ** 2)
    variance = (near @ excess + SCATTER_WEIGHT * USUAL_SCATTER**2) / (near.sum(axis=1) + SCATTER_WEIGHT)
    return np.asarray(np.sqrt(np.maximum(variance, (USUAL_SCATTER / 3.0) ** 2)))


def _weighted_roughness(coefficients: Array, basis: Basis, top: float) -> Array:
    """Differences weighted by the inverse of the smoothed size of those of the last curve.

    Beyond the last reading the curve is only a guess: there the curvature of its last readings stands in.
    """
    plain = differences(len(coefficients))
    size = np.abs(plain @ coefficients)
    reach = np.arange(len(size))
    near = np.exp(-0.5 * ((reach[:, None] - reach[None, :]) / CURVATURE_WIDTH) ** 2)
    near[:, basis.knots[2 : len(size) + 2] > top] = 0.0
    near += 1e-12
    smoothed = near @ size / near.sum(axis=1)
    mean = float(smoothed.mean())
    least = CURVATURE_FLOOR * mean + LEAST_THIRD * (basis.step / top) ** 3 * float(np.abs(coefficients).max())
    weight = ((mean + least) / (smoothed + least)) ** CURVATURE_POWER
    return np.asarray(weight[:, None] * plain)
