"""Whether a run is steady: an equivalence test, not the want of a significant slope.

"No significant slope" rewards noise: the worse the readings, the sooner they call it steady. Here the burden is
on steadiness: slope × τ (what a first-order system has still to go) plus its expanded uncertainty has to be smaller
than the tolerance.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.heat.autocorrelation import MOST_CORRELATED, effective_number, first_order
from stillroom.core.heat.bins import MOST_LEFT_OUT, Binned, binned, disturbed, spikes, width_for
from stillroom.core.heat.separable import linear_fit, whitened
from stillroom.errors import BadInput, NotPossible

Flags = NDArray[np.bool_]

EXPANDED = 1.96
"""Coverage factor of the test: one-sided 2.5 % of a normal distribution."""

FEWEST = 12
"""Means over the window that have to be there, and undisturbed."""

NEWEST = 0.1
"""Time constants before the end in which nothing may be disturbed: what a disturbance will come to isn't known."""

APPROACH = 1.0
"""Time constants from the begin of a series on in which faster modes (a cold plate, a probe) have not died out yet."""

STRIDE = 0.25
"""Time constants between the moments at which it is looked since when a series has been steady."""

WIDE = 4
"""So many of these moments are passed over at first."""

SLACK = 0.5
"""Spans by which a window may be short: a logger's first and last stamps don't fall on its ends."""

SHORT_SERIES = 3.0
"""A fit takes some of a short series' correlation away: about this times (1 + r)/n with a line and a curve."""

LONGER = 1.25
"""Where the window doesn't prove it, one longer by this factor is asked: an opened door at the very beginning of a
window looks like the tail of an approach, in the longer one it stands out."""

HOPELESS = 20.0
"""Bounds of more tolerances than this are not asked again."""

LEAST_FREEDOM = 3.0
"""Degrees of freedom that a variance is given at least."""


@dataclass(frozen=True)
class Steadiness:
    """Whether a series is steady at its end.

    Parameters
    ----------
    is_steady : what still drifts is proven to be smaller than the tolerance.
    slope, u_slope : at the end of the series, and its standard uncertainty with autocorrelation [K/s].
    bound : |slope| τ + 1.96 u(slope) τ [K].
    tau : time constant that it was judged with [s].
    window : length of what was looked at [s].
    since : moment from which it has been steady without a break [s], None where it isn't.
    left_out : spikes and disturbances (an opened door) that were left out of the fit, shape (n,).
    """

    is_steady: bool
    slope: float
    u_slope: float
    bound: float
    tau: float
    window: float
    since: float | None
    left_out: Flags


def steadiness(
    times: Array, values: Array, tau: float, *, tolerance: float = 0.05, windows: float = 3.0
) -> Steadiness:
    """Whether what still drifts at the end of a series is proven to be smaller than a tolerance.

    The slope at the end is fitted twice over the same window, by generalised least squares with AR(1) errors: by
    a straight line, and by a line with an exponential of the time constant. The line is the sharper one where a
    slow drift is left; it overstates what is left of an approach, for which the curve is made. Each alone is a
    valid bound; the smaller one counts.

    Parameters
    ----------
    times : of the readings [s], rising, shape (n,).
    values : temperature rise at nominal power [K], those that aren't finite are gaps, shape (n,).
    tau : time constant of the rig with this fan [s].
    tolerance : what may still be to come [K].
    windows : time constants that are looked at, at least three.

    Limits of validity
    ------------------
    A first-order system, τ within some 5 %: with one 10 % too long a third of quiet series with 1.2 tolerances still to
    come pass, for the curve takes some of that for its own. Correlation between neighbouring means up to 0.9 or so.

    Raises
    ------
    BadInput : times that don't rise, a time constant or tolerance that isn't positive, a window under 3 τ.
    NotPossible : a series shorter than the window, or too few readings in it.

    Source: two one-sided tests, D. J. Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987) 657 (from memory).
    """
    if tau <= 0.0 or tolerance <= 0.0 or windows < 3.0:
        raise BadInput(
            "test for steadiness",
            found=f"τ {tau:g} s, tolerance {tolerance:g} K, window {windows:g} τ",
            expected="a positive time constant and tolerance, and at least three time constants",
        )
    if np.any(np.diff(times) <= 0.0):
        raise BadInput("times of a series", found="times that stand still or fall", expected="rising times")
    finite = np.isfinite(values)
    good = finite.copy()
    good[finite] &= ~spikes(values[finite])
    if not good.any():
        raise NotPossible(
            "steadiness", found="no readings", expected=f"at least {windows * tau:.0f} s of them"
        )
    series = Cleaned(times[good], values[good], tau, tolerance, windows * tau, float(times[good][0]))
    first, last = float(series.times[0]), float(series.times[-1])
    now = series.look(last)
    since = None
    if now.is_steady:
        looked = moments(first, last, tau, series.window)
        since = first_steady(looked, last, lambda moment: series.look(moment, back=True).is_steady)
    left_out = ~good
    left_out[np.flatnonzero(good)[now.disturbed]] = True
    return Steadiness(now.is_steady, now.slope, now.u_slope, now.bound, tau, series.window, since, left_out)


def moments(first: float, last: float, tau: float, window: float) -> list[float]:
    """Moments at which it is looked back at whether a series was steady, the latest first [s]."""
    stride = STRIDE * tau
    least, most = math.ceil(window / stride - 1e-9), int((last - first) / stride)
    return [first + stride * each for each in range(most, least - 1, -1)]


