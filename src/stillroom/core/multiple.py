"""Many fans compared at once, over trials in common.

Three questions, three answers: how far apart are two fans (all pairwise differences); which fans can't be
excluded as the best; and between which ranks does each fan lie, for all fans at once.

Sources: two one-sided tests, Schuirmann, J. Pharmacokin. Biopharm. 15 (1987) 657; multiple comparisons with
the best, Hsu, Multiple Comparisons (1996), ch. 4; simultaneous rank intervals from all pairwise differences,
Mogstad, Romano, Shaikh & Wilhelm, Rev. Econ. Studies 91 (2024) 476. Critical values come from the trials
(JCGM 101) instead of tables, so that shared errors and unequal spreads are taken as they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.intervals import coverage_ranks
from stillroom.errors import BadInput

PROBABILITY = 0.95
"""Coverage of differences, of the set of possible bests and of the rank intervals [1]."""

TIE_PROBABILITY = 0.90
"""Coverage of the interval that two one-sided tests at 5 % compare with the margin [1]."""

_SAME = 1e-12  # spread of a difference below this share of the values is rounding, not spread


class Merit(Enum):
    """Which way a measure is better."""

    MORE = "more is better"
    LESS = "less is better"


class Verdict(Enum):
    """What may be said of one fan against another."""

    AHEAD = "ahead"
    BEHIND = "behind"
    TIED = "tied"
    NOT_RESOLVED = "not resolved"


@dataclass(frozen=True)
class Contest:
    """The fans that are compared, each between a low and a high end; the ends of a plain value are equal.

    Parameters
    ----------
    low_values, high_values : central ends, shape (F,); −∞ or ∞ where an end is not known (a bound).
    low, high : trials of the ends, shape (F, M); an end that isn't known decides nothing, its row holds any
        finite numbers.
    """

    low_values: Array
    high_values: Array
    low: Array
    high: Array

    def __post_init__(self) -> None:
        """Refuse what can't be compared.

        Raises
        ------
        BadInput : no fan, shapes that don't fit, or a trial that is not a finite number.
        """
        fans = self.low_values.size
        if fans == 0 or self.high_values.shape != (fans,) or self.low_values.shape != (fans,):
            raise BadInput("fans to compare", found=f"{fans} fans", expected="at least one, two ends each")
        if self.low.ndim != 2 or self.low.shape != self.high.shape or self.low.shape[0] != fans:
            raise BadInput(
                "trials to compare", found=f"{self.low.shape} and {self.high.shape}", expected=f"({fans}, M)"
            )
        ends = (
            (self.low_values <= self.high_values) & (self.low_values < np.inf) & (self.high_values > -np.inf)
        )
        if not ends.all():
            raise BadInput(
                "values to compare",
                found="not a number, or a low end above the high one",
                expected="numbers, −∞ for an unknown low end, ∞ for an unknown high end",
            )
        if not (np.isfinite(self.low).all() and np.isfinite(self.high).all()):
            raise BadInput("trials to compare", found="not a finite number", expected="finite trials")

    @classmethod
    def of_values(cls, values: Array, trials: Array) -> Contest:
        """Fans with plain values, shape (F,), and their trials, shape (F, M)."""
        return cls(values, values, trials, trials)

    @property
    def exact(self) -> bool:
        """Whether every fan has one value."""
        return self.low is self.high and bool((self.low_values == self.high_values).all())

    def by_merit(self, merit: Merit) -> Contest:
        """The same fans on a scale where more is better."""
        if merit is Merit.MORE:
            return self
        low = -self.high
        return Contest(-self.high_values, -self.low_values, low, low if self.exact else -self.low)


@dataclass(frozen=True)
class PairDifferences:
    """All differences first − second, one row for each pair with first < second.

    Parameters
    ----------
    first, second : indices of the fans, shape (P,).
    least, most : central differences in the one and the other extreme of the ends (equal for plain values).
    low, high : 95 % interval; tie_low, tie_high : 90 % interval. −∞ or ∞ where an end is not known.
    """

    first: NDArray[np.intp]
    second: NDArray[np.intp]
    least: Array
    most: Array
    low: Array
    high: Array
    tie_low: Array
    tie_high: Array


def pair_differences(contest: Contest) -> PairDifferences:
    """Every fan minus every later one, with intervals from the trials in common.

    Streamed one fan at a time: never more than (F, M) numbers beside the trials themselves.

    Raises
    ------
    OutOfRange : too few trials for a 95 % interval.
    """
    fans, trials = contest.low.shape
    low_rank, high_rank = coverage_ranks(trials, PROBABILITY)
    tie_low_rank, tie_high_rank = coverage_ranks(trials, TIE_PROBABILITY)
    first, second = np.triu_indices(fans, k=1)
    low, high, tie_low, tie_high = (np.empty(first.size) for _ in range(4))
    lower, upper = (low_rank, tie_low_rank), (tie_high_rank, high_rank)
    at = 0
    for one in range(fans - 1):
        rows = slice(at, at + fans - 1 - one)
        least = contest.low[one] - contest.high[one + 1 :]
        least.partition(lower if not contest.exact else (*lower, *upper), axis=1)
        most = least
        if not contest.exact:
            most = contest.high[one] - contest.low[one + 1 :]
            most.partition(upper, axis=1)
        low[rows], tie_low[rows] = least[:, low_rank], least[:, tie_low_rank]
        high[rows], tie_high[rows] = most[:, high_rank], most[:, tie_high_rank]
        at = rows.stop
    least_value = contest.low_values[first] - contest.high_values[second]
    most_value = contest.high_values[first] - contest.low_values[second]
    open_below, open_above = np.isneginf(least_value), np.isposinf(most_value)
    low[open_below] = tie_low[open_below] = -np.inf
    high[open_above] = tie_high[open_above] = np.inf
    return PairDifferences(first, second, least_value, most_value, low, high, tie_low, tie_high)


def verdicts(pairs: PairDifferences, margins: Array, merit: Merit) -> list[Verdict]:
    """The verdict of each pair's first fan against its second.

    Ahead or behind: the 95 % interval excludes 0 and the difference is beyond the margin. Tied: the 90 %
    interval lies inside ± margin (two one-sided tests at 5 %). Not resolved: otherwise. The most
    unfavourable ends count where a fan has no single value.

    Parameters
    ----------
    pairs : the differences of all pairs.
    margins : practical margin of each pair, in the measure's unit, shape (P,), none negative.
    merit : which way is better.

    Raises
    ------
    BadInput : a margin that is negative or not a number.
    """
    if margins.shape != pairs.first.shape or not bool((margins >= 0.0).all()):
        raise BadInput(
            "practical margin", found="negative or not a number", expected="0 or more for each pair"
        )
    above = (pairs.low > 0.0) & (pairs.least > margins)
    below = (pairs.high < 0.0) & (pairs.most < -margins)
    tied = (pairs.tie_low > -margins) & (pairs.tie_high < margins)
    ahead, behind = (above, below) if merit is Merit.MORE else (below, above)
    choices: Sequence[tuple[NDArray[np.bool_], Verdict]] = (
        (ahead, Verdict.AHEAD),
        (behind, Verdict.BEHIND),
        (tied, Verdict.TIED),
    )
    found = [Verdict.NOT_RESOLVED] * int(margins.size)
    for where, verdict in reversed(choices):
        for index in np.flatnonzero(where):
            found[int(index)] = verdict
    return found


@dataclass(frozen=True)
class Field:
    """What holds for all fans at once.

    Parameters
    ----------
    best : whether a fan can't be excluded as the best, shape (F,).
    rank_from, rank_to : simultaneous interval of each fan's rank, 1 the best, shape (F,).
    best_critical : how many standard deviations exclude a fan as the best, shape (F,) [1].
    rank_critical : how many make a pair of fans differ when all pairs are judged at once [1].
    """

    best: NDArray[np.bool_]
    rank_from: NDArray[np.intp]
    rank_to: NDArray[np.intp]
    best_critical: Array
    rank_critical: float


def compare_field(contest: Contest, merit: Merit, *, probability: float = PROBABILITY) -> Field:
    """The set that can't be excluded as best, and simultaneous rank intervals.

    Fan i stays in the set unless max_j d_ji/s_ji > c_i, with c_i the 95 % quantile over trials of
    max_j (d_ji,t − mean)/s_ji: the true best is in the set in at least 95 % of rounds. The d_ji are the
    central differences, so that the fan with the best value always stays. A rank interval
    counts the rivals that are significantly better and worse, with one critical value for all pairs: the
    95 % quantile over trials of the largest standardised deviation of any pair, in either direction.

    A difference without spread (the same trials) is certain: it decides by its sign, and a zero decides
    nothing. An end that isn't known decides nothing either.

    Parameters
    ----------
    contest : values and trials of all fans.
    merit : which way is better.
    probability : coverage of the set and, separately, of all rank intervals together [1].

    Returns
    -------
    Field : arrays of shape (F,), in the order of the contest.
    """
    scale = contest.by_merit(merit)
    fans, trials = scale.low.shape
    low = scale.low - scale.low.mean(axis=1, keepdims=True)
    high = low if scale.exact else scale.high - scale.high.mean(axis=1, keepdims=True)
    low_known, high_known = np.isfinite(scale.low_values), np.isfinite(scale.high_values)
    low_centre = np.where(low_known, scale.low_values, 0.0)
    high_centre = np.where(high_known, scale.high_values, 0.0)
    size = np.abs(low_centre) + float(np.abs(high_centre).max())
    statistic = np.empty((fans, fans))  # row i, column j: how clearly j is better than i
    best, critical = np.empty(fans, dtype=np.bool_), np.empty(fans)
    widest = np.zeros(trials)
    for one in range(fans):
        gap = low - high[one]
        spread = np.sqrt(np.einsum("jt,jt->j", gap, gap) / trials)
        known = low_known & high_known[one]
        known[one] = False
        spread[spread <= _SAME * size] = 0.0
        statistic[one] = _standardised(low_centre - high_centre[one], spread, _SAME * size, known)
        weight = np.divide(1.0, spread, out=np.zeros(fans), where=known & (spread > 0.0))
        gap *= weight[:, None]
        largest = gap.max(axis=0)  # the fan's own row holds zeros, below any 95 % quantile of interest
        np.maximum(widest, largest, out=widest)
        critical[one] = _upper(largest, probability)
        best[one] = not bool((statistic[one] > critical[one]).any())
    overall = _upper(widest, probability)
    better = (statistic > overall).sum(axis=1)
    worse = (statistic > overall).sum(axis=0)
    return Field(best, 1 + better.astype(np.intp), fans - worse.astype(np.intp), critical, overall)


def _standardised(mean: Array, spread: Array, rounding: Array, known: NDArray[np.bool_]) -> Array:
    """Mean over spread; certain where there is no spread, undecided where nothing is known."""
    result = np.where(np.abs(mean) > rounding, np.copysign(np.inf, mean), 0.0)
    np.divide(mean, spread, out=result, where=spread > 0.0)
    result[~known] = -np.inf
    return result


def _upper(values: Array, probability: float) -> float:
    """The order statistic that at least a share `probability` of the values does not exceed."""
    rank = int(np.ceil(probability * values.size - 1e-9)) - 1
    return float(np.partition(values, rank)[rank])
