"""Where a run will end: y∞ + A exp(−t/τ) with correlated errors, its interval, and the minutes to go.

What settles faster than the slow mode (a cold plate, a probe) is let go by three further modes of τ/4, τ/8 and
τ/16 with small amplitudes; so a second mode of an unknown speed doesn't bend the end. The time constant is not held
at its best value: final values for all time constants that the readings allow are weighed by how well they fit
(and by what is known of the rig), which is what the interval is made of.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy

from stillroom.core.arrays import Array
from stillroom.core.heat.bins import Binned, binned, spikes, width_for
from stillroom.core.heat.settling_fit import DISTURBED, FASTER, LEAST_SPAN, SettlingFit, TimeConstant, fitted
from stillroom.errors import BadInput, NotPossible

__all__ = ["Forecast", "TimeConstant", "forecast", "of_means"]

FEWEST = 24
"""Fewer spans (means, or readings where they are rare) than this are not fitted."""

RESTS = (2.0 / 3.0, 0.5)
"""Shares of a series that are asked alone where the whole is too much disturbed."""

WIDE = 3.0
"""Standard uncertainties on either side to which the distribution of the end is worked out."""

NO_WEIGHT = 1e-4
"""Time constants of less weight than this say nothing of the end."""

LEVELS = 120
"""Values at which the distribution of the end is worked out."""


@dataclass(frozen=True)
class Forecast:
    """Where a series will end.

    Parameters
    ----------
    final, u, low, high : value at the end of time, standard uncertainty, and 95 % interval [K].
    tau, u_tau : time constant and its standard uncertainty [s].
    amplitude : of the slow mode at the start of the series [K]; negative where the series rises.
    fast : amplitudes of the modes of τ/4, τ/8 and τ/16 [K].
    r, sd : correlation between neighbours, and standard deviation about the curve [K], of means over `width` [s].
    start, end : of the series [s].
    wait : from the end of the series until what remains is within the tolerance [s]; 0.0 when it is.
    span : length of the series over the time constant.
    left_out : share of the readings that was left out: spikes, a disturbance.
    covariance : of end [K], amplitude [K] and ln τ, row by row, nine numbers.
    """

    final: float
    u: float
    low: float
    high: float
    tau: float
    u_tau: float
    amplitude: float
    fast: tuple[float, ...]
    r: float
    sd: float
    width: float
    start: float
    end: float
    wait: float
    span: float
    left_out: float
    covariance: tuple[float, ...]

    def at(self, times: Array) -> tuple[Array, Array, Array]:
        """Central curve, low and high of the 95 % band of the mean at some moments [s, K]."""
        x = (times - self.start) / self.tau
        slow = np.exp(-x)
        central = self.final + self.amplitude * slow
        for faster, amplitude in zip(FASTER, self.fast, strict=True):
            central = central + amplitude * np.exp(-faster * x)
        slopes = np.stack([np.ones_like(x), slow, self.amplitude * x * slow], axis=-1)
        square = np.einsum("...i,ij,...j->...", slopes, np.reshape(self.covariance, (3, 3)), slopes)
        share = np.sqrt(square) / self.u
        return central, central - (self.final - self.low) * share, central + (self.high - self.final) * share


def forecast(
    times: Array, values: Array, *, known: TimeConstant | None = None, tolerance: float = 0.05
) -> Forecast:
    """Where a series that settles will end, how sure that is, and how long it still takes.

    Parameters
    ----------
    times : of the readings from the start of the step on [s], rising, shape (n,).
    values : temperature rise at nominal power [K], those that aren't finite are gaps, shape (n,).
    known : what is known of the rig's time constant from earlier runs, or told.
    tolerance : what may remain where the wait is over [K].

    Limits of validity
    ------------------
    One slow mode, from two time constants on; steady power, flow and speed. Under a steady drift d of the air the
    series ends d τ beside its end in still air, and that is what is forecast.

    Raises
    ------
    BadInput : times that don't rise. NotPossible : before two time constants; no rise or fall to be seen; too few
    readings; more than a quarter disturbed.

    Source: variable projection (`separable`); weighing over τ as in JCGM 101:2008, 5.2 (state of knowledge).
    """
    finite = np.isfinite(values)
    if np.any(np.diff(times) <= 0.0):
        raise BadInput("times of a series", found="times that stand still or fall", expected="rising times")
    times, values = times[finite], values[finite]
    if times.size < FEWEST:
        raise NotPossible("forecast", found=f"{times.size} readings", expected=f"at least {FEWEST}")
    good = ~spikes(values)
    first, last = float(times[0]), float(times[-1])
    means = binned(times[good], values[good], first, width_for(last - first))
    return of_means(means, first, last, known, tolerance, float(np.mean(~good)))


def of_means(
    means: Binned, first: float, last: float, known: TimeConstant | None, tolerance: float, left_out: float
) -> Forecast:
    """As `forecast`, of a series from a first to a last moment [s] that is thinned to means already."""
    if means.times.size < FEWEST:
        raise NotPossible("forecast", found=f"{means.times.size} means", expected=f"at least {FEWEST}")
    try:
        fit = fitted(means, first, last, known)
    except NotPossible as error:
        if error.thing != DISTURBED:
            raise
        return _of_rest(means, first, last, known, tolerance, left_out, error)
    span = (last - first) / fit.tau
    if span < LEAST_SPAN:
        raise NotPossible(
            "forecast",
            found=f"{span:.1f} time constants of about {fit.tau:.0f} s",
            expected=f"at least {LEAST_SPAN:g}",
        )
    low, middle, high = _quantiles(fit)
    linear, covariance = fit.weights @ fit.profile.linear, fit.covariance()
    tau, amplitude = fit.tau, float(linear[1])
    remains = abs(amplitude) * math.exp(-(last - first) / tau)
    return Forecast(
        final=middle,
        u=math.sqrt(covariance[0, 0]),
        low=low,
        high=high,
        tau=tau,
        u_tau=tau * math.sqrt(covariance[2, 2]),
        amplitude=amplitude,
        fast=tuple(float(each) for each in linear[2:]),
        r=fit.r,
        sd=math.sqrt(fit.square),
        width=means.width,
        start=first,
        end=last,
        wait=max(0.0, tau * math.log(max(remains, 1e-300) / tolerance)),
        span=span,
        left_out=1.0 - (1.0 - left_out) * (1.0 - fit.left_out),
        covariance=tuple(float(each) for each in covariance.ravel()),
    )


def _of_rest(
    means: Binned,
    first: float,
    last: float,
    known: TimeConstant | None,
    tolerance: float,
    left_out: float,
    error: NotPossible,
) -> Forecast:
    """The forecast of what came after a long disturbance: the last two thirds, or the last half, as a series alone."""
    for share in RESTS:
        begin = last - share * (last - first)
        rest = means.only(means.times >= begin)
        try:
            if rest.times.size < FEWEST:
                break
            fitted(rest, begin, last, known)  # not disturbed
        except NotPossible as other:
            if other.thing == DISTURBED:
                continue
            raise
        return of_means(rest, begin, last, known, tolerance, 1.0 - share * (1.0 - left_out))
    raise error


def _quantiles(fit: SettlingFit) -> tuple[float, float, float]:
    """2.5 %, middle and 97.5 % of the end [K]: normal distributions for each time constant, by their weights.

    Each is as wide at its ends as Student's distribution of the degrees of freedom.
    """
    wider = float(scipy.special.stdtrit(fit.freedom, 0.975)) / 1.96
    ends = fit.profile.linear[:, 0]
    u = wider * np.sqrt(fit.profile.inverse[:, 0, 0] * fit.square)
    counts = fit.weights > NO_WEIGHT
    levels = np.linspace((ends - WIDE * u)[counts].min(), (ends + WIDE * u)[counts].max(), LEVELS)
    below = fit.weights[counts] @ scipy.special.ndtr((levels - ends[counts, None]) / u[counts, None])
    low, middle, high = np.interp([0.025, 0.5, 0.975], below, levels)
    return float(low), float(middle), float(high)
