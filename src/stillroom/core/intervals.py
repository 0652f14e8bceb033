"""Coverage intervals from trials."""

from __future__ import annotations

import numpy as np

from stillroom.core.arrays import Array
from stillroom.errors import OutOfRange


def coverage_ranks(trials: int, probability: float = 0.95) -> tuple[int, int]:
    """The ranks (from 0) of the two trials that bound the probabilistically symmetric coverage interval.

    Parameters
    ----------
    trials : number M of trials.
    probability : coverage probability p [1].

    Raises
    ------
    OutOfRange : the probability is not strictly between 0 and 1, or there are too few trials for it.

    Source: JCGM 101:2008, 7.7.2, with the symmetric choice of r.
    """
    if not 0.0 < probability < 1.0:
        raise OutOfRange("coverage probability", found=f"{probability}", expected="strictly between 0 and 1")
    q = int(probability * trials + 0.5)  # pM, or its nearest integer (7.7.2)
    r = int((trials - q) / 2 + 0.5)  # (M - q)/2, or its nearest integer (7.7.2)
    if r < 1 or r + q > trials:
        raise OutOfRange(
            "number of trials",
            found=f"{trials}",
            expected=f"enough for a {probability:.3%} interval: at least {int(1 / (1 - probability)) + 1}",
        )
    return r - 1, r + q - 1


def coverage_interval(trials: Array, probability: float = 0.95, axis: int = -1) -> tuple[Array, Array]:
    """The probabilistically symmetric coverage interval of each quantity.

    Parameters
    ----------
    trials : draws of the quantities, any unit; one axis counts the trials.
    probability : coverage probability [1].
    axis : the axis that counts the trials.

    Returns
    -------
    (low, high), each with the shape of `trials` without that axis: order statistics, not interpolated.

    Raises
    ------
    OutOfRange : too few trials, or a trial that is not a number.

    Source: JCGM 101:2008, 7.7. The order statistics are selected, not sorted for, with the same result.
    """
    trials = np.asarray(trials, dtype=np.float64)
    low, high = coverage_ranks(trials.shape[axis], probability)
    if np.isnan(trials).any():
        raise OutOfRange("trials", found="a value that is not a number", expected="finite trials")
    if trials.shape[axis] < _MANY:
        selected = np.partition(trials, (low, high), axis=axis)
        return np.take(selected, low, axis=axis), np.take(selected, high, axis=axis)
    rows = np.moveaxis(trials, axis, -1)
    ends = np.empty((2, *rows.shape[:-1]))
    for index in np.ndindex(rows.shape[:-1]):
        row = np.ascontiguousarray(rows[index])
        ends[(0, *index)] = _ranked(row, low)
        ends[(1, *index)] = _ranked(row, high)
    return ends[0], ends[1]


_MANY = 8192  # from here on it pays to look at the tails alone
_EVERY = 61  # one trial in so many shows where a tail begins


def _ranked(row: Array, rank: int) -> float:
    """The value of a rank: exact, but searched for among the few values on its side that can be it.

    A thin sample of the row says beyond which value the rank surely lies. Should that fail, the whole row is
    searched.
    """
    sample = row[::_EVERY]
    upper = 2 * rank > row.size
    behind = row.size - 1 - rank if upper else rank  # how many lie beyond it
    expected = behind / _EVERY
    place = min(int(expected + 4.0 * np.sqrt(expected + 1.0)) + 2, sample.size - 1)
    if upper:
        place = sample.size - 1 - place
    border = np.partition(sample, place)[place]
    tail = row[row > border] if upper else row[row < border]
    if tail.size <= behind:
        tail = row
    at = tail.size - 1 - behind if upper else rank
    return float(np.partition(tail, at)[at])
