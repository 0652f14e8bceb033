"""Means of a series whose readings follow one another: how much a thousand correlated readings are worth."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.errors import NotPossible

Flags = NDArray[np.bool_]

MOST_CORRELATED = 0.995
"""Lag-1 correlations above this are held at it: what follows from them would be a division by nothing."""

FEWEST = 8
"""Fewer readings than this tell nothing of their correlation."""

OUTLIER = 4.0
"""Readings this many robust standard deviations from the others are left out of a mean."""

NORMAL_MAD = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation."""


@dataclass(frozen=True)
class SeriesMean:
    """The mean of a correlated series.

    Parameters
    ----------
    value : mean, in the unit of the series.
    u : its standard uncertainty, with the correlation; never s/√n of the readings.
    r : correlation between neighbours (lag 1).
    effective : number of independent readings that would tell as much.
    """

    value: float
    u: float
    r: float
    effective: float


def first_order(residuals: Array) -> float:
    """Correlation between neighbours of an AR(1) series, corrected for few readings.

    r̂ = Σ eᵢ eᵢ₊₁ / Σ eᵢ² is too small by (1 + 4 r)/n; the correction is solved for r. Readings that are not
    finite are gaps: pairs over a gap don't count.

    Parameters
    ----------
    residuals : readings minus what was fitted to them, evenly spaced, shape (n,).

    Returns
    -------
    r, clipped to 0 … 0.995.

    Limits of validity
    ------------------
    n ≥ 8; a first-order process. White noise on top of a slow wander isn't one.

    Raises
    ------
    NotPossible : fewer than eight finite residuals.

    Source: F. H. C. Marriott, J. A. Pope, Biometrika 41 (1954) 390, bias of serial correlations (from memory).
    """
    finite = np.isfinite(residuals)
    count = int(np.count_nonzero(finite))
    if count < FEWEST:
        raise NotPossible("correlation of a series", found=f"{count} readings", expected=f"at least {FEWEST}")
    if count == residuals.size:
        centred, pairs = residuals - residuals.sum() / count, count - 1
    else:
        centred = np.where(finite, residuals - residuals[finite].mean(), 0.0)
        pairs = int(np.count_nonzero(finite[1:] & finite[:-1]))
    square = float(centred @ centred) / count
    if square == 0.0 or pairs == 0:
        return 0.0
    raw = float(centred[1:] @ centred[:-1]) / pairs / square
    return min(max((count * raw + 1.0) / (count - 4.0), 0.0), MOST_CORRELATED)


def effective_number(n: int, r: float) -> float:
    """Independent readings that tell as much of a mean as n readings of an AR(1) series, n(1 − r)/(1 + r).

    Limits of validity
    ------------------
    0 ≤ r < 1 and n (1 − r) well above 1; at least one reading always stays.

    Source: large-n limit of the variance of the mean of an AR(1) series (closed form: see `mean_variance`).
    """
    return max(1.0, n * (1.0 - r) / (1.0 + r))


def mean_variance(n: int, r: float) -> float:
    """Variance of the mean of n neighbours of an AR(1) series of unit variance, exactly.

    (1 + r)/(1 − r)/n − 2 r (1 − rⁿ)/(n (1 − r))².

    Limits of validity
    ------------------
    0 ≤ r < 1.

    Source: closed form, Σ(n − |k|) r^|k| / n².
    """
    return (1.0 + r) / (1.0 - r) / n - 2.0 * r * (1.0 - r**n) / (n * (1.0 - r)) ** 2


def mean_of(values: Array) -> SeriesMean:
    """The mean of a series of neighbours, robust against single spikes, with the uncertainty that it deserves.

    Readings beyond four robust standard deviations of the others are left out. The variance of the readings
    is corrected for what a correlated series hides of it, and that of the mean is the closed form of AR(1).

    Parameters
    ----------
    values : evenly spaced readings of one quantity, in any unit; those that aren't finite are gaps; shape (n,).

    Limits of validity
    ------------------
    A series without a trend; n (1 − r) of some ten at least, else u is only a rough one.

    Raises
    ------
    NotPossible : fewer than eight readings that count.
    """
    finite = np.isfinite(values)
    if np.count_nonzero(finite) < FEWEST:
        raise NotPossible(
            "mean of a series", found=f"{np.count_nonzero(finite)} readings", expected=f"at least {FEWEST}"
        )
    centre = float(np.median(values[finite]))
    scale = NORMAL_MAD * float(np.median(np.abs(values[finite] - centre)))
    kept = finite & (np.abs(values - centre) <= OUTLIER * scale) if scale > 0.0 else finite
    count = int(np.count_nonzero(kept))
    mean = float(values[kept].mean())
    r = first_order(np.where(kept, values - mean, np.nan))
    share = mean_variance(count, r)
    square = float(np.square(values[kept] - mean).sum()) / count / max(1.0 - share, 1.0 / count)
    return SeriesMean(mean, math.sqrt(square * share), r, 1.0 / share)
