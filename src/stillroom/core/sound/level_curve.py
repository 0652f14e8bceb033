"""From levels at some speeds to a curve of level against speed, with its errors kept by kind."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import scipy
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.characteristic.curve import align
from stillroom.core.draws import SEED, Stream, normal_block, normal_draws
from stillroom.core.sound.bounds import ceiling
from stillroom.core.sound.level_fit import fit_process, pooled_resonances
from stillroom.core.sound.level_points import LevelPoint
from stillroom.core.sound.level_process import RPM, Resonances, data_of
from stillroom.errors import NotPossible

Flags = NDArray[np.bool_]
Precision = TypeVar("Precision", np.float32, np.float64)

GRID_STEP = 5.0 * RPM
"""Distance of the speeds of a curve's grid [1/s], as long as these are not more than `GRID_MOST`."""

GRID_MOST = 321
GRID_LEAST = 33

SPEED_TOLERANCE = 0.005
"""How far beyond the speeds measured a curve is still read, at its end [1]."""


@dataclass(frozen=True)
class LevelCurve:
    """Level against speed of one mounting.

    Errors are kept apart by kind, so that what is shared cancels between fans: trial = central + effects
    times the draws of their sources + noise.

    Parameters
    ----------
    identity : of the mounting.
    speeds : the grid, rising, (g,) [1/s].
    central : level (g,) [dB].
    sources : identities of the k shared sources. effects : the level's change by +1 sd of each, (k, g) [dB].
    noise : the mounting's own deviations, (M, g) float32 [dB].
    bound : where true, nothing but bounds was measured: the level is at most `central`, (g,).
    points : all that were told. held : those of them that their near neighbours contradict; they weren't used.
    floor : lowest level that this chain can measure [dB]; None where it is not known.
    reach : least and greatest speed measured [1/s].
    seed : of the draws.
    """

    identity: str
    speeds: Array
    central: Array
    sources: tuple[str, ...]
    effects: Array
    noise: NDArray[np.float32]
    bound: Flags
    points: tuple[LevelPoint, ...]
    held: tuple[LevelPoint, ...]
    floor: float | None
    reach: tuple[float, float]
    seed: int

    @property
    def trials(self) -> int:
        """Number of trials M."""
        return len(self.noise)

    def rows(
        self, part: Part = Part.TOTAL, sources: tuple[str, ...] | None = None, speeds: Array | None = None
    ) -> Array:
        """Levels as a row stack: central, central moved by each source, then the trials.

        Parameters
        ----------
        part : which errors the trials carry; with `Part.CENTRAL` there is the central row alone.
        sources : the sources that the rows 1 … k stand for, in this order (its own where None).
        speeds : where, (m,) [1/s]; None: on the grid.

        Returns
        -------
        Array (1 + k + M, m), or (1, m) for `Part.CENTRAL` [dB].

        Raises
        ------
        NotPossible : a speed outside `reach`.
        UnknownThing : `sources` leaves out one of its own.
        """
        central, effects, noise = self.central, self.effects, self.noise
        if speeds is not None:
            at = places(self.speeds, speeds)
            central, effects, noise = at.of(central), at.of(effects), at.of(noise)
        if part is Part.CENTRAL:
            return central[None, :]
        moved = central + align(effects, self.sources, sources)
        trials = trial_rows(part, central, effects, noise, self.sources, self.seed)
        return np.concatenate([central[None, :], moved, trials])


@dataclass(frozen=True)
class Places:
    """Speeds as places on a grid: the number of the interval, and the share of it that is passed."""

    interval: NDArray[np.int64]
    share: Array

    def of(self, values: NDArray[Precision]) -> NDArray[Precision]:
        """Values (…, g) of the grid at these places, on straight lines, (…, m), in their own precision."""
        low = np.take(values, self.interval, axis=-1)
        step = np.take(values, self.interval + 1, axis=-1)
        step -= low
        step *= self.share.astype(values.dtype)
        step += low
        return step


def places(grid: Array, speeds: Array) -> Places:
    """Where speeds lie on a grid.

    Raises
    ------
    NotPossible : a speed outside the grid.
    """
    speeds = np.asarray(speeds, dtype=np.float64)
    low, high = float(grid[0]), float(grid[-1])
    outside = (speeds < low * (1.0 - SPEED_TOLERANCE)) | (speeds > high * (1.0 + SPEED_TOLERANCE))
    if np.any(outside):
        raise NotPossible(
            f"level at {float(speeds[outside][0]) * 60:,.0f} rpm",
            found=f"levels from {low * 60:,.0f} to {high * 60:,.0f} rpm",
            expected="a speed within these",
        )
    inside = np.clip(speeds, low, high)
    interval = np.clip(np.searchsorted(grid, inside, side="right") - 1, 0, len(grid) - 2)
    return Places(interval, (inside - grid[interval]) / (grid[interval + 1] - grid[interval]))


