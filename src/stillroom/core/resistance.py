"""How much an obstacle resists the air: Δp = aQ + bQ² or Δp = cQⁿ, with the covariance of its parameters."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.characteristic.curve import Part, align
from stillroom.core.draws import SEED, normal_block, normal_draws
from stillroom.errors import BadInput, Contradiction, NotPossible

LEAST_POINTS = 4
TURNS = 40


class Law(Enum):
    """The form of a resistance."""

    LINEAR_QUADRATIC = "aQ + bQ²"
    POWER = "cQⁿ"


@dataclass(frozen=True)
class Resistance:
    """The resistance of one obstacle.

    Parameters
    ----------
    identity : of the obstacle and its version.
    law : its form. central : (a [Pa/(m³/s)], b [Pa/(m³/s)²]) or (c [Pa/(m³/s)ⁿ], n [1]).
    sources, effects : shared sources and what +1 standard deviation of each does to the parameters, (k, 2).
    noise : trials of the obstacle's own part of the errors, (M, 2).
    covariance : of the parameters, all errors together, (2, 2).
    reach : least and greatest flow read [m³/s].
    scatter : root mean square of the residuals over their known standard deviations [1]; well above 1 says
        that the errors given are too small or the form is wrong.
    residuals : Δp read less Δp of the curve [Pa], (n,).
    seed : of the draws.
    """

    identity: str
    law: Law
    central: Array
    sources: tuple[str, ...]
    effects: Array
    noise: Array
    covariance: Array
    reach: tuple[float, float]
    scatter: float
    residuals: Array
    seed: int

    @property
    def trials(self) -> int:
        """Number of trials M."""
        return len(self.noise)

    def rows(self, part: Part = Part.TOTAL, sources: tuple[str, ...] | None = None) -> Array:
        """Parameters as a row stack (1 + k + M, 2); as `Characteristic.rows`, held to a, b, c, n ≥ 0.

        A power law is moved in ln c and n: its drop is then as likely above as below, at any flow.
        """
        if part is Part.CENTRAL:
            return self.central[None, :]
        moved = self.central + align(self.effects, self.sources, sources)
        trials = np.broadcast_to(self.central, self.noise.shape).copy()
        for source, effect in zip(self.sources, self.effects, strict=True):
            trials += np.multiply.outer(normal_draws(source, self.trials, self.seed), effect)
        if part is Part.TOTAL:
            trials += self.noise
        rows = np.concatenate([self.central[None, :], moved, trials])
        if self.law is Law.LINEAR_QUADRATIC:
            return _not_negative(rows, self.covariance)
        c = self.central[0]
        return np.column_stack([c * np.exp(rows[:, 0] / c - 1.0), np.maximum(rows[:, 1], 0.0)])


def _not_negative(rows: Array, covariance: Array) -> Array:
    """Bring each row to a, b ≥ 0: the other parameter gives way along its regression on the one held at 0."""
    held = rows.copy()
    for one, other in ((0, 1), (1, 0)):
        below = rows[:, one] < 0.0
        if below.any():
            slope = covariance[one, other] / covariance[one, one]
            held[below, other] = rows[below, other] - slope * rows[below, one]
            held[below, one] = 0.0
    return np.maximum(held, 0.0)


def pressure_drop(law: Law, parameters: Array, flow: Array) -> Array:
    """Pressure drop [Pa] of each row of parameters (rows, 2) at flow ≥ 0 [m³/s] (g,): (rows, g)."""
    first, second = parameters[:, :1], parameters[:, 1:]
    if law is Law.LINEAR_QUADRATIC:
        return np.asarray(first * flow + second * flow**2)
    return np.asarray(first * np.maximum(flow, 0.0) ** second)


def pressure_drops(
    resistance: Resistance,
    flow: Array,
    *,
    density_ratio: float = 1.0,
    viscosity_ratio: float = 1.0,
    part: Part = Part.TOTAL,
    sources: tuple[str, ...] | None = None,
) -> Array:
    """Pressure drop [Pa] of an obstacle as a row stack (1 + k + M, g).

    Parameters
    ----------
    resistance : the obstacle's.
    flow : airflow [m³/s], (g,).
    density_ratio, viscosity_ratio : ρ/ρ₀ and μ/μ₀ against the conditions of the fit.
    part, sources : as in `Characteristic.rows`.
    """
    rows = scaled(resistance.law, resistance.rows(part, sources), density_ratio, viscosity_ratio)
    return pressure_drop(resistance.law, rows, flow)


def scaled(law: Law, parameters: Array, density_ratio: float, viscosity_ratio: float) -> Array:
    """Parameters at another density and viscosity: a ∝ μ, b ∝ ρ; c ∝ ρⁿ⁻¹ μ²⁻ⁿ (the one power law of Q, ρ, μ
    and lengths that is right in both limits, by dimensional analysis).
    """
    if law is Law.LINEAR_QUADRATIC:
        return np.asarray(parameters * np.array([viscosity_ratio, density_ratio]))
    exponent = parameters[:, 1]
    factor = density_ratio ** (exponent - 1.0) * viscosity_ratio ** (2.0 - exponent)
    return np.column_stack([parameters[:, 0] * factor, exponent])


def in_parallel(flow: Array, drops: tuple[Array, ...]) -> Array:
    """Pressure drop of obstacles side by side at a total flow: flows add at equal pressure drop.

    Parameters
    ----------
    flow : total flow [m³/s] (g,), rising from 0; each obstacle's drop is given on the same flows.
    drops : pressure drop [Pa] of each obstacle alone at `flow`, rising, each (rows, g).

    Returns
    -------
    Array (rows, g): the common drop at which the single flows sum to `flow`.

    Raises
    ------
    Contradiction : a drop doesn't rise with flow.
    """
    rows = max(len(each) for each in drops)
    common = np.empty((rows, len(flow)))
    for row in range(rows):
        curves = [each[min(row, len(each) - 1)] for each in drops]
        if any(np.any(np.diff(curve) <= 0.0) for curve in curves):
            raise Contradiction("pressure drop", found="one that falls with flow", expected="a rising one")
        levels = np.unique(np.concatenate(curves))
        total = np.sum([np.interp(levels, curve, flow) for curve in curves], axis=0)
        common[row] = np.interp(flow, total, levels)
    return common


def fit_resistance(
    flow: Array,
    pressure: Array,
    *,
    shared_flow: Array,
    shared_pressure: Array,
    own_flow: Array,
    own_pressure: Array,
    sources: tuple[str, ...],
    identity: str,
    trials: int = 2000,
    seed: int = SEED,
    law: Law | None = None,
) -> Resistance:
    """Fit the resistance of an obstacle.

    Parameters
    ----------
    flow, pressure : readings [m³/s], [Pa], (n,).
    shared_flow, shared_pressure : effect of +1 standard deviation of each shared source, (k, n).
    own_flow, own_pressure : standard deviations of each reading's own errors, (n,).
    sources, identity : of the shared sources and of the obstacle with its version.
    trials, seed : number M of trials, and seed of the draws.
    law : the form; the one of least AICc where None.

    Returns
    -------
    The resistance; where the residuals exceed the known errors its own part is widened by their ratio.

    Raises
    ------
    BadInput : shapes don't fit, or a value isn't finite.
    NotPossible : fewer than four readings of positive flow, or no positive drop.

    Source: AICc by Hurvich & Tsai, Biometrika 76 (1989), 297-307.
    """
    used = _usable(flow, pressure, identity)
    data = _Data(
        flow[used],
        pressure[used],
        shared_flow[:, used],
        shared_pressure[:, used],
        own_flow[used],
        own_pressure[used],
    )
    laws = tuple(Law) if law is None else (law,)
    fits = [_fit(each, data) for each in laws]
    best = min(fits, key=lambda each: each.criterion)
    inflation = max(1.0, best.scatter)
    raw = normal_block(f"{identity}/readings", len(flow), trials, seed)[used]
    noise = (best.linear @ (raw * np.sqrt(best.own_variance)[:, None]) * inflation).T
    effects = (best.linear @ best.shared.T).T
    own = (best.linear * best.own_variance) @ best.linear.T * inflation**2
    return Resistance(
        identity=identity,
        law=best.law,
        central=best.central,
        sources=sources,
        effects=effects,
        noise=noise,
        covariance=own + effects.T @ effects,
        reach=(float(data.flow.min()), float(data.flow.max())),
        scatter=best.scatter,
        residuals=pressure - pressure_drop(best.law, best.central[None, :], flow)[0],
        seed=seed,
    )


@dataclass(frozen=True)
class _Data:
    flow: Array
    pressure: Array
    shared_flow: Array
    shared_pressure: Array
    own_flow: Array
    own_pressure: Array


@dataclass(frozen=True)
class _Fit:
    law: Law
    central: Array
    linear: Array  # (2, n): d parameters / d readings
    shared: Array  # (k, n) on pressure
    own_variance: Array
    scatter: float
    criterion: float


def _usable(flow: Array, pressure: Array, identity: str) -> NDArray[np.bool_]:
    thing = f"resistance of {identity}"
    if flow.shape != pressure.shape or flow.ndim != 1:
        raise BadInput(thing, found=f"shapes {flow.shape}, {pressure.shape}", expected="two equal rows")
    if not (np.all(np.isfinite(flow)) and np.all(np.isfinite(pressure))):
        raise BadInput(thing, found="not a number", expected="finite readings")
    used = np.asarray(flow > 0.0)
    if used.sum() < LEAST_POINTS or not np.any(pressure[used] > 0.0):
        raise NotPossible(
            thing,
            found=f"{int(used.sum())} readings with flow",
            expected=f"at least {LEAST_POINTS}, with positive drops",
        )
    return used


def _fit(law: Law, data: _Data) -> _Fit:
    """Generalised least squares with errors in both axes; Gauss-Newton on the effective variance."""
    parameters = _start(law, data)
    free = np.ones(2, dtype=bool)
    for _ in range(TURNS):
        jacobian, slope, curve = _derivatives(law, parameters, data.flow)
        shared = data.shared_pressure - slope * data.shared_flow
        own = data.own_pressure**2 + (slope * data.own_flow) ** 2
        own = np.maximum(own, 1e-12 * float(np.max(data.pressure**2)))
        weight = np.linalg.inv(shared.T @ shared + np.diag(own))
        linear = np.zeros((2, len(curve)))
        design = jacobian[:, free]
        linear[free] = np.linalg.solve(design.T @ weight @ design, design.T @ weight)
        step = linear @ (data.pressure - curve)
        following = parameters + step
        if law is Law.LINEAR_QUADRATIC and np.any(following[free] < 0.0):
            free = free & (following > 0.0)
            parameters = np.where(free, np.maximum(following, 0.0), 0.0)
            continue
        if law is Law.POWER:
            following = np.maximum(following, parameters / 3.0)
        parameters = following
        if np.all(np.abs(step) <= 1e-12 * np.abs(parameters)):
            break
    residual = data.pressure - pressure_drop(law, parameters[None, :], data.flow)[0]
    square = float(residual @ weight @ residual)
    points, count = len(residual), int(free.sum())
    scatter = float(np.sqrt(square / (points - count)))
    criterion = _aicc(square, points, count) - float(np.linalg.slogdet(weight)[1])
    return _Fit(law, parameters, linear, shared, own, scatter, criterion)


def _aicc(square: float, points: int, parameters: int) -> float:
    """n ln(χ²/n) + 2K + 2K(K + 1)/(n − K − 1), with the scatter as one more parameter."""
    k = parameters + 1
    correction = 2.0 * k * (k + 1) / (points - k - 1) if points > k + 1 else np.inf
    return float(points * np.log(max(square, 1e-300) / points) + 2.0 * k + correction)


def _start(law: Law, data: _Data) -> Array:
    if law is Law.LINEAR_QUADRATIC:
        design = np.column_stack([data.flow, data.flow**2])
        size = np.maximum(np.abs(data.pressure), 0.05 * np.abs(data.pressure).max())
        solution = np.linalg.lstsq(design / size[:, None], data.pressure / size, rcond=None)[0]
        return np.asarray(np.maximum(solution, 0.0))
    positive = data.pressure > 0.0
    exponent, logarithm = np.polyfit(np.log(data.flow[positive]), np.log(data.pressure[positive]), 1)
    return np.array([np.exp(logarithm), exponent])


def _derivatives(law: Law, parameters: Array, flow: Array) -> tuple[Array, Array, Array]:
    """Derivatives by the parameters (n, 2) and by flow (n,), and the curve (n,)."""
    first, second = float(parameters[0]), float(parameters[1])
    if law is Law.LINEAR_QUADRATIC:
        jacobian = np.column_stack([flow, flow**2])
        return jacobian, np.asarray(first + 2.0 * second * flow), np.asarray(jacobian @ parameters)
    curve = first * flow**second
    return np.column_stack([curve / first, curve * np.log(flow)]), np.asarray(second * curve / flow), curve
