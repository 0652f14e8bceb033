"""Which single fault explains best why the points of a sweep or a mounting leave a fan's curve.

Each explanation has one parameter p and says where the points would lie without the fault. It is judged by
the misfit that is left, χ², after two nuisance scales (of flow and of pressure, known to be 1 within a stated
standard deviation) have been allowed to give way; so explanations of unlike shape can be compared, and a
spread between mountings is not taken for a fault.

Source: least squares with prior information, JCGM 102:2011, 8.1, specialised to two linear parameters.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Characteristic, Estimate, Part, pressure_coefficients

SHAPE = 0.006
"""Standard deviation by which two mountings' curves differ in shape, relative to ψ (our choice) [1]."""

FLOOR = 0.1
"""Errors are taken relative to at least this share of the greatest ψ [1]."""

COLUMNS, ROWS = 500, 3
WIDER = 1.2
"""Size of a reference's table; how far it goes beyond the tested Reynolds numbers, in their logarithm."""

FURTHEST = 4.0
"""A nuisance scale gives way by at most so many of its standard deviations."""

WIDTH = 1e-3
TURNS = 5
REFINEMENTS = 3
FINE = 13

Correction = Callable[[Array], tuple[Array, Array]]
"""From parameters (g, 1) to φ and ψ as they would be without the fault, (g, n) each."""


@dataclass(frozen=True)
class Reference:
    """The curve that points are held against: at each place the median of several mountings' curves.

    Parameters
    ----------
    low : least φ of the table. step : of φ in it. reynolds : natural logarithms of Re of its rows, rising.
    table : ψ, (rows, columns). top : greatest ψ within the reach of the curves [1].
    """

    low: float
    step: float
    reynolds: Array
    table: Array
    top: float

    @classmethod
    def of(cls, curves: Sequence[Characteristic]) -> Reference:
        """The reference made of these curves, at least one."""
        reach = max(each.reach[1] for each in curves)
        flow = np.linspace(-0.05 * reach, 1.25 * reach, COLUMNS)
        ends = [np.log(end) for each in curves for end in each.reynolds_reach]
        reynolds = np.linspace(min(ends) - WIDER, max(ends) + WIDER, ROWS)
        rows = [np.median([central(each, flow, float(np.exp(row))) for each in curves], axis=0)
                for row in reynolds]  # fmt: skip
        tops = [central(each, np.linspace(*each.reach, 60), each.reynolds_reference).max() for each in curves]
        return cls(float(flow[0]), float(flow[1] - flow[0]), reynolds, np.array(rows), float(np.median(tops)))

    def at(self, flow: Array, reynolds: Array) -> Array:
        """ψ at each (φ, Re); arrays of one shape. Beyond the table it goes on straight, as a characteristic does."""
        x = (flow - self.low) / self.step
        y = (np.log(reynolds) - self.reynolds[0]) / (self.reynolds[1] - self.reynolds[0])
        i = np.clip(x.astype(np.intp), 0, self.table.shape[1] - 2)
        j = np.clip(y.astype(np.intp), 0, self.table.shape[0] - 2)
        u, v = x - i, y - j
        here, above = self.table[j, i], self.table[j + 1, i]
        here = here + u * (self.table[j, i + 1] - here)
        above = above + u * (self.table[j + 1, i + 1] - above)
        return np.asarray(here + v * (above - here))


def central(curve: Characteristic, flow: Array, reynolds: float) -> Array:
    """ψ of a characteristic's central curve at φ (n,) and one Re, (n,)."""
    return np.asarray(pressure_coefficients(curve, flow, reynolds, part=Part.CENTRAL)[0])


@dataclass(frozen=True)
class Cloud:
    """Points that are to be explained.

    Parameters
    ----------
    flow, pressure, reynolds : φ, ψ and Re of each point (n,). own_flow, own_pressure : standard deviations
    of the points' own errors of φ and ψ (n,).
    """

    flow: Array
    pressure: Array
    reynolds: Array
    own_flow: Array
    own_pressure: Array


@dataclass(frozen=True)
class Explained:
    """How well one fault explains the points.

    Parameters
    ----------
    value : the parameter of least misfit. sd : its standard deviation.
    misfit : χ² that is left. points : number of points.
    """

    value: float
    sd: float
    misfit: float
    points: int

    @property
    def scale(self) -> float:
        """By how much the misfit exceeds what n − 3 points should have, at least 1."""
        return max(1.0, self.misfit / max(self.points - 3, 1))


def unexplained(cloud: Cloud, reference: Reference, scales: tuple[float, float]) -> Explained:
    """The misfit of the points as they are; `scales` as in `explain`."""
    found = _misfits(cloud, reference, cloud.flow[None, :], cloud.pressure[None, :], scales)
    return Explained(0.0, 0.0, float(found[0]), len(cloud.flow))


