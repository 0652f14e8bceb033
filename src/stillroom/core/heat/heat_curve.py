"""From temperature differences at some speeds to a curve against speed, with its errors kept by kind.

ln ΔT = a + b ln N + a smooth deviation: a is left open, b ~ N(−0.45, 0.15), and the deviation is a Matérn-5/2 process
in ln N, since R = R₀ + c Q^(−m) is no straight line in logarithms.

Source: Rasmussen & Williams, Gaussian Processes for Machine Learning (2006), 2.2 and 4.2.1. Slope and priors: tried on
radiators with R₀ of a quarter to two thirds of R (tests).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.characteristic.curve import align
from stillroom.core.draws import SEED, Stream, normal_draws
from stillroom.core.row_speeds import RowSpeeds
from stillroom.errors import NotPossible

SLOPE, SLOPE_SD = -0.45, 0.15
"""Exponent of ΔT against speed, and how much it differs between fans and radiators [1]."""

OPEN_SD = 3.0
"""Standard deviation of ln ΔT as a whole: left open [1]."""

SMOOTH_SD, SMOOTH_LENGTH = 0.025, 0.8
"""Smooth departures from a power law: standard deviation of ln ΔT and correlation length in ln N [1]."""

LEAST_U = 0.01
"""Smallest standard uncertainty of a point's own [K]: keeps the equations solvable."""

BESIDE = 0.15
"""So far on either side of its only speed a curve answers [1]."""

BELOW, ABOVE = 0.9, 1.1
"""How far a curve answers, as shares of the lowest and of the highest speed measured [1]."""

GRID = 49
EDGE = 1e-9  # rounding of a speed that is the end of the reach


@dataclass(frozen=True)
class HeatPoint:
    """A temperature difference at nominal power at a speed.

    Parameters
    ----------
    speed, u_speed : shaft speed and its own standard uncertainty [1/s].
    delta, u : temperature difference at nominal power and its own standard uncertainty [K].
    is_forecast : whether it is a forecast. step : number of the step that it comes from.
    """

    speed: float
    u_speed: float
    delta: float
    u: float
    is_forecast: bool = False
    step: int = 0


