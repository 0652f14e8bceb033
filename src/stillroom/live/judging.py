"""The account that is kept of a step while it grows: what was read once is not worked through again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.heat.forecast import TimeConstant
from stillroom.core.heat.running import Running
from stillroom.errors import NotPossible
from stillroom.methods.heat.stepping import Judged, tau_to_judge_by

SAME = 0.002
"""Readings that moved by less than this, because the mean power did, are the readings that were taken [K]."""


class Account:
    """Judges one growing step, as `methods.heat.stepping.judge` does a whole one."""

    def __init__(self) -> None:
        self._running, self._taken = Running(), 0
        self._first, self._last = np.nan, np.nan
        self._tau: float | None = None
        """The last time constant that was found: a disturbance that hides it doesn't change it."""

    def __call__(self, times: Array, rise: Array, known: TimeConstant | None, tolerance: float) -> Judged:
        """What is said of the step so far."""
        self._take(times, rise, tolerance)
        self._running.known = known
        why, found = "", None
        try:
            found = self._running.forecast()
        except NotPossible as error:
            why = error.sentence()
        self._tau = found.tau if found else known.tau if known else self._tau
        tau = self._tau or tau_to_judge_by(times, found, known)
        if tau is None:
            return Judged(None, found, why)
        try:
            steady = self._running.steadiness(tau)
        except NotPossible as error:
            return Judged(None, found, why or error.sentence())
        left_out = ~np.isfinite(rise)
        left_out[~left_out] = steady.left_out
        return Judged(replace(steady, left_out=left_out), found, why)

    def _take(self, times: Array, rise: Array, tolerance: float) -> None:
        """Take the new readings; all of them where those before are not the same any more."""
        at = self._taken - 1
        grown = 0 <= at < len(times) and times[0] == self._first
        if not (grown and tolerance == self._running.tolerance and abs(rise[at] - self._last) <= SAME):
            self._running, at = Running(tolerance=tolerance), -1
        self._running.extend(times[at + 1 :], rise[at + 1 :])
        there = np.flatnonzero(np.isfinite(rise))
        self._taken = int(there[-1]) + 1 if there.size else 0
        self._first, self._last = times[0], rise[self._taken - 1] if self._taken else np.nan