def trial_rows(
    part: Part,
    central: Array,
    effects: Array,
    noise: NDArray[np.float32],
    sources: tuple[str, ...],
    seed: int,
) -> Array:
    """Trials of a curve, (M, g): central, the effects of shared sources times their draws, and its noise."""
    trials = np.repeat(central[None, :], len(noise), axis=0)
    for source, effect in zip(sources, effects, strict=True):
        trials += np.multiply.outer(normal_draws(source, len(noise), seed), effect)
    if part is Part.TOTAL:
        trials += noise
    return trials


def fit_levels(
    points: Sequence[LevelPoint],
    *,
    identity: str,
    sources: Mapping[str, float | Array],
    trials: int,
    hyper: Resonances | None = None,
    floor: float | None = None,
    seed: int = SEED,
) -> LevelCurve:
    """Fit a curve to the levels of one mounting, dwells and ramps together.

    Parameters
    ----------
    points : dwells and steps of ramps, in any order.
    identity : of the mounting; its draws go by it.
    sources : {identity of a shared source: change of the level by +1 standard deviation}, one for all points
        or (n,) in the order of `points` [dB].
    trials : number M of trials.
    hyper : amplitude and length of resonances as the lab's ramps show them; None: as this mounting's own ramps
        do, leaning on 1 dB, 80 rpm, and these where it has none.
    floor : lowest level that this chain can measure [dB].
    seed : of the draws.

    Returns
    -------
    LevelCurve over the speeds measured; nothing is said beyond them. Bounds hold the curve down where it would
    lie above them, and are not values: where they alone are left, the curve lies at them and `bound` says so.

    Raises
    ------
    NotPossible : fewer than two different speeds.
    """
    order = sorted(range(len(points)), key=lambda i: (points[i].speed, points[i].run, points[i].level))
    kept = tuple(points[i] for i in order)
    data = data_of(kept)
    if data.speed.size < 2 or np.ptp(data.speed) <= 0.0:
        raise NotPossible(
            "curve of level against speed", found="fewer than two speeds", expected="levels at two or more"
        )
    grid = speed_grid(float(data.speed[0]), float(data.speed[-1]))
    is_bound = np.array([each.is_bound for each in kept])
    fit = fit_process(data, is_bound, grid, hyper or Resonances())
    own = [each for i, each in enumerate(kept) if each.from_ramp and i not in fit.held]
    if hyper is None and own:
        fit = fit_process(data, is_bound, grid, pooled_resonances([own]))
    names = tuple(sorted(sources))
    shifts = [
        np.broadcast_to(np.asarray(sources[name], dtype=np.float64), len(kept))[order] for name in names
    ]
    level = fit.after.mean(grid)
    noise = _draws(fit.after.covariance(grid), identity, trials, seed)
    above = ceiling(data.speed, data.level, data.u, is_bound, grid)
    central, bound = level, np.zeros(grid.size, dtype=np.bool_)
    if above is not None:
        central, bound = above.over(level, above.levels), above.flags(level)
        draws = normal_block(f"{identity}/bounds", len(above.levels), trials, seed)
        noise += level
        noise = above.over(noise, above.levels + (draws * above.u[:, None]).T) - central
    return LevelCurve(
        identity=identity,
        speeds=grid,
        central=central,
        sources=names,
        effects=fit.after.moved(grid, np.array(shifts).reshape(len(names), len(kept))[:, fit.used]),
        noise=noise.astype(np.float32),
        bound=bound,
        points=kept,
        held=tuple(kept[i] for i in fit.held),
        floor=floor,
        reach=(float(data.speed[0]), float(data.speed[-1])),
        seed=seed,
    )


def speed_grid(low: float, high: float) -> Array:
    """The grid of a curve from the least to the greatest speed [1/s]: every 5 rpm, or coarser on a long range."""
    steps = round((high - low) / GRID_STEP)
    return np.linspace(low, high, min(max(steps + 1, GRID_LEAST), GRID_MOST))


_DUST = 1e-6  # dB², added to a covariance so that rounding leaves it positive


def _draws(covariance: Array, identity: str, trials: int, seed: int) -> Array:
    """Draws of the curve about its expectation, by the identity of the mounting, (M, g) [dB]."""
    covariance[np.diag_indices_from(covariance)] += _DUST
    lower = scipy.linalg.cholesky(covariance, lower=True, check_finite=False).astype(np.float32)
    size = len(lower)
    draws = Stream(f"{identity}/level between points", 0, seed).normal(trials * size).astype(np.float32)
    return np.asarray(draws.reshape(trials, size) @ lower.T, dtype=np.float64)