@dataclass(frozen=True)
class HeatCurve:
    """Temperature difference at nominal power against speed, of one mounting.

    Trial = central + effects times the draws of their sources + noise.

    Parameters
    ----------
    identity : of the mounting.
    speeds : the grid, rising evenly in ln N, (g,) [1/s]. central : (g,) [K].
    sources : identities of the k shared sources. effects : change by +1 sd of each, (k, g) [K].
    noise : the mounting's own deviations, (M, g) float32 [K].
    points : from which it was fitted.
    reach : least and greatest speed for which it answers [1/s]. seed : of the draws.
    """

    identity: str
    speeds: Array
    central: Array
    sources: tuple[str, ...]
    effects: Array
    noise: NDArray[np.float32]
    points: tuple[HeatPoint, ...]
    reach: tuple[float, float]
    seed: int

    @property
    def trials(self) -> int:
        """Number of trials M."""
        return len(self.noise)

    @property
    def measured(self) -> tuple[float, float]:
        """Least and greatest speed measured [1/s]."""
        speeds = [each.speed for each in self.points]
        return min(speeds), max(speeds)

    def rows(
        self,
        part: Part = Part.TOTAL,
        sources: tuple[str, ...] | None = None,
        speeds: Array | RowSpeeds | None = None,
        *,
        full_speed: float | None = None,
    ) -> Array:
        """Temperature differences as a row stack: central, moved by each source, then the trials.

        Parameters
        ----------
        part : which errors the trials carry; with `Part.CENTRAL` there is the central row alone.
        sources : the sources that the rows 1 … k stand for, in this order (its own where None); with speeds that
            differ by row, those that move the speeds are among them.
        speeds : where, (m,) [1/s]; one for each row; None: on the grid.
        full_speed : of this mounting, for rows at full setting [1/s]; None: the speed that these rows give.

        Returns
        -------
        Array (1 + k + M, m), m = 1 with a speed of its own in each row; or (1, m) for `Part.CENTRAL` [K].

        Raises
        ------
        NotPossible : a speed outside `reach` (with a speed in each row: the central one; trials follow the ends of
            the curve on).
        UnknownThing : `sources` leaves out one that is needed.
        """
        if isinstance(speeds, RowSpeeds):
            return self._by_row(part, self.sources if sources is None else sources, speeds, full_speed)
        if speeds is None:
            return self._stack(part, sources)
        return self._places(np.asarray(speeds, dtype=np.float64)).of(self._stack(part, sources))

    def _by_row(
        self, part: Part, sources: tuple[str, ...], speeds: RowSpeeds, full_speed: float | None
    ) -> Array:
        """At a speed of its own in each row, (1 + k + M, 1)."""
        row_speeds, full = speeds.rows(sources)
        if full_speed is not None:
            row_speeds = np.where(full, full_speed, row_speeds)
        self._places(row_speeds[:1])  # refuses a central speed that lies beyond
        if part is Part.CENTRAL:
            return self._places(row_speeds[:1]).of(self._stack(part, sources))
        return self._along(row_speeds).along(self._stack(part, sources))[:, None]

    def _stack(self, part: Part, sources: tuple[str, ...] | None) -> Array:
        if part is Part.CENTRAL:
            return self.central[None, :]
        moved = self.central + align(self.effects, self.sources, sources)
        trials = np.repeat(self.central[None, :], self.trials, axis=0)
        for source, effect in zip(self.sources, self.effects, strict=True):
            trials += np.multiply.outer(normal_draws(source, self.trials, self.seed), effect)
        if part is Part.TOTAL:
            trials += self.noise
        return np.concatenate([self.central[None, :], moved, trials])

    def _places(self, speeds: Array) -> _Places:
        low, high = self.reach
        outside = (speeds < low * (1.0 - EDGE)) | (speeds > high * (1.0 + EDGE))
        if np.any(outside):
            first, last = self.measured
            raise NotPossible(
                f"temperature difference at {float(speeds[outside][0]) * 60:,.0f} rpm",
                found=f"heat measured at {first * 60:,.0f} rpm"
                if first == last
                else f"heat measured from {first * 60:,.0f} to {last * 60:,.0f} rpm",
                expected=f"a speed from {low * 60:,.0f} to {high * 60:,.0f} rpm",
            )
        return self._along(speeds)

    def _along(self, speeds: Array) -> _Places:
        at = (
            np.log(speeds / self.speeds[0])
            / math.log(self.speeds[-1] / self.speeds[0])
            * (len(self.speeds) - 1)
        )
        interval = np.clip(np.floor(at).astype(np.int64), 0, len(self.speeds) - 2)
        return _Places(interval, at - interval)


@dataclass(frozen=True)
class _Places:
    """Speeds as places on a grid: number of the interval, and share of it that is passed (ends are followed on)."""

    interval: NDArray[np.int64]
    share: Array

    def of(self, rows: Array) -> Array:
        """Values (r, g) at these m places, (r, m)."""
        low = rows[:, self.interval]
        return np.asarray(low + self.share * (rows[:, self.interval + 1] - low))

    def along(self, rows: Array) -> Array:
        """The value of row i at place i, (r,)."""
        each = np.arange(len(rows))
        low = rows[each, self.interval]
        return np.asarray(low + self.share * (rows[each, self.interval + 1] - low))


