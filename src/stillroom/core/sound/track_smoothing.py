"""A track of readings with uncertainties, joined over time by its speed and acceleration; gaps are bridged."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array

Flags = NDArray[np.bool_]

RESTLESS = (0.0003, 0.001, 0.003, 0.01, 0.03, 0.1, 0.3)
"""How much the rate of change may wander, over the mean reading [1/s per root second]; the likeliest is taken."""

OUTLIER = 4.0
"""A reading this many standard uncertainties off what the others say loses its trust."""


def smoothed(times: Array, readings: Array, u: Array, trusted: Flags) -> tuple[Array, Array, Flags]:
    """The track through trusted readings.

    Parameters
    ----------
    times : of the readings [s], rising, shape (f,).
    readings, u : readings and their standard uncertainties, in one unit, shape (f,).
    trusted : readings that count, shape (f,).

    Returns
    -------
    the track, its standard uncertainty (with what the readings miss it by), and the readings that kept trust.
    """
    kept = trusted & np.isfinite(u)
    scale = float(np.median(np.abs(readings[kept])))
    rates = [scale * restless for restless in RESTLESS]
    rate = max(rates, key=lambda each: _Smoother(times, readings, u, kept, each).likelihood)
    for _ in range(2):
        smoother = _Smoother(times, readings, u, kept, rate)
        track, sigma = smoother.back()
        off = np.abs(readings - track) / np.hypot(u, sigma)
        spread = max(1.0, float(np.sqrt(np.mean(np.minimum(off[kept], OUTLIER) ** 2))))
        kept &= off <= OUTLIER * spread
    track, sigma = _Smoother(times, readings, u * spread, kept, rate).back()
    return track, sigma, kept


State = tuple[float, float, float, float, float]
"""Value, rate, and their variances and covariance: (x, v, p_xx, p_xv, p_vv)."""


class _Smoother:
    """Kalman's filter over value and rate, and the smoother back (Rauch, Tung, Striebel, AIAA J. 3, 1965)."""

    def __init__(self, times: Array, readings: Array, u: Array, kept: Flags, rate: float) -> None:
        self.likelihood = 0.0
        self._gaps = np.diff(times, prepend=times[0]).tolist()
        self._ahead: list[State] = []
        self._here: list[State] = []
        first = int(np.argmax(kept))
        x = float(readings[first])
        state: State = (x, 0.0, 100.0 * float(u[first]) ** 2 + (0.05 * x) ** 2, 0.0, (0.3 * x) ** 2)
        rows = zip(self._gaps, readings.tolist(), (u**2).tolist(), kept.tolist(), strict=True)
        for gap, reading, variance, keep in rows:
            state = _moved(state, gap, rate**2)
            self._ahead.append(state)
            if keep:
                x, v, xx, xv, vv = state
                s, off = xx + variance, reading - x
                self.likelihood -= 0.5 * (math.log(s) + min(off**2 / s, 16.0))
                a, b = xx / s, xv / s
                state = (x + a * off, v + b * off, xx - a * xx, xv - a * xv, vv - b * xv)
            self._here.append(state)

    def back(self) -> tuple[Array, Array]:
        """The track and its standard uncertainty, each with all readings before and after."""
        later = self._here[-1]
        states = [later]
        for here, ahead, gap in zip(self._here[-2::-1], self._ahead[:0:-1], self._gaps[:0:-1], strict=True):
            later = _looked_back(here, ahead, later, gap)
            states.append(later)
        table = np.array(states[::-1])
        return table[:, 0], np.sqrt(np.maximum(table[:, 2], 0.0))


def _moved(state: State, gap: float, power: float) -> State:
    """A state some time later, its rate having wandered."""
    x, v, xx, xv, vv = state
    return (
        x + gap * v,
        v,
        xx + 2.0 * gap * xv + gap**2 * vv + power * gap**3 / 3.0,
        xv + gap * vv + power * gap**2 / 2.0,
        vv + power * gap,
    )


def _looked_back(here: State, ahead: State, later: State, gap: float) -> State:
    """A state with what is known of the next one: `ahead` as it was foreseen, `later` as it turned out."""
    x, v, xx, xv, vv = here
    _, _, f_xx, f_xv, f_vv = ahead
    det = f_xx * f_vv - f_xv**2
    m_xx, m_xv, m_vx, m_vv = xx + gap * xv, xv, xv + gap * vv, vv  # covariance of here with the next
    g_xx, g_xv = (m_xx * f_vv - m_xv * f_xv) / det, (m_xv * f_xx - m_xx * f_xv) / det
    g_vx, g_vv = (m_vx * f_vv - m_vv * f_xv) / det, (m_vv * f_xx - m_vx * f_xv) / det
    dx, dv, d_xx, d_xv, d_vv = (b - a for a, b in zip(ahead, later, strict=True))
    return (
        x + g_xx * dx + g_xv * dv,
        v + g_vx * dx + g_vv * dv,
        xx + g_xx**2 * d_xx + 2.0 * g_xx * g_xv * d_xv + g_xv**2 * d_vv,
        xv + g_xx * g_vx * d_xx + (g_xx * g_vv + g_xv * g_vx) * d_xv + g_xv * g_vv * d_vv,
        vv + g_vx**2 * d_xx + 2.0 * g_vx * g_vv * d_xv + g_vv**2 * d_vv,
    )
