"""Current at the start: its peak, how long it stands, and what the record can tell."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.control.control_mounting import Inrush
from stillroom.core.standards.pwm_fans_4_wire import STEADY_CURRENT
from stillroom.errors import NotPossible

FEWEST = 10
"""Fewest readings of a record of current."""

FEWEST_IN_PEAK = 5
"""With fewer readings above half the excess the peak lies between readings: it is at least what was read."""

LEFT = 0.1
"""The inrush is over when this share of its excess is left [1]."""


def inrush_of(times: Array, currents: Array, relative_u: float = 0.0) -> Inrush:
    """Peak and length of the current at a start.

    Parameters
    ----------
    times : rising, (n,) [s].
    currents : of one start, (n,) [A].
    relative_u : of the ammeter, standard, relative [1].

    Returns
    -------
    With the median of the last third as steady current. The peak is a bound where the record is too coarse for it.

    Raises
    ------
    NotPossible : too few readings, times that don't rise, or no current above the steady one.
    """
    if len(times) < FEWEST or not bool((np.diff(times) > 0.0).all()):
        raise NotPossible(
            "inrush",
            found=f"{len(times)} readings in their order",
            expected=f"at least {FEWEST}, with rising times",
        )
    unread = int(np.count_nonzero(~np.isfinite(currents)))
    if unread:
        raise NotPossible(
            "inrush",
            found=f"{unread} readings without a value",
            expected="every one, for the peak may be what the meter could not show",
        )
    steady = float(np.median(currents[-(len(currents) // 3) :]))
    noise = float(np.std(currents[-(len(currents) // 3) :], ddof=1))
    at = int(np.argmax(currents))
    peak = float(currents[at])
    excess = peak - steady
    if excess <= 3.0 * noise or excess <= 0.0:
        raise NotPossible(
            "inrush", found="no current above the steady one", expected="a record that begins at the start"
        )
    half = _stretch(currents >= steady + 0.5 * excess, at)
    step = float(np.median(np.diff(times)))
    above = _stretch(currents >= steady + LEFT * excess, at)
    length = float(times[above[1] - 1] - times[above[0]]) + step
    over = int((currents > STEADY_CURRENT.high).sum()) * step
    return Inrush(
        peak=peak,
        u=float(np.hypot(noise, relative_u * peak)),
        is_bound=half[1] - half[0] < FEWEST_IN_PEAK,
        length=length,
        steady=steady,
        above_limit=over,
    )


def _stretch(is_high: NDArray[np.bool_], at: int) -> tuple[int, int]:
    """[first, last) of the readings around one that are all high."""
    first, last = at, at + 1
    while first > 0 and is_high[first - 1]:
        first -= 1
    while last < len(is_high) and is_high[last]:
        last += 1
    return first, last


def peak_told(peaks: Array, relative_u: float = 0.0) -> Inrush:
    """The greatest of peaks that were read off a clamp or a scope, without a record: at least that.

    Parameters
    ----------
    peaks : one or more [A].
    relative_u : of the reading, standard, relative [1].
    """
    peak = float(np.max(peaks))
    return Inrush(peak, relative_u * peak, True, None, None, None)
