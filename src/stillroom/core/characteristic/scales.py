"""The factors on flow and pressure that bring one curve onto other points."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from stillroom.core.arrays import Array

WIDEST = 12.0  # factors are looked for between 1/12 and 12: units and pulses lie within
STEPS = 199
TURNS = 20


def match_scales(
    curve: Callable[[Array], Array],
    flow: Array,
    pressure: Array,
    spread: Array,
    shared_flow: Array | None = None,
    shared_pressure: Array | None = None,
) -> tuple[Array, Array]:
    """Least-squares factors (a, c) with ψ = c·curve(φ/a).

    Parameters
    ----------
    curve : ψ over φ.
    flow, pressure : the points (n,).
    spread : standard deviation of each ψ (n,), which weights it.
    shared_flow, shared_pressure : effects of shared sources on φ and ψ (k, n), where they count.

    Returns
    -------
    (factors (a, c), their covariance (2, 2)); the covariance is widened by the misfit where that exceeds the
    spread, and holds the shared sources.
    """
    factors = _search(curve, flow, pressure, spread)
    for _ in range(TURNS):
        jacobian, residual = _linear(curve, flow, pressure, spread, factors)
        step = np.linalg.lstsq(jacobian, residual, rcond=None)[0]
        step = np.clip(step, -0.2, 0.2)
        factors = factors * np.exp(step)
        if np.abs(step).max() < 1e-10:
            break
    jacobian, residual = _linear(curve, flow, pressure, spread, factors)
    misfit = max(1.0, float(residual @ residual) / max(len(flow) - 2, 1))
    covariance = np.linalg.pinv(jacobian.T @ jacobian) * misfit
    if shared_flow is not None and shared_pressure is not None:
        slope = -jacobian[:, 0] * spread / np.where(flow == 0.0, 1.0, flow)
        moved = np.linalg.pinv(jacobian) @ ((shared_pressure - slope * shared_flow) / spread).T
        covariance = covariance + moved @ moved.T
    return factors, np.outer(factors, factors) * covariance


def _search(curve: Callable[[Array], Array], flow: Array, pressure: Array, spread: Array) -> Array:
    """The best of many flow factors, each with its own best pressure factor."""
    candidates = np.exp(np.linspace(-np.log(WIDEST), np.log(WIDEST), STEPS))
    predicted = curve((flow[None, :] / candidates[:, None]).ravel()).reshape(STEPS, -1) / spread
    target = pressure / spread
    scale = (predicted @ target) / np.maximum((predicted**2).sum(axis=1), 1e-300)
    scale = np.clip(scale, WIDEST**-2, WIDEST**2)
    misfit = ((target - scale[:, None] * predicted) ** 2).sum(axis=1)
    best = int(np.argmin(misfit))
    return np.array([candidates[best], scale[best]])


def _linear(
    curve: Callable[[Array], Array], flow: Array, pressure: Array, spread: Array, factors: Array
) -> tuple[Array, Array]:
    """Derivatives by ln a and ln c, and the residual, both over the spread."""
    width = 1e-4
    here, up, down = (
        factors[1] * curve(flow / factors[0] * np.exp(sign * width)) for sign in (0.0, -1.0, 1.0)
    )
    jacobian = np.column_stack([(up - down) / (2.0 * width), here])
    return jacobian / spread[:, None], np.asarray((pressure - here) / spread)