def explain(
    cloud: Cloud, reference: Reference, correct: Correction, grid: Array, scales: tuple[float, float]
) -> Explained:
    """Fit one explanation's parameter.

    Parameters
    ----------
    cloud : the points.
    reference : the curve.
    correct : where they would lie without the fault.
    grid : rising values of the parameter to start from, (g,); its ends are the parameter's limits.
    scales : standard deviations of the nuisance scales of flow and of pressure [1].
    """
    values = np.asarray(grid, dtype=np.float64)
    misfits = _misfits(cloud, reference, *correct(values[:, None]), scales)
    for _ in range(REFINEMENTS):
        best = int(np.argmin(misfits))
        low, high = values[max(best - 1, 0)], values[min(best + 1, len(values) - 1)]
        values = np.linspace(low, high, FINE)
        misfits = _misfits(cloud, reference, *correct(values[:, None]), scales)
    best = int(np.argmin(misfits))
    return Explained(float(values[best]), _sd(values, misfits), float(misfits[best]), len(cloud.flow))


def _sd(values: Array, misfits: Array) -> float:
    """Standard deviation of a parameter: χ² grows by 1 over one of them, by a parabola through the grid."""
    middle, half = (values[0] + values[-1]) / 2.0, (values[-1] - values[0]) / 2.0
    bend = float(np.polyfit((values - middle) / half, misfits, 2)[0])
    return float(half / np.sqrt(bend)) if bend > 0.0 else float("inf")


def _misfits(
    cloud: Cloud, reference: Reference, flow: Array, pressure: Array, scales: tuple[float, float]
) -> Array:
    """χ² of each row of corrected points (g, n), after the nuisance scales have given way, (g,)."""
    level, turned, weight = _local(cloud, reference, flow, pressure)
    apart = pressure - level
    a11 = (weight * turned**2).sum(axis=1) + scales[0] ** -2
    a12 = (weight * turned * level).sum(axis=1)
    a22 = (weight * level**2).sum(axis=1) + scales[1] ** -2
    b1, b2 = (weight * turned * apart).sum(axis=1), (weight * level * apart).sum(axis=1)
    determinant = a11 * a22 - a12**2
    by_flow = np.clip((a22 * b1 - a12 * b2) / determinant, -FURTHEST * scales[0], FURTHEST * scales[0])
    by_pressure = np.clip((a11 * b2 - a12 * b1) / determinant, -FURTHEST * scales[1], FURTHEST * scales[1])
    left = apart - by_flow[:, None] * turned - by_pressure[:, None] * level
    asked = (by_flow / scales[0]) ** 2 + (by_pressure / scales[1]) ** 2
    return np.asarray((weight * left**2).sum(axis=1) + asked)


def _local(cloud: Cloud, reference: Reference, flow: Array, pressure: Array) -> tuple[Array, Array, Array]:
    """ψ and φ ∂ψ/∂φ of the reference at φ, and the weight of ψ read less ψ there; shapes of `flow`."""
    reynolds = np.broadcast_to(cloud.reynolds, flow.shape)
    level, up, down = (reference.at(flow * (1.0 + shift), reynolds) for shift in (0.0, WIDTH, -WIDTH))
    turned = (up - down) / (2.0 * WIDTH)
    size = np.clip(np.abs(level), FLOOR * reference.top, reference.top)
    ratio = np.divide(
        cloud.own_flow, np.abs(cloud.flow), out=np.zeros_like(cloud.flow), where=cloud.flow != 0.0
    )
    stretch = np.ones_like(pressure)
    np.divide(pressure, cloud.pressure, out=stretch, where=cloud.pressure != 0.0)
    variance = (stretch * cloud.own_pressure) ** 2 + (turned * ratio) ** 2 + (SHAPE * size) ** 2
    return level, turned, 1.0 / variance


def scales_apart(cloud: Cloud, reference: Reference) -> tuple[Estimate, Estimate]:
    """The factors of flow and of pressure that bring a reference onto points near it.

    Parameters
    ----------
    cloud : the points of one mounting.
    reference : the curve of another, made of about as many points.

    Returns
    -------
    (flow, pressure) with standard deviations by the own errors of both, each with its SHAPE. Errors that both
    mountings share cancel.
    """
    flow_scale, pressure_scale = 1.0, 1.0
    covariance: Array = np.eye(2)
    for _ in range(TURNS):
        flow, pressure = cloud.flow / flow_scale, cloud.pressure / pressure_scale
        level, turned, weight = _local(cloud, reference, flow, pressure)
        design = np.stack([-turned, level], axis=1)
        covariance = np.asarray(np.linalg.inv(design.T @ (weight[:, None] * design)))
        step = covariance @ (design.T @ (weight * (pressure - level)))
        flow_scale *= float(np.exp(np.clip(step[0], -0.2, 0.2)))
        pressure_scale *= float(np.exp(np.clip(step[1], -0.2, 0.2)))
    sd = np.sqrt(2.0 * np.diag(covariance))
    return Estimate(flow_scale, float(sd[0])), Estimate(pressure_scale, float(sd[1]))
