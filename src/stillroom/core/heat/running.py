"""Steadiness and forecast of a run that is still growing, kept up to date reading by reading.

The numbers are those of the whole series: readings join the same spans, and spans join in pairs where they grow too
many. What is worked out for a new reading hangs on the window and on 64 means, not on how long the run is.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.heat.bins import CONTEXT, MOST, Binned, spikes, width_for
from stillroom.core.heat.forecast import FEWEST, Forecast, TimeConstant, of_means
from stillroom.core.heat.steady import LONGER, Cleaned, Look, Steadiness, first_steady, moments
from stillroom.errors import BadInput, NotPossible

OPEN = CONTEXT // 2
"""The last readings, of which it isn't known for good yet whether they are spikes."""

SAME_TAU = 0.05
"""A time constant within this share of the one before is the one before, where it is looked back."""


class Running:
    """A series that grows.

    Parameters
    ----------
    tolerance : what may still drift where a run is called steady [K]. known : what is known of the time constant.
    windows : time constants that are looked at for steadiness, at least three.
    """

    def __init__(
        self, *, tolerance: float = 0.05, known: TimeConstant | None = None, windows: float = 3.0
    ) -> None:
        self.tolerance, self.known, self.windows = tolerance, known, windows
        self._count = self._given = 0
        self._times, self._values = np.empty(1024), np.empty(1024)
        self._good: NDArray[np.bool_] = np.empty(1024, dtype=np.bool_)
        self._spans = _Spans()
        self._looks: dict[float, bool] = {}
        self._tau = math.nan

    def __len__(self) -> int:
        """Finite readings so far."""
        return self._count

    def add(self, time: float, value: float) -> None:
        """Take one more reading, at a time [s] later than the last one's; one that isn't finite is a gap."""
        self.extend(np.array([time]), np.array([value]))

    def extend(self, times: Array, values: Array) -> None:
        """Take more readings [s, K], shape (k,).

        Raises
        ------
        BadInput : times that don't rise.
        """
        finite = np.isfinite(values)
        times, values = times[finite], values[finite]
        if times.size == 0:
            return
        before = self._times[self._count - 1] if self._count else -np.inf
        if not (times[0] > before and np.all(times[1:] > times[:-1])):
            raise BadInput(
                "times of a series", found="times that stand still or fall", expected="rising times"
            )
        begin, self._count = self._count, self._count + times.size
        self._make_room()
        self._times[begin : self._count], self._values[begin : self._count] = times, values
        unsure = max(begin - OPEN, 0)
        context = max(unsure - CONTEXT, 0)
        flags = ~spikes(self._values[context : self._count])
        self._good[unsure : self._count] = flags[unsure - context :]
        self._settle()

    def steadiness(self, tau: float) -> Steadiness:
        """As `steady.steadiness` of all readings so far; τ in s. What is left out is told of the window only."""
        if not self._count or not self._good[: self._count].any():
            raise NotPossible(
                "steadiness", found="no readings", expected=f"{self.windows * tau:.0f} s of them"
            )
        last = float(self._times[self._count - 1 - np.argmax(self._good[: self._count][::-1])])
        now, begin = self._look(last, tau)
        left_out = ~self._good[: self._count]
        left_out[begin + np.flatnonzero(self._good[begin : self._count])[now.disturbed]] = True
        since = self._since(last, tau) if now.is_steady else None
        window = self.windows * tau
        return Steadiness(now.is_steady, now.slope, now.u_slope, now.bound, tau, window, since, left_out)

    def forecast(self) -> Forecast:
        """As `forecast.forecast` of all readings so far."""
        if self._count < FEWEST:
            raise NotPossible("forecast", found=f"{self._count} readings", expected=f"at least {FEWEST}")
        first, last = float(self._times[0]), float(self._times[self._count - 1])
        tail = slice(self._given, self._count)
        good = self._good[tail]
        means = self._spans.with_tail(self._times[tail][good], self._values[tail][good])
        left_out = 1.0 - float(np.count_nonzero(self._good[: self._count])) / self._count
        return of_means(means, first, last, self.known, self.tolerance, left_out)

    def _make_room(self) -> None:
        while self._count > self._times.size:
            self._times = np.concatenate([self._times, np.empty_like(self._times)])
            self._values = np.concatenate([self._values, np.empty_like(self._values)])
            self._good = np.concatenate([self._good, np.empty_like(self._good)])

    def _settle(self) -> None:
        """Give the readings to the spans that are known for good."""
        self._spans.last(float(self._times[0]), float(self._times[self._count - 1]))
        given = max(self._count - OPEN, self._given)
        new = slice(self._given, given)
        good = self._good[new]
        self._spans.give(self._times[new][good], self._values[new][good])
        self._given = given

    def _look(self, moment: float, tau: float, *, back: bool = False) -> tuple[Look, int]:
        """The test at a moment [s], and the first reading that it was given."""
        times = self._times[: self._count]
        begin = max(int(np.searchsorted(times, moment - LONGER * self.windows * tau)) - 1, 0)
        good = self._good[begin : self._count]
        here, values = times[begin:][good], self._values[begin : self._count][good]
        series = Cleaned(here, values, tau, self.tolerance, self.windows * tau, self._first)
        return series.look(moment, back=back), begin

    @property
    def _first(self) -> float:
        """The first good reading's moment [s]."""
        return float(self._times[np.argmax(self._good[: self._count])])

    def _since(self, last: float, tau: float) -> float:
        """The moment from which all looks found it steady [s]; looks at what is settled are remembered."""
        if not abs(tau / self._tau - 1.0) <= SAME_TAU:
            self._looks, self._tau = {}, tau
        settled = self._times[max(self._count - 1 - OPEN, 0)]
        first = self._first

        def is_steady(moment: float) -> bool:
            known = self._looks.get(moment)
            if known is None:
                known = self._look(moment, self._tau, back=True)[0].is_steady
                if moment <= settled:
                    self._looks[moment] = known
            return known

        return first_steady(moments(first, last, self._tau, self.windows * self._tau), last, is_steady)


class _Spans:
    """Sums of readings over spans of 2ᵏ seconds, at most 64 of them."""

    def __init__(self) -> None:
        self.first, self.width = 0.0, 1.0
        self.sums = np.zeros((3, MOST))
        """Of times since the first, of values, and how many."""

    def last(self, first: float, last: float) -> None:
        """Take note of the last moment [s]: spans join in pairs where there would be too many."""
        self.first = first
        while self.width < width_for(last - first):
            self.width *= 2.0
            self.sums = np.concatenate(
                [self.sums[:, ::2] + self.sums[:, 1::2], np.zeros((3, MOST // 2))], axis=1
            )

    def give(self, times: Array, values: Array) -> None:
        """Take readings [s, K]."""
        self.sums += self._of(times, values)

    def with_tail(self, times: Array, values: Array) -> Binned:
        """The means with further readings [s, K] that aren't given yet."""
        sums = self.sums + self._of(times, values)
        there = np.flatnonzero(sums[2] > 0.0)
        counts = sums[2, there]
        return Binned(self.first + sums[0, there] / counts, sums[1, there] / counts, self.width, there)

    def _of(self, times: Array, values: Array) -> Array:
        """What some readings add to the sums."""
        since = times - self.first
        spans = np.floor(since / self.width).astype(np.intp)
        each = (since, values, np.ones_like(since))
        return np.stack([np.bincount(spans, weights=one, minlength=MOST) for one in each])
