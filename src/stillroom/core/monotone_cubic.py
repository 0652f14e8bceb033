"""A cubic through values that neither overshoots them nor turns between them."""

from __future__ import annotations

import numpy as np

from stillroom.core.arrays import Array


def monotone_cubic(places: Array, values: Array, at: Array | float) -> Array:
    """Values between places, on a piecewise cubic that is monotone wherever the values are.

    Parameters
    ----------
    places : rising, (s,), at least two.
    values : at each, (s, …).
    at : where, of any shape, within the places.

    Returns
    -------
    Array of the shape of `at`, then that of one value.

    Source
    ------
    Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5 (1984), 300-304: slopes as weighted harmonic means, and of
    three points at the ends as in Moler, Numerical Computing with MATLAB (2004), 3.6.
    """
    x, y = np.asarray(places, dtype=np.float64), np.asarray(values, dtype=np.float64)
    wide = (-1,) + (1,) * (y.ndim - 1)
    h = np.diff(x).reshape(wide)
    secants = np.diff(y, axis=0) / h
    slopes = _slopes(h, secants) if len(x) > 2 else np.concatenate([secants, secants])
    wanted = np.asarray(at, dtype=np.float64)
    i = np.clip(np.searchsorted(x, wanted, side="right") - 1, 0, len(x) - 2)
    step = np.diff(x)[i]
    share = ((wanted - x[i]) / step).reshape(wanted.shape + (1,) * (y.ndim - 1))
    step = step.reshape(share.shape)
    rest = 1.0 - share
    return np.asarray(
        y[i] * (1.0 + 2.0 * share) * rest**2
        + y[i + 1] * (3.0 - 2.0 * share) * share**2
        + step * share * rest * (slopes[i] * rest - slopes[i + 1] * share)
    )


def _slopes(h: Array, secants: Array) -> Array:
    before, after = secants[:-1], secants[1:]
    first, second = 2.0 * h[1:] + h[:-1], h[1:] + 2.0 * h[:-1]
    turns = before * after <= 0.0
    safe = [np.where(turns, 1.0, each) for each in (before, after)]
    inner = np.where(turns, 0.0, (first + second) / (first / safe[0] + second / safe[1]))
    ends = [_end(h[i], h[j], secants[i], secants[j]) for i, j in ((0, 1), (-1, -2))]
    return np.concatenate([ends[0][None], inner, ends[1][None]])


def _end(h: Array, next_h: Array, secant: Array, next_secant: Array) -> Array:
    slope = ((2.0 * h + next_h) * secant - h * next_secant) / (h + next_h)
    slope = np.where(np.sign(slope) != np.sign(secant), 0.0, slope)
    steep = (np.sign(secant) != np.sign(next_secant)) & (np.abs(slope) > 3.0 * np.abs(secant))
    return np.asarray(np.where(steep, 3.0 * secant, slope))
