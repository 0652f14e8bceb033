"""What is said about each sweep and each held point once the curve stands."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.characteristic.curve import (
    Characteristic,
    Estimate,
    HeldPoint,
    Part,
    SweepCheck,
    pressure_coefficients,
)
from stillroom.core.characteristic.readings import Readings
from stillroom.core.characteristic.scales import match_scales
from stillroom.core.characteristic.settle import FLOOR, Settled
from stillroom.core.characteristic.sweeps import departures

LEAST_FOR_SCALES = 5
SCALE_SPREAD = 0.02  # least standard deviation of ψ in the search for scales, relative to the greatest ψ


def predicted(characteristic: Characteristic, flow: Array, reynolds: Array) -> Array:
    """Central ψ at each φ and its own Reynolds number, shape (n,)."""
    return np.asarray(pressure_coefficients(characteristic, flow, reynolds, part=Part.CENTRAL)[0])


def residuals(readings: Readings, characteristic: Characteristic) -> Array:
    """ψ read less ψ of the curve, for all points (n,)."""
    curve = predicted(characteristic, readings.flow_coefficient, readings.reynolds)
    return np.asarray(readings.pressure_coefficient - curve)


def describe_sweeps(
    readings: Readings, settled: Settled, characteristic: Characteristic
) -> tuple[SweepCheck, ...]:
    """One check per sweep, also for those that were dropped."""
    level = predicted(characteristic, readings.flow_coefficient, readings.reynolds)
    size = np.maximum(np.abs(level), FLOOR * np.abs(level).max())
    relative = (readings.pressure_coefficient - level) / size
    used = set(readings.sweep[settled.used].tolist())
    checks = []
    for sweep in readings.sweeps:
        mine = np.flatnonzero(readings.sweep == sweep)
        tests = departures(readings, settled, characteristic, mine)
        scales = _scales(readings, characteristic, mine)
        checks.append(
            SweepCheck(
                sweep=sweep,
                points=len(mine),
                collapse=float(np.sqrt(np.mean(relative[mine] ** 2))),
                pressure_offset=tests["pressure_offset"],
                speed_drift=tests["speed_drift"],
                flow_offset=tests["flow_offset"],
                pressure_zero=tests["pressure_zero"],
                pressure_scale=scales[1] if scales else None,
                flow_scale=scales[0] if scales else None,
                dropped=sweep not in used,
            )
        )
    return tuple(checks)


def _scales(
    readings: Readings, characteristic: Characteristic, mine: NDArray[np.intp]
) -> tuple[Estimate, Estimate] | None:
    if len(mine) < LEAST_FOR_SCALES:
        return None
    pressure = readings.pressure_coefficient[mine]
    spread = np.hypot(readings.own_pressure[mine], SCALE_SPREAD * np.abs(pressure).max())
    # a wrong speed is a wrong Reynolds number too: it isn't followed beyond what the others cover
    reynolds = np.clip(readings.reynolds[mine], *characteristic.reynolds_reach)

    def curve(flow: Array) -> Array:
        return predicted(characteristic, flow, np.tile(reynolds, len(flow) // len(reynolds)))

    factors, covariance = match_scales(
        curve,
        readings.flow_coefficient[mine],
        pressure,
        spread,
        readings.shared_flow[:, mine],
        readings.shared_pressure[:, mine],
    )
    return (
        Estimate(float(factors[0]), float(covariance[0, 0] ** 0.5)),
        Estimate(float(factors[1]), float(covariance[1, 1] ** 0.5)),
    )


def held_points(
    readings: Readings, held: NDArray[np.intp], characteristic: Characteristic
) -> tuple[HeldPoint, ...]:
    """The held points with their ratios to what the curve predicts."""
    found = []
    for index in held:
        flow, pressure = readings.flow_coefficient[index], readings.pressure_coefficient[index]
        reynolds = float(readings.reynolds[index])
        level = float(predicted(characteristic, np.array([flow]), np.array([reynolds]))[0])
        plain = flow <= characteristic.reach[1] * 1.02 and level > FLOOR * abs(pressure)
        found.append(
            HeldPoint(
                index=int(index),
                sweep=int(readings.sweep[index]),
                pressure_ratio=float(pressure / level) if plain else None,
                flow_ratio=_flow_ratio(characteristic, float(flow), float(pressure), reynolds),
            )
        )
    return tuple(found)


def _flow_ratio(
    characteristic: Characteristic, flow: float, pressure: float, reynolds: float
) -> float | None:
    """φ over the one φ at which the curve has this ψ; None where there is none or there are several."""
    grid = np.linspace(*characteristic.reach, 400)
    above = predicted(characteristic, grid, np.full(len(grid), reynolds)) - pressure
    at = np.flatnonzero(np.signbit(above[:-1]) != np.signbit(above[1:]))
    if len(at) != 1:
        return None
    i = int(at[0])
    there = grid[i] + (grid[i + 1] - grid[i]) * above[i] / (above[i] - above[i + 1])
    return float(flow / there) if there > 0.02 * grid[-1] else None
