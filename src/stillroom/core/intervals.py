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
    selected = np.partition(trials, (low, high), axis=axis)
    ends = np.take(selected, (low, high), axis=axis)
    return np.take(ends, 0, axis=axis), np.take(ends, 1, axis=axis)
