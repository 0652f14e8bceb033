"""How one mounting's characteristic differs from another's by scale."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.characteristic.curve import (
    Characteristic,
    Estimate,
    Part,
    pressure_coefficients,
)
from stillroom.core.characteristic.scales import match_scales

GRID = 60


@dataclass(frozen=True)
class ScaleDifference:
    """The factors that bring one characteristic onto another: other(φ) = pressure_scale · one(φ/flow_scale).

    Parameters
    ----------
    flow_scale, pressure_scale : factors with their standard deviations; errors shared by both have cancelled.
    covariance : of the two.
    residual : root mean square of what the scales leave, relative to the greatest ψ [1].
    """

    flow_scale: Estimate
    pressure_scale: Estimate
    covariance: float
    residual: float

    @property
    def distance(self) -> float:
        """Mahalanobis distance of the two factors from 1: about √(χ² with 2 degrees of freedom) by chance."""
        away = np.array([self.flow_scale.value - 1.0, self.pressure_scale.value - 1.0])
        matrix = np.array(
            [[self.flow_scale.sd**2, self.covariance], [self.covariance, self.pressure_scale.sd**2]]
        )
        return float(np.sqrt(away @ np.linalg.solve(matrix, away)))


def compare_characteristics(one: Characteristic, other: Characteristic) -> ScaleDifference:
    """Least-squares flow and pressure scale that bring one mounting's curve onto another's.

    Parameters
    ----------
    one, other : characteristics with the same seed and number of trials.

    Returns
    -------
    The scales. A wrong flow unit shows as its ratio with a pressure scale of 1; wrong pulses per revolution
    as (1/c, 1/c²); a sample under another's number as (1, 1) within the noise.
    """
    reynolds = other.reynolds_reference
    low, high = max(other.reach[0], 0.0), other.reach[1]
    flow = np.linspace(low, high, GRID)
    sources = tuple(dict.fromkeys(one.sources + other.sources))
    target = pressure_coefficients(other, flow, reynolds, sources=sources)
    spread = np.full(GRID, 0.01 * np.abs(target[0]).max())

    def curve(x: Array) -> Array:
        return np.asarray(pressure_coefficients(one, x, reynolds, part=Part.CENTRAL)[0])

    factors, _ = match_scales(curve, flow, target[0], spread)
    source = pressure_coefficients(one, flow / factors[0], reynolds, sources=sources)
    width = 1e-4
    turned = factors[1] * (curve(flow / factors[0] * (1 - width)) - curve(flow / factors[0] * (1 + width)))
    jacobian = np.column_stack([turned / (2 * width) / factors[0], source[0]])
    apart = target - factors[1] * source
    moved = np.linalg.pinv(jacobian) @ (apart - apart[0])[1 + len(sources) :].T
    covariance = np.cov(moved)
    return ScaleDifference(
        flow_scale=Estimate(float(factors[0]), float(covariance[0, 0] ** 0.5)),
        pressure_scale=Estimate(float(factors[1]), float(covariance[1, 1] ** 0.5)),
        covariance=float(covariance[0, 1]),
        residual=float(np.sqrt(np.mean(apart[0] ** 2)) / np.abs(target[0]).max()),
    )