def first_steady(looked: list[float], last: float, is_steady: Callable[[float], bool]) -> float:
    """The moment from which it has been steady [s]: back by whole time constants, then by quarters.

    Parameters
    ----------
    looked : moments, the latest first [s].
    last : moment that is steady [s].
    is_steady : the test at a moment.
    """
    since, at = last, 0
    for each in range(WIDE - 1, len(looked), WIDE):
        if not is_steady(looked[each]):
            break
        since, at = looked[each], each + 1
    for moment in looked[at : at + WIDE]:
        if not is_steady(moment):
            break
        since = moment
    return since


@dataclass(frozen=True)
class Look:
    """The test at one moment: slope at the end [K/s], its u, the bound [K], and which readings are disturbed."""

    is_steady: bool
    slope: float
    u_slope: float
    bound: float
    disturbed: NDArray[np.intp]


@dataclass(frozen=True)
class Cleaned:
    """A series without spikes, and what it is tested by.

    Parameters
    ----------
    times, values : good readings [s, K], shape (n,). tau [s], tolerance [K] and window [s] : of the test.
    begun : when the series began, of which these may be the latest readings [s].
    """

    times: Array
    values: Array
    tau: float
    tolerance: float
    window: float
    begun: float

    def look(self, moment: float, *, back: bool = False) -> Look:
        """The test at a moment [s], with the readings up to it; looking back only over the one window.

        Raises
        ------
        NotPossible : a series shorter than the window, or too few readings in it.
        """
        found = self._over(moment, self.window)
        enough = self.times[0] <= moment - LONGER * self.window
        if back or found.is_steady or found.bound > HOPELESS * self.tolerance or not enough:
            return found
        longer = self._over(moment, LONGER * self.window)
        return longer if longer.is_steady else found

    def _over(self, moment: float, window: float) -> Look:
        """The test at a moment over a window [s]."""
        length = moment - float(self.times[0])
        if length < window - SLACK * width_for(window):
            raise NotPossible(
                "steadiness", found=f"a series of {length:.0f} s", expected=f"at least {window:.0f} s"
            )
        first, end = np.searchsorted(self.times, [moment - window, moment + 1e-9])
        times, values = self.times[first:end], self.values[first:end]
        if times.size < FEWEST:
            raise NotPossible(
                "steadiness", found=f"{times.size} readings", expected=f"at least {FEWEST} over the window"
            )
        return self._tested(
            binned(times, values, float(times[0]), width_for(window)), times, int(first), moment
        )

    def _tested(self, means: Binned, times: Array, first: int, moment: float) -> Look:
        columns = _columns((means.times - moment) / self.tau)
        calm, left = _calm(columns, means)
        kept, rows = (means, columns) if calm.all() else (means.only(calm), columns[calm])
        slope, u = min(
            (_slope(rows, kept, left), _slope(rows[:, :2], kept, linear_fit(rows[:, :2], kept.values).left)),
            key=lambda each: abs(each[0]) + EXPANDED * each[1],
        )
        bound = abs(slope) + EXPANDED * u
        newest = means.times > moment - NEWEST * self.tau
        whole = (
            np.count_nonzero(calm) >= max(FEWEST, (1.0 - MOST_LEFT_OUT) * calm.size) and calm[newest].all()
        )
        out = np.empty(0, dtype=np.intp)
        told = ~calm
        if times[0] < self.begun + APPROACH * self.tau:  # off from the begin on: faster modes, no disturbance
            told &= np.logical_or.accumulate(calm)
        if told.any():
            spans = np.floor((times - times[0]) / means.width).astype(np.intp)
            out = first + np.flatnonzero(np.isin(spans, means.spans[told]))
        return Look(bool(whole) and bound < self.tolerance, slope / self.tau, u / self.tau, bound, out)


def _columns(x: Array) -> Array:
    """Value, slope × τ, and bend by an exponential at x = 0, of times over τ before the end, shape (m, 3)."""
    return np.column_stack([np.ones_like(x), x, np.expm1(-x) + x])


def _calm(columns: Array, means: Binned) -> tuple[Flags, Array]:
    """The means that no disturbance takes off the curve, shape (m,), and what the curve leaves of them."""
    calm = np.ones(means.times.size, dtype=np.bool_)
    left = linear_fit(columns, means.values).left
    for _ in range(2):
        out = disturbed(left)
        if not out.any() or np.count_nonzero(~out) < FEWEST:
            break
        calm[np.flatnonzero(calm)[out]] = False
        left = linear_fit(columns[calm], means.values[calm]).left
    return calm, left


def _slope(columns: Array, means: Binned, left: Array) -> tuple[float, float]:
    """Slope × τ at the end and its standard uncertainty [K], for a coverage factor of 1.96.

    Parameters
    ----------
    left : what ordinary least squares of the same columns leaves, which tells the correlation.
    """
    count, parameters = columns.shape
    r = first_order(means.raster(left))
    r = min(r + SHORT_SERIES * (1.0 + r) / count, MOST_CORRELATED)
    rows = whitened(np.column_stack([columns, means.values]), means.spans, r)
    found = linear_fit(rows[:, :-1], rows[:, -1])
    square = float(found.left @ found.left) / (count - parameters)
    freedom = max(effective_number(count, r) - parameters, LEAST_FREEDOM)
    wider = float(scipy.special.stdtrit(freedom, 0.975)) / EXPANDED
    return float(found.linear[1]), wider * math.sqrt(square * float(found.inverse[1, 1]))
