"""Thermal resistance against airflow, R(Q) = R₀ + c Q^(−m), over all fans of a rig era.

R₀ is what the liquid's side and the metal hold back, c Q^(−m) the air's side. Fans scatter about the law, since they
don't blow evenly: that scatter is estimated, and all points of a fan share it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.errors import NotPossible, OutOfRange

EXPONENT, EXPONENT_SD = 0.85, 0.15
EXPONENT_RANGE = (0.3, 1.2)
"""The exponent m expected before the data: its centre, standard deviation and limits [1]. The film on the fins alone
has 1/3 to 0.8 (common correlations, from memory); that the air warms up on its way goes with 1/Q, and weighs as much in
a radiator of one transfer unit. So computed cross-flow radiators of 0.3 to 2 transfer units, C_air/C_liquid of 0.1 to
0.6 and films of 0.35 to 0.8 have m of 0.58 to 1.07, 0.87 ± 0.13."""

LEAST_SCATTER, EXPECTED_SCATTER, EXPECTED_WEIGHT = 0.003, 0.015, 2.0
"""Scatter of fans about the law [1]: the least, and what is expected before the data, worth so many fans."""

HUBER = 2.0
"""Residuals beyond this many standard deviations count as if they were at it (Huber)."""

LEAST_FLOWS, LEAST_SPAN = 3, 1.3
"""Least number of different airflows, and least ratio of the greatest to the smallest."""

BEYOND = 1.15
"""How far beyond the airflows seen the law still answers [1]."""

SWEEPS = 12


@dataclass(frozen=True)
class Label:
    """Where a pair of airflow and resistance comes from.

    Parameters
    ----------
    fan : the fan. heat : its heat mounting. airflow : its airflow mounting, or the rig era.
    day : ISO date of the heat run. step : number of the step.
    """

    fan: str
    heat: str
    airflow: str
    day: str
    step: int = 0


@dataclass(frozen=True)
class FlowLaw:
    """R(Q) = R₀ + c (Q/Q₀)^(−m).

    Parameters
    ----------
    R0, c, m : parameters [K/W], [K/W], [1]. reference : Q₀ [m³/s].
    covariance : of (R₀, c, m), (3, 3). scatter : of fans about the law, standard deviation relative to R [1].
    flows, resistances : of the points, (n,) [m³/s], [K/W].
    predicted, u_predicted : of each point by all other fans, with the scatter of fans, (n,) [K/W].
    residuals : measured less predicted, (n,) [K/W]. u_own : standard uncertainty of each point by its readings
        and by its airflow, (n,) [K/W]. z : residual over its standard uncertainty, (n,) [1].
    labels : of the points. reach : least and greatest flow of them [m³/s].
    """

    R0: float
    c: float
    m: float
    reference: float
    covariance: Array
    scatter: float
    flows: Array
    resistances: Array
    predicted: Array
    u_predicted: Array
    residuals: Array
    u_own: Array
    z: Array
    labels: tuple[Label, ...]
    reach: tuple[float, float]

    def resistance(self, flow: Array | float) -> tuple[Array, Array]:
        """Resistance predicted at flows, and its standard uncertainty with the scatter of fans.

        Parameters
        ----------
        flow : any shape [m³/s].

        Returns
        -------
        Two arrays of that shape [K/W].

        Raises
        ------
        OutOfRange : a flow more than 15 % beyond those seen.
        """
        q = np.asarray(flow, dtype=np.float64)
        low, high = self.reach[0] / BEYOND, self.reach[1] * BEYOND
        outside = ~((q >= low) & (q <= high))
        if np.any(outside):
            raise OutOfRange(
                "airflow through the radiator",
                found=f"{float(q[outside].flat[0]) * 3600:.1f} m³/h",
                expected=f"{low * 3600:.1f} to {high * 3600:.1f} m³/h",
            )
        theta = np.array([self.R0, self.c, self.m])
        ratio = np.log(q.ravel() / self.reference)
        value = _law(theta, ratio)
        rows = _slopes(theta, ratio)
        variance = np.einsum("ni,ij,nj->n", rows, self.covariance, rows) + (self.scatter * value) ** 2
        return value.reshape(q.shape), np.sqrt(variance).reshape(q.shape)


def fit_flow_law(
    flows: Array, u_flows: Array, resistances: Array, u: Array, labels: Sequence[Label]
) -> FlowLaw:
    """Fit the law to all fans of a rig era, robustly.

    ln R is fitted: each fan's points share a deviation of their own (scatter of fans, and the error of its airflow), so
    that a fan with many settings counts once. Fans and single points far off count less (Huber).

    Parameters
    ----------
    flows, u_flows : airflow and its standard uncertainty, shared by the points of a fan, (n,) [m³/s].
    resistances, u : ΔT/P and its standard uncertainty (n,) [K/W].
    labels : where each comes from.

    Returns
    -------
    FlowLaw with R₀ ≥ 0 and m leaning on 0.85 ± 0.15, within 0.3 to 1.2.

    Raises
    ------
    NotPossible : fewer than three different airflows, or airflows that span less than a factor of 1.3.
    OutOfRange : a flow or resistance that is not above zero.
    """
    q, r = np.asarray(flows, dtype=np.float64), np.asarray(resistances, dtype=np.float64)
    _checked(q, r)
    reference = float(np.exp(np.log(q).mean()))
    data = _Data(
        np.log(q / reference),
        r,
        np.asarray(u, dtype=np.float64) / r,
        np.asarray(u_flows, dtype=np.float64) / q,
        np.unique([each.fan for each in labels], return_inverse=True)[1],
    )
    fit = _iterated(data)
    predicted, u_predicted, u_own, z = _without_own_fan(data, fit)
    size = fit.size
    return FlowLaw(
        R0=float(fit.theta[0]) * size,
        c=float(fit.theta[1]) * size,
        m=float(fit.theta[2]),
        reference=reference,
        covariance=fit.covariance * np.outer([size, size, 1.0], [size, size, 1.0]),
        scatter=fit.scatter,
        flows=q,
        resistances=r,
        predicted=predicted,
        u_predicted=u_predicted,
        residuals=r - predicted,
        u_own=u_own,
        z=z,
        labels=tuple(labels),
        reach=(float(q.min()), float(q.max())),
    )


def _checked(q: Array, r: Array) -> None:
    if not (np.all(q > 0.0) and np.all(r > 0.0)):
        raise OutOfRange("airflow or resistance", found="a value that is not above 0", expected="above 0")
    different = np.unique(np.round(np.log(q) / 0.02)).size if q.size else 0
    if different < LEAST_FLOWS or q.max() / q.min() < LEAST_SPAN:
        raise NotPossible(
            "resistance against airflow",
            found=f"{different} different airflows" + (f", {q.max() / q.min():.2f} : 1" if q.size else ""),
            expected=f"{LEAST_FLOWS} or more that span {LEAST_SPAN} : 1",
        )


@dataclass(frozen=True)
class _Data:
    """ln(Q/Q₀), R [K/W], relative u of R by readings, relative u of Q, and the fan of each point by number, (n,)."""

    flow: Array
    resistance: Array
    own: Array
    u_flow: Array
    fan: NDArray[np.int64]


@dataclass(frozen=True)
class _Fit:
    """θ = (R₀, c)/size and m, its covariance, the scatter, and what points (n,) and fans (f,) count.

    without : the scatter as the other fans show it, for each fan, (f,).
    """

    theta: Array
    covariance: Array
    scatter: float
    size: float
    of_points: Array
    of_fans: Array
    without: Array


def _law(theta: Array, flow: Array) -> Array:
    return np.asarray(theta[0] + theta[1] * np.exp(-theta[2] * flow))


def _slopes(theta: Array, flow: Array) -> Array:
    """Derivatives of R by (R₀, c, m), (n, 3)."""
    power = np.exp(-theta[2] * flow)
    return np.stack([np.ones_like(flow), power, -theta[1] * flow * power], axis=1)


def _by_flow(theta: Array, data: _Data) -> Array:
    """Relative standard uncertainty of R by that of Q, (n,): d ln R/d ln Q times it."""
    air = theta[1] * np.exp(-theta[2] * data.flow)
    return np.asarray(theta[2] * air / (theta[0] + air) * data.u_flow)


def _whiteners(data: _Data, theta: Array, scatter: float, of_points: Array, of_fans: Array) -> list[_Block]:
    """For each fan: numbers of its points, and the Cholesky factor of their covariance in ln R."""
    shared, blocks = _by_flow(theta, data), []
    for fan in range(data.fan.max() + 1):
        at = np.flatnonzero(data.fan == fan)
        common = scatter**2 / of_fans[fan]
        cov = np.diag(data.own[at] ** 2 / of_points[at]) + common + np.outer(shared[at], shared[at])
        blocks.append((at, scipy.linalg.cholesky(cov, lower=True)))
    return blocks


_Block = tuple[NDArray[np.int64], Array]


def _white(blocks: list[_Block], values: Array) -> Array:
    out = np.empty_like(values)
    for at, lower in blocks:
        out[at] = scipy.linalg.solve_triangular(lower, values[at], lower=True)
    return out


def _iterated(data: _Data) -> _Fit:
    """Fit, weigh, and estimate the scatter in turn."""
    size = float(np.median(data.resistance))
    scaled = data.resistance / size
    theta, scatter = np.array([0.4, 0.6, EXPONENT]), EXPECTED_SCATTER
    of_points, of_fans, without = (
        np.ones(n) for n in (data.fan.size, data.fan.max() + 1, data.fan.max() + 1)
    )
    for _ in range(SWEEPS):
        blocks = _whiteners(data, theta, scatter, of_points, of_fans)
        theta = _minimised(theta, data.flow, scaled, blocks)
        of_points, of_fans, scatter, without = _weighed(data, theta, scaled, scatter)
    blocks = _whiteners(data, theta, scatter, of_points, of_fans)
    rows = _white(blocks, _slopes(theta, data.flow) / _law(theta, data.flow)[:, None])
    information = rows.T @ rows
    information[2, 2] += EXPONENT_SD**-2
    return _Fit(
        theta,
        np.asarray(np.linalg.inv(information), dtype=np.float64),
        scatter,
        size,
        of_points,
        of_fans,
        without,
    )


def _minimised(start: Array, flow: Array, scaled: Array, blocks: list[_Block]) -> Array:
    def residuals(theta: Array) -> Array:
        own = _white(blocks, np.log(scaled) - np.log(_law(theta, flow)))
        return np.append(own, (theta[2] - EXPONENT) / EXPONENT_SD)

    def jacobian(theta: Array) -> Array:
        rows = _white(blocks, -_slopes(theta, flow) / _law(theta, flow)[:, None])
        return np.vstack([rows, [0.0, 0.0, 1.0 / EXPONENT_SD]])

    low, high = EXPONENT_RANGE
    found = scipy.optimize.least_squares(
        residuals,
        np.clip(start, [1e-6, 1e-3, low + 1e-6], [np.inf, np.inf, high - 1e-6]),
        jac=jacobian,
        bounds=([0.0, 1e-6, low], [np.inf, np.inf, high]),
        xtol=1e-10,
        ftol=1e-12,
    )
    return np.asarray(found.x)


def _weighed(data: _Data, theta: Array, scaled: Array, scatter: float) -> tuple[Array, Array, float, Array]:
    """What points and fans count, the scatter of fans, and that without each, from the residuals."""
    off = np.log(scaled) - np.log(_law(theta, data.flow))
    shared = _by_flow(theta, data)
    fans = int(data.fan.max()) + 1
    weight = data.own**-2.0
    total = np.bincount(data.fan, weights=weight, minlength=fans)
    # a median, so that one bad run of a fan doesn't move it
    mean = np.array([_weighted_median(off[data.fan == i], weight[data.fan == i]) for i in range(fans)])
    from_flow = np.bincount(data.fan, weights=weight * shared**2, minlength=fans) / total
    noise = from_flow + 1.0 / total
    of_fans = _huber(mean / np.sqrt(scatter**2 + noise))
    of_points = _huber((off - mean[data.fan]) / data.own)
    # robust moment: squares cut at Huber's limit, made up for what a normal distribution loses by it
    cut = np.minimum(np.abs(mean), HUBER * np.sqrt(scatter**2 + noise)) ** 2 / _CUT_VARIANCE
    beyond = cut - noise
    squares = np.append(beyond.sum(), beyond.sum() - beyond)
    scatters = _pooled(squares, np.append(fans, np.full(fans, fans - 1.0)))
    return of_points, of_fans, float(scatters[0]), scatters[1:]


def _pooled(squares: Array, fans: Array) -> Array:
    """Scatter from sums of squares over so many fans, leaning on what is expected before the data."""
    free = np.maximum(1.0, fans - 2.0)
    pooled = (np.maximum(squares, 0.0) + EXPECTED_SCATTER**2 * EXPECTED_WEIGHT) / (free + EXPECTED_WEIGHT)
    return np.asarray(np.maximum(LEAST_SCATTER, np.sqrt(pooled)))


_CUT_VARIANCE = float(
    math.erf(HUBER / math.sqrt(2.0))
    - HUBER * np.sqrt(2.0 / np.pi) * np.exp(-(HUBER**2) / 2.0)
    + HUBER**2 * math.erfc(HUBER / math.sqrt(2.0))
)
"""Mean of min(|x|, HUBER)² of a standard normal x."""


def _huber(z: Array) -> Array:
    return np.asarray(np.minimum(1.0, HUBER / np.maximum(np.abs(z), 1e-12)))


def _weighted_median(values: Array, weights: Array) -> float:
    order = np.argsort(values)
    passed = np.cumsum(weights[order]) - 0.5 * weights[order]
    return float(np.interp(0.5 * weights.sum(), passed, values[order]))


def _without_own_fan(data: _Data, fit: _Fit) -> tuple[Array, Array, Array, Array]:
    """Of each point: R predicted by the other fans, its u with the scatter, u of the point's own, and z."""
    blocks = _whiteners(data, fit.theta, fit.scatter, fit.of_points, fit.of_fans)
    value = _law(fit.theta, data.flow)
    rows = _slopes(fit.theta, data.flow) / value[:, None]
    off = np.log(data.resistance / fit.size) - np.log(value)
    information = np.linalg.inv(fit.covariance)
    shared = _by_flow(fit.theta, data)
    predicted, u_predicted = np.empty_like(off), np.empty_like(off)
    for at, lower in blocks:
        white = scipy.linalg.solve_triangular(lower, rows[at], lower=True)
        left = np.linalg.inv(information - white.T @ white + 1e-9 * np.diag(np.diagonal(information)))
        moved = -left @ (white.T @ scipy.linalg.solve_triangular(lower, off[at], lower=True))
        predicted[at] = value[at] * np.exp(rows[at] @ moved) * fit.size
        by_law = np.einsum("ni,ij,nj->n", rows[at], left, rows[at])
        u_predicted[at] = predicted[at] * np.sqrt(by_law + fit.without[data.fan[at[0]]] ** 2)
    u_own = data.resistance * np.hypot(data.own, shared)
    z = (data.resistance - predicted) / np.hypot(u_predicted, u_own)
    return predicted, u_predicted, u_own, z
