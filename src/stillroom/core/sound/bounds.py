"""Where a level curve has nothing but upper bounds under it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array

Flags = NDArray[np.bool_]

BESIDE = 25.0 / 60.0
"""A bound as near as this to a value has nothing to add to it [1/s]."""

BETWEEN = 400.0 / 60.0
"""Nor has a bound between two values not further apart than this [1/s]."""


@dataclass(frozen=True)
class Ceiling:
    """Upper bounds spread over a grid of speeds.

    Parameters
    ----------
    weights : of the bounds at each speed of the grid, (g, b); zero where no bound stands next to it.
    numbers : which of the points these b bounds are.
    levels, u : of the bounds, (b,) [dB].
    governs : where a bound stands next to a speed, (g,). alone : where bounds stand on both sides of it, (g,).
    """

    weights: Array
    numbers: NDArray[np.int64]
    levels: Array
    u: Array
    governs: Flags
    alone: Flags

    def over(self, levels: Array, bounds: Array) -> Array:
        """Levels (…, g) raised to bounds (…, b) where these govern: nobody knows that a level lies lower."""
        return np.where(self.governs, np.maximum(levels, bounds @ self.weights.T), levels)

    def flags(self, level: Array) -> Flags:
        """Where a level (g,) rests on bounds only, (g,)."""
        return np.asarray(self.governs & (self.alone | (level < self.levels @ self.weights.T)))


def ceiling(speed: Array, level: Array, u: Array, is_bound: Flags, grid: Array) -> Ceiling | None:
    """The bounds that stand alone, spread over a grid; None where there are none.

    A bound close to a value, or between two values that lie near each other, says nothing that these don't say
    better, and is left out. Between two bounds the line that joins them is the bound; between a bound and a
    value, the bound itself, until the curve rises over it.

    Parameters
    ----------
    speed, level, u, is_bound : points by rising speed, (n,) [1/s], [dB], [dB], and which are bounds.
    grid : speeds, rising, (g,) [1/s].

    Returns
    -------
    Ceiling; None where every bound has values near it, or there is none.
    """
    values = speed[~is_bound]
    below = np.searchsorted(values, speed, side="right") - 1
    padded = np.concatenate([[-np.inf], values, [np.inf]])
    under, over = padded[below + 1], padded[below + 2]
    near = np.minimum(speed - under, over - speed) <= BESIDE
    standing = is_bound & ~near & ~(over - under <= BETWEEN)
    numbers = np.flatnonzero(standing)
    if numbers.size == 0:
        return None
    anchors = np.flatnonzero(standing | ~is_bound)
    at = speed[anchors]
    right = np.clip(np.searchsorted(at, grid, side="left"), 1 if at.size > 1 else 0, at.size - 1)
    left = np.maximum(right - 1, 0)
    gap = np.maximum(at[right] - at[left], 1e-12)
    share = np.clip((grid - at[left]) / gap, 0.0, 1.0)
    left_bound, right_bound = standing[anchors[left]], standing[anchors[right]]
    weights = np.zeros((grid.size, speed.size))
    rows = np.arange(grid.size)
    both = left_bound & right_bound
    np.add.at(weights, (rows, anchors[left]), np.where(both, 1.0 - share, 1.0 * left_bound))
    np.add.at(weights, (rows, anchors[right]), np.where(both, share, 1.0 * right_bound))
    return Ceiling(weights[:, numbers], numbers, level[numbers], u[numbers], left_bound | right_bound, both)
