"""The random process that joins levels at some speeds, and what it leaves open between them.

level(n) = a + s lg n + smooth part + resonances, with s ~ N(53, 4) dB per decade, a left open, and two
Matérn-3/2 processes. A ramp adds an offset of its own and an error that is alike at neighbouring speeds.

Source: Rasmussen & Williams, Gaussian Processes for Machine Learning (2006), 2.2, 4.2.1, 5.4.2 (leaving one out),
3.6 (expectation propagation). Slope and priors: tried on invented fans.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
import scipy
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.sound.level_points import LevelPoint

RPM = 1.0 / 60.0

SLOPE, SLOPE_SD = 53.0, 4.0
"""Growth of the level with lg of the speed, and how much it differs between fans [dB per decade]."""

OPEN_SD = 30.0
"""Standard deviation of the level as a whole: left open [dB]."""

SMOOTH_SD, SMOOTH_LENGTH = 0.5, 300.0 * RPM
"""Smooth departures from that law: standard deviation [dB] and correlation length [1/s]."""

RAMP_OFFSET = 0.15
"""Standard deviation of the level of a whole ramp: no time to settle [dB] (common practice)."""

RAMP_SD, RAMP_LENGTH = 0.15, 30.0 * RPM
"""Error along a ramp that neighbouring speeds share: standard deviation [dB] and length [1/s] (common practice)."""


@dataclass(frozen=True)
class Resonances:
    """How much fans stray from a smooth curve near resonances.

    Parameters
    ----------
    amplitude : standard deviation [dB]. length : correlation length of a Matérn-3/2 process [1/s].
    """

    amplitude: float = 1.0
    length: float = 80.0 * RPM


@dataclass(frozen=True)
class Data:
    """Points as arrays, (n,) each: speed, its u [1/s], level, its own u [dB], ramp number (−1: a dwell)."""

    speed: Array
    u_speed: Array
    level: Array
    u: Array
    ramp: NDArray[np.int64]

    def part(self, which: NDArray[np.int64]) -> Data:
        """Some of the points, by their numbers."""
        return Data(*(getattr(self, each.name)[which] for each in fields(Data)))


def data_of(points: Sequence[LevelPoint]) -> Data:
    """Points as arrays, in their order."""
    ramps = {
        run: number for number, run in enumerate(sorted({each.run for each in points if each.from_ramp}))
    }
    return Data(
        np.array([each.speed for each in points], dtype=np.float64),
        np.array([each.u_speed for each in points], dtype=np.float64),
        np.array([each.level for each in points], dtype=np.float64),
        np.array([each.u for each in points], dtype=np.float64),
        np.array([ramps[each.run] if each.from_ramp else -1 for each in points], dtype=np.int64),
    )


def matern(distance: Array, length: float) -> Array:
    """Matérn-3/2 correlation at distances ≥ 0 [1] (Rasmussen & Williams, (4.17))."""
    scaled = math.sqrt(3.0) / length * distance
    return np.asarray((1.0 + scaled) * np.exp(-scaled))


@dataclass(frozen=True)
class Process:
    """The prior of one fan's curve.

    Parameters
    ----------
    centre : speed about which lg n is taken [1/s]. level : level there, left open [dB].
    resonances : amplitude and length.
    """

    centre: float
    level: float
    resonances: Resonances

    def mean(self, speed: Array) -> Array:
        """Level expected before the data are seen [dB]."""
        return self.level + SLOPE * np.log10(speed / self.centre)

    def covariance(self, first: Array, second: Array) -> Array:
        """Covariance of the curve at two sets of speeds, (m, n) [dB²]."""
        distance = np.abs(first[:, None] - second[None, :])
        one, two = np.log10(first / self.centre), np.log10(second / self.centre)
        own = self.resonances
        return np.asarray(
            OPEN_SD**2
            + SLOPE_SD**2 * np.multiply.outer(one, two)
            + SMOOTH_SD**2 * matern(distance, SMOOTH_LENGTH)
            + own.amplitude**2 * matern(distance, own.length)
        )

    def read(self, first: Data, second: Data) -> Array:
        """Covariance of what is read: the curve, and what a ramp adds at all its speeds, (m, n) [dB²]."""
        same = (first.ramp[:, None] == second.ramp[None, :]) & (first.ramp[:, None] >= 0)
        along = np.exp(-np.abs(first.speed[:, None] - second.speed[None, :]) / RAMP_LENGTH)
        curve = self.covariance(first.speed, second.speed)
        return np.asarray(curve + same * (RAMP_OFFSET**2 + RAMP_SD**2 * along))


@dataclass(frozen=True)
class Conditioned:
    """A process after its data.

    Parameters
    ----------
    process : the prior. data : the points. lower : Cholesky factor of their covariance, own errors included.
    weights : inverse covariance times (level − mean), (n,). u : standard uncertainties of the points, (n,) [dB].
    """

    process: Process
    data: Data
    lower: Array
    weights: Array
    u: Array

    def mean(self, speed: Array) -> Array:
        """Curve expected at speeds, (g,) [dB]."""
        return np.asarray(
            self.process.mean(speed) + self.process.covariance(speed, self.data.speed) @ self.weights
        )

    def covariance(self, speed: Array) -> Array:
        """Covariance of the curve at speeds, (g, g) [dB²]."""
        return self._left(
            self.process.covariance(speed, speed), self.process.covariance(self.data.speed, speed)
        )

    def read(self, points: Data) -> tuple[Array, Array]:
        """Expectation (m,) and covariance (m, m) of what further points would read, but for their own errors."""
        across = self.process.read(self.data, points)
        mean = self.process.mean(points.speed) + across.T @ self.weights
        return mean, self._left(self.process.read(points, points), across)

    def moved(self, speed: Array, shifts: Array) -> Array:
        """How the curve moves as the levels read move by shifts (k, n): (k, g) [dB]."""
        solved = scipy.linalg.cho_solve((self.lower, True), shifts.T)
        return np.asarray((self.process.covariance(speed, self.data.speed) @ solved).T)

    def _left(self, prior: Array, across: Array) -> Array:
        explained = scipy.linalg.solve_triangular(self.lower, across, lower=True, check_finite=False)
        return np.asarray(prior - explained.T @ explained)

    def leaving_out(self) -> tuple[Array, Array]:
        """Each point less what the others expect there, and its standard deviation (n,), (n,) [dB].

        Rasmussen & Williams, (5.12).
        """
        inverse = scipy.linalg.cho_solve((self.lower, True), np.eye(len(self.weights)))
        own = np.diagonal(inverse)
        return self.weights / own, 1.0 / np.sqrt(own)

    def told(self, points: Data, level: Array, u: Array) -> Conditioned:
        """Conditioned on further points too, with levels and standard uncertainties in place of their own."""
        further = replace(points, level=level)
        names = [each.name for each in fields(Data)]
        both = Data(*(np.concatenate([getattr(self.data, name), getattr(further, name)]) for name in names))
        return condition(self.process, both, np.concatenate([self.u, u]))

    def log_likelihood(self) -> float:
        """Logarithm of the likelihood of the data under the prior, but for a constant (2.30)."""
        residual = self.data.level - self.process.mean(self.data.speed)
        return float(-0.5 * residual @ self.weights - np.log(np.diagonal(self.lower)).sum())


def condition(process: Process, data: Data, u: Array) -> Conditioned:
    """Condition a process on points with own standard uncertainties u (n,) [dB]."""
    covariance = process.read(data, data)
    covariance[np.diag_indices_from(covariance)] += u * u
    lower = scipy.linalg.cholesky(covariance, lower=True, check_finite=False)
    residual = data.level - process.mean(data.speed)
    weights = scipy.linalg.cho_solve((lower, True), residual, check_finite=False)
    return Conditioned(process, data, lower, weights, u)


SWEEPS = 30
DAMPING = 0.7
SETTLED = 1e-4


def sites_of_bounds(mean: Array, covariance: Array, bound: Array, u: Array) -> tuple[Array, Array]:
    """Upper bounds as readings that do the same: levels and standard uncertainties, (m,), (m,) [dB].

    A bound says Φ((bound − level)/u). Expectation propagation finds for each the normal reading that leaves the
    mean and variance which that factor would leave. Where the others already put the level well under the
    bound, its reading gets an uncertainty without end.

    Parameters
    ----------
    mean, covariance : of the levels before the bounds are told, (m,), (m, m) [dB], [dB²].
    bound, u : (m,) [dB].
    """
    precision, shift = np.zeros(len(bound)), np.zeros(len(bound))
    moved, left = mean, covariance
    for _ in range(SWEEPS):
        variance = np.diagonal(left)
        cavity = 1.0 / np.maximum(1.0 / variance - precision, 1e-9)
        cavity_mean = cavity * (moved / variance - shift)
        spread = np.sqrt(cavity + u * u)
        z = (bound - cavity_mean) / spread
        ratio = np.exp(-0.5 * z * z - 0.5 * math.log(2.0 * math.pi) - scipy.special.log_ndtr(z))
        tilted_mean = cavity_mean - cavity * ratio / spread  # (3.58), for a bound from above
        tilted = cavity - cavity**2 * ratio * (z + ratio) / (spread * spread)
        wanted = np.maximum(1.0 / tilted - 1.0 / cavity, 1e-9)
        wanted_shift = tilted_mean / tilted - cavity_mean / cavity
        change = float(np.abs(wanted - precision).max())
        precision = precision + DAMPING * (wanted - precision)
        shift = shift + DAMPING * (wanted_shift - shift)
        root = np.sqrt(precision)
        inner = np.eye(len(bound)) + root[:, None] * covariance * root[None, :]
        half = scipy.linalg.solve_triangular(
            scipy.linalg.cholesky(inner, lower=True), root[:, None] * covariance, lower=True
        )
        left = covariance - half.T @ half
        moved = left @ (shift - precision * mean) + mean
        if change < SETTLED:
            break
    return shift / precision, 1.0 / np.sqrt(precision)