def fit_heat(
    points: Sequence[HeatPoint],
    *,
    identity: str,
    sources: Mapping[str, float | Array],
    trials: int,
    seed: int = SEED,
) -> HeatCurve:
    """Fit a curve to the temperature differences of one mounting.

    Parameters
    ----------
    points : in any order.
    identity : of the mounting; its draws go by it.
    sources : {identity of a shared source: change by +1 standard deviation}, one for all points or (n,) in the
        order of `points` [K].
    trials : number M.
    seed : of the draws.

    Returns
    -------
    HeatCurve. One speed answers within 15 % of itself, several from 0.9 times the lowest to 1.1 times the highest.

    Raises
    ------
    NotPossible : no points, or a temperature difference or speed that is not above zero.
    """
    order = sorted(range(len(points)), key=lambda i: (points[i].speed, points[i].step, points[i].delta))
    kept = tuple(points[i] for i in order)
    if not kept or not all(each.delta > 0.0 and each.speed > 0.0 for each in kept):
        raise NotPossible(
            "temperature difference against speed",
            found="no step with a speed and a result"
            if not kept
            else "a difference or speed that is not above 0",
            expected="one step or more, warmer than the air",
        )
    reach = _reach(kept[0].speed, kept[-1].speed)
    grid = np.geomspace(*reach, GRID)
    moved = {
        name: np.broadcast_to(np.asarray(each, dtype=np.float64), len(kept))[order]
        for name, each in sorted(sources.items())
    }
    fitted = _fitted(kept, grid)
    central = np.exp(fitted.mean)
    shifts = np.array(list(moved.values())).reshape(len(moved), len(kept))
    effects = (shifts / np.array([each.delta for each in kept])) @ fitted.gain.T * central
    return HeatCurve(
        identity=identity,
        speeds=grid,
        central=central,
        sources=tuple(moved),
        effects=effects,
        noise=_noise(fitted.covariance, central, identity, trials, seed),
        points=kept,
        reach=reach,
        seed=seed,
    )


def _reach(low: float, high: float) -> tuple[float, float]:
    alone = high <= low * 1.005  # a repeat of the only setting
    return (low * (1.0 - BESIDE), high * (1.0 + BESIDE)) if alone else (low * BELOW, high * ABOVE)


@dataclass(frozen=True)
class _Fitted:
    """ln ΔT on a grid: expectation (g,), covariance (g, g), and how it moves with ln ΔT of each point, (g, n)."""

    mean: Array
    covariance: Array
    gain: Array


def _fitted(points: Sequence[HeatPoint], grid: Array) -> _Fitted:
    """The process conditioned on points (Rasmussen & Williams, (2.25), (2.26), (2.38))."""
    speed = np.array([each.speed for each in points])
    value = np.log([each.delta for each in points])
    own = np.array([max(each.u, LEAST_U) / each.delta for each in points])
    by_speed = SLOPE * np.array([each.u_speed / each.speed for each in points])
    centre = float(np.exp(np.log(speed).mean()))
    x, at = np.log(speed / centre), np.log(grid / centre)
    middle = float(np.median(value - SLOPE * x))
    lower = scipy.linalg.cholesky(_prior(x, x) + np.diag(own**2 + by_speed**2), lower=True)
    gain = scipy.linalg.cho_solve((lower, True), _prior(x, at)).T
    mean = middle + SLOPE * at + gain @ (value - middle - SLOPE * x)
    return _Fitted(mean, _prior(at, at) - gain @ _prior(x, at), gain)


def _prior(first: Array, second: Array) -> Array:
    """Covariance of ln ΔT before the data, (m, n) [1]."""
    scaled = math.sqrt(5.0) / SMOOTH_LENGTH * np.abs(first[:, None] - second[None, :])
    matern = (1.0 + scaled + scaled**2 / 3.0) * np.exp(-scaled)  # Rasmussen & Williams, (4.17)
    return np.asarray(
        OPEN_SD**2 + SLOPE_SD**2 * np.multiply.outer(first, second) + SMOOTH_SD**2 * matern, dtype=np.float64
    )


_DUST = 1e-10  # added to a covariance so that rounding leaves it positive


def _noise(covariance: Array, central: Array, identity: str, trials: int, seed: int) -> NDArray[np.float32]:
    """Draws of the curve about its expectation, by the identity of the mounting, (M, g) [K]."""
    covariance[np.diag_indices_from(covariance)] += _DUST
    lower = scipy.linalg.cholesky(covariance, lower=True)
    draws = Stream(f"{identity}/heat", 0, seed).normal(trials * len(lower)).reshape(trials, len(lower))
    return np.asarray(central * np.expm1(draws @ lower.T), dtype=np.float32)
