"""Tests of each sweep against the curve of all: offset, drift, flow scale, pressure zero."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.characteristic.curve import (
    Characteristic,
    Estimate,
    Part,
    pressure_coefficients,
)
from stillroom.core.characteristic.readings import Readings
from stillroom.core.characteristic.settle import Settled
from stillroom.core.characteristic.smooth import inverse

FAILS = 4.0  # |t| beyond which a sweep is dropped
POINT_FAILS = 6.0  # |t| beyond which a point is held


def sweep_tests(readings: Readings, settled: Settled) -> dict[int, dict[str, Estimate]]:
    """Four departures of each sweep in the fit, each estimated alone, all else of the model free to give way.

    For a departure of shape c the estimate is cᵀMy / cᵀMc with M = W − WXA⁻¹XᵀW, the inverse of the marginal
    covariance of the readings: a shared error that one sweep has alone (a tachometer's step) doesn't count.
    """
    marginal, departed = _marginal(settled)
    flow, sweep = readings.flow_coefficient[settled.used], readings.sweep[settled.used]
    found: dict[int, dict[str, Estimate]] = {}
    for each in np.unique(sweep):
        own = sweep == each
        estimates = {}
        for name, shape in _shapes(flow[own], settled.level[own], settled.slope[own]).items():
            column = np.zeros(len(own))
            column[own] = shape
            estimates[name] = _estimate(float(column @ marginal @ column), float(column @ departed))
        found[int(each)] = estimates
    return found


def departures(
    readings: Readings, settled: Settled, characteristic: Characteristic, mine: NDArray[np.intp]
) -> dict[str, Estimate]:
    """The same four departures of one sweep; for a dropped sweep against the curve of the others.

    Against the finished curve only the sweep's own errors, the shared ones and the extra scatter count.
    """
    sweep = int(readings.sweep[mine[0]])
    if sweep in readings.sweep[settled.used]:
        return sweep_tests(readings, settled)[sweep]
    flow, reynolds = readings.flow_coefficient[mine], readings.reynolds[mine]
    width = 0.005 * characteristic.reach[1]
    up, level, down = (
        pressure_coefficients(characteristic, flow + shift, reynolds, part=Part.CENTRAL)[0]
        for shift in (width, 0.0, -width)
    )
    slope = (up - down) / (2.0 * width)
    shared = readings.shared_pressure[:, mine] - slope * readings.shared_flow[:, mine]
    own = readings.own_pressure[mine] ** 2 + (slope * readings.own_flow[mine]) ** 2
    own += (characteristic.extra_scatter[mine] * level) ** 2 + 1e-12 * float(np.max(level**2))
    weight = np.linalg.inv(shared.T @ shared + np.diag(own))
    residual = readings.pressure_coefficient[mine] - level
    return {
        name: _estimate(float(shape @ weight @ shape), float(shape @ weight @ residual))
        for name, shape in _shapes(flow, level, slope).items()
    }


def _marginal(settled: Settled) -> tuple[Array, Array]:
    """M = W − WXA⁻¹XᵀW, and My."""
    solved = settled.solved
    inverted = inverse(solved, settled.smoothness)
    marginal = solved.weight - solved.weighted.T @ inverted @ solved.weighted
    return marginal, np.asarray(marginal @ solved.system.response)


def point_tests(settled: Settled) -> Array:
    """t of each point against the curve of all others: (My)ᵢ/√Mᵢᵢ, the deletion residual."""
    marginal, departed = _marginal(settled)
    return np.asarray(departed / np.sqrt(np.maximum(np.diag(marginal), 1e-300)))


def worst(tests: dict[str, Estimate]) -> float:
    """The greatest |t| of a sweep's tests."""
    return max(abs(each.t) for each in tests.values())


def _shapes(flow: Array, level: Array, slope: Array) -> dict[str, Array]:
    """What each departure does to ψ at the points of a sweep, in the order of reading."""
    along = np.linspace(-0.5, 0.5, len(flow))
    return {
        "pressure_offset": level,
        # φ is read against u, ψ against u²: a speed that has risen unseen raises both
        "speed_drift": (2.0 * level - slope * flow) * along,
        "flow_offset": -slope * flow,
        "pressure_zero": np.ones(len(flow)),
    }


def _estimate(information: float, right: float) -> Estimate:
    information = max(information, 1e-300)
    return Estimate(right / information, information**-0.5)
