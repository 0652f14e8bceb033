"""Control charts of a check standard: one value a check, judged by the checks before it.

Two charts on one axis. The individuals chart (Shewhart) sees a sudden large change at once; the exponentially
weighted moving average (EWMA) sees a small lasting one after some checks.

The base period is the era's first ten checks; until then nothing is established. After that each further check
that lies inside its limits joins the base, until it holds thirty: limits narrow while the lab learns, and then
stand. A check is always judged by the base that was there before it, so a limit never moves under a check that
was judged, and a drift is not taken into its own limits.

The standard deviation s is that of the base (n − 1 degrees of freedom), not a moving range: a prediction with
Student's t then keeps exactly the risk that 3 s has where s and the centre are known (0.27 %); from ten checks
3 s itself would cry wolf ten times as often. So "3 s" here is t(0.99865; n − 1) · s · √(1 + 1/n): 4.3 s with
ten checks, 3.3 s with thirty. "2 s" and the limits of the EWMA are widened in the same way.

Sources: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (individuals charts), 6.3.2.4 (EWMA) and
2.2.2 (control of a check standard); exact limits of the EWMA and λ with L: Lucas & Saccucci, Technometrics 32
(1990) 1; two of three beyond 2 s: Western Electric rules, run lengths in Champ & Woodall, Technometrics 29
(1987) 393; limits from few checks by prediction: Hillier, Journal of Quality Technology 1 (1969) 17, and
Quesenberry, Journal of Quality Technology 23 (1991) 213 (the last four from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import scipy

from stillroom.core.arrays import Array
from stillroom.errors import BadInput, OutOfRange

ESTABLISHED, FULL_BASE = 10, 30
"""Checks from which limits are established, and with which the base period is complete."""

WEIGHT, EWMA_WIDTH = 0.2, 2.962
"""λ and L: with known centre and s a false signal comes once in 500 checks (Lucas & Saccucci 1990)."""

ACTION_WIDTH, WARNING_WIDTH = 3.0, 2.0

_ROUNDING, _TINY = 1e-12, 1e-300  # equal values still have a standard deviation that can be divided by


class Signal(StrEnum):
    """What a control chart says of a check."""

    OUTSIDE = "outside 3 s"
    TWO_OF_THREE = "two of three beyond 2 s"
    EWMA = "EWMA outside its limits"


@dataclass(frozen=True)
class Base:
    """What checks are judged by.

    Parameters
    ----------
    centre, sd : mean and standard deviation of the base period, in the unit of the values.
    count : how many checks they rest on; ∞ where both are known.
    reading_u : standard uncertainty of one check by its readings alone, in the same unit.
    """

    centre: float
    sd: float
    count: float = math.inf
    reading_u: float = 0.0

    @classmethod
    def of(cls, values: Sequence[float], reading_u: float = 0.0) -> Base:
        """The base that some checks make, with n − 1 degrees of freedom.

        Parameters
        ----------
        values : the checks. reading_u : standard uncertainty of one check by its readings alone, in their unit.

        Raises
        ------
        OutOfRange : fewer than two checks. BadInput : a value that is not a finite number.
        """
        if len(values) < 2:
            raise OutOfRange("base period", found=f"{len(values)} checks", expected="at least two")
        given = np.asarray(values, dtype=np.float64)
        if not np.isfinite(given).all():
            raise BadInput("base period", found="a value that is not a number", expected="finite values")
        centre = float(given.mean())
        sd = max(float(given.std(ddof=1)), _ROUNDING * abs(centre), _TINY)
        return cls(centre, sd, float(len(values)), reading_u)

    def reach(self, width: float, share: float = 1.0) -> float:
        """How far from the centre a limit of `width` standard deviations lies, in the unit of the values.

        As any limit it is the larger of its own and what the readings allow: 3 s is never less than 2 u.

        Parameters
        ----------
        width : in standard deviations, as if centre and s were known.
        share : variance of what is judged in units of s² (1 for one check, less for an average) [1].
        """
        factor = width
        if math.isfinite(self.count):
            factor = float(scipy.special.stdtrit(self.count - 1.0, float(scipy.special.ndtr(width))))
        least = width * 2.0 / 3.0 * self.reading_u * math.sqrt(share)
        return max(factor * self.sd * math.sqrt(share + 1.0 / self.count), least)


@dataclass(frozen=True)
class Limits:
    """The limits under which one check was judged, all in the unit of the values.

    Parameters
    ----------
    base : centre, s and number of checks. low, high : action limits ("3 s").
    ewma : the average at this check. ewma_low, ewma_high : its limits.
    """

    base: Base
    low: float
    high: float
    ewma: float
    ewma_low: float
    ewma_high: float


@dataclass(frozen=True)
class Check:
    """One check: its value, the limits (None while they aren't established), what the chart says."""

    value: float
    limits: Limits | None
    signals: tuple[Signal, ...] = ()


def ewma(values: Sequence[float], start: float, weight: float = WEIGHT) -> Array:
    """The exponentially weighted moving average after each value, shape (n,), in their unit.

    Parameters
    ----------
    values : in the order of time.
    start : EWMA₀, the target or the historical mean.
    weight : λ, how much the newest value counts [1].

    Raises
    ------
    OutOfRange : a weight that is not above 0 and at most 1.

    Source: NIST/SEMATECH e-Handbook, 6.3.2.4: EWMA_t = λ Y_t + (1 − λ) EWMA_{t−1}.
    """
    _check_weight(weight)
    averages = np.empty(len(values))
    last = start
    for place, value in enumerate(values):
        last = weight * value + (1.0 - weight) * last
        averages[place] = last
    return averages


def ewma_share(count: int, weight: float = WEIGHT) -> float:
    """Variance of the EWMA after `count` values, in units of one value's variance [1].

    It grows from λ² to λ/(2 − λ). OutOfRange for a weight that is not above 0 and at most 1.

    Source: Lucas & Saccucci (1990), exact form; the e-Handbook, 6.3.2.4, gives its end λ/(2 − λ).
    """
    _check_weight(weight)
    return weight / (2.0 - weight) * (1.0 - (1.0 - weight) ** (2 * count))


def _check_weight(weight: float) -> None:
    if not 0.0 < weight <= 1.0:
        raise OutOfRange("weight λ of an EWMA", found=str(weight), expected="above 0, at most 1")


def judge(values: Sequence[float], *, reading_u: float = 0.0, known: Base | None = None) -> tuple[Check, ...]:
    """Each check of one era, in the order of time, judged by those before it.

    The EWMA runs over what lies after the first ten checks, in standard deviations of the base that judges
    each, and is shown in the unit of the values.

    Parameters
    ----------
    values : one a check.
    reading_u : standard uncertainty of one check by its readings alone, in their unit; 3 s is never less than 2 u.
    known : centre and s that are known from elsewhere; then all checks are judged by them.

    Raises
    ------
    BadInput : a value that is not a finite number.
    """
    if not all(map(math.isfinite, values)):
        raise BadInput("checks", found="a value that is not a number", expected="finite values")
    base = [] if known else list(values[:ESTABLISHED])
    first = len(base)
    checks = [Check(value, None) for value in base]
    beyond: list[int] = []  # which side of 2 s each judged check lies on, 0 for inside
    average = 0.0
    for count, value in enumerate(values[first:], start=1):
        by = known or Base.of(base, reading_u)
        average = WEIGHT * (value - by.centre) / by.sd + (1.0 - WEIGHT) * average
        limits = _limits(by, average, count)
        beyond.append(_side(value, by))
        signals = _signals(value, limits, beyond)
        checks.append(Check(value, limits, signals))
        if Signal.OUTSIDE not in signals and len(base) < FULL_BASE:
            base.append(value)
    return tuple(checks)


def _limits(base: Base, average: float, count: int) -> Limits:
    reach, room = base.reach(ACTION_WIDTH), base.reach(EWMA_WIDTH, ewma_share(count))
    at = base.centre + average * base.sd
    return Limits(base, base.centre - reach, base.centre + reach, at, base.centre - room, base.centre + room)


def _side(value: float, base: Base) -> int:
    off = value - base.centre
    return 0 if abs(off) <= base.reach(WARNING_WIDTH) else (1 if off > 0.0 else -1)


def _signals(value: float, limits: Limits, beyond: Sequence[int]) -> tuple[Signal, ...]:
    here, last = beyond[-1], beyond[-3:]
    applies = {
        Signal.OUTSIDE: not limits.low <= value <= limits.high,
        Signal.TWO_OF_THREE: here != 0 and sum(side == here for side in last) >= 2,
        Signal.EWMA: not limits.ewma_low <= limits.ewma <= limits.ewma_high,
    }
    return tuple(signal for signal, does in applies.items() if does)
