"""What goes into a ranking: candidates with trials in common, a margin, and fans that can't be ranked."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum, StrEnum

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.combine import VarianceParts
from stillroom.core.draws import normal_draws
from stillroom.errors import BadInput


class How(StrEnum):
    """How a number was obtained."""

    MEASURED = "measured"
    INTERPOLATED = "interpolated"
    MODELLED = "modelled"
    LEGACY = "legacy"
    UNKNOWN = "unknown"


class Bound(StrEnum):
    """What the value of a fan is, when it is not simply its value."""

    NONE = ""
    AT_LEAST = "at least"
    AT_MOST = "at most"
    RANGE = "range"


class MarginKind(StrEnum):
    """How a practical margin is given."""

    ABSOLUTE = "absolute"
    RELATIVE = "relative"


@dataclass(frozen=True)
class Margin:
    """The smallest difference that a user would notice; fixed before the data are seen.

    Parameters
    ----------
    size : in the measure's SI unit, or as a share of the mean of the two values compared [1].
    kind : which of the two.

    Raises
    ------
    BadInput : a size that is negative or not a finite number.
    """

    size: float
    kind: MarginKind = MarginKind.ABSOLUTE

    def __post_init__(self) -> None:
        """Refuse a margin that can't be one."""
        if not (math.isfinite(self.size) and self.size >= 0.0):
            raise BadInput("practical margin", found=str(self.size), expected="a number, 0 or more")

    def between(self, first: Array, second: Array) -> Array:
        """The margin of each pair, in SI, from the values of the two fans, shape (P,)."""
        if self.kind is MarginKind.ABSOLUTE:
            return np.full(first.shape, self.size)
        return self.size * (np.abs(first) + np.abs(second)) / 2.0


@dataclass(frozen=True)
class Ends:
    """The two ends of a value that is not unique, SI, with their trials, shape (M,)."""

    low: float
    high: float
    low_trials: Array
    high_trials: Array


@dataclass(frozen=True)
class Candidate:
    """One fan as it enters a ranking; all in SI.

    Parameters
    ----------
    fan : its name, unique in the ranking.
    value : the number that is published; with AT_LEAST or AT_MOST the bound itself.
    trials : trial values in common with the other fans, shape (M,).
    parts : what its variance is made of.
    how : how the number was obtained.
    samples, mountings : what it rests on.
    key : key of the result, for tracing.
    marks : words that stand beside the number.
    bound : whether the value is a bound.
    ends : for a value that is not unique, its range; then `bound` is RANGE.
    """

    fan: str
    value: float
    trials: Array
    parts: VarianceParts
    how: How
    samples: int
    mountings: int
    key: str
    marks: tuple[str, ...] = ()
    bound: Bound = Bound.NONE
    ends: Ends | None = None

    def __post_init__(self) -> None:
        """Refuse a candidate that contradicts itself.

        Raises
        ------
        BadInput : a value that is not finite, a range without ends or ends without a range, no mounting.
        """
        if not math.isfinite(self.value):
            raise BadInput(f"value of {self.fan}", found=str(self.value), expected="a finite number")
        if (self.bound is Bound.RANGE) != (self.ends is not None):
            raise BadInput(
                f"range of {self.fan}", found="a range without both ends", expected="both, or neither"
            )
        if self.samples < 1 or self.mountings < self.samples:
            raise BadInput(
                f"replication of {self.fan}",
                found=f"{self.samples} samples, {self.mountings} mountings",
                expected="at least one of each, and no more samples than mountings",
            )

    @property
    def low_value(self) -> float:
        """Lower end of what the fan's value may be; −∞ where it isn't known."""
        if self.bound is Bound.AT_MOST:
            return -math.inf
        return self.value if self.ends is None else self.ends.low

    @property
    def high_value(self) -> float:
        """Upper end of what the fan's value may be; ∞ where it isn't known."""
        if self.bound is Bound.AT_LEAST:
            return math.inf
        return self.value if self.ends is None else self.ends.high

    @property
    def low_trials(self) -> Array:
        """Trials of the lower end, shape (M,)."""
        return self.trials if self.ends is None else self.ends.low_trials

    @property
    def high_trials(self) -> Array:
        """Trials of the upper end, shape (M,)."""
        return self.trials if self.ends is None else self.ends.high_trials


@dataclass(frozen=True)
class LegacyNumber:
    """A finished number from before, without raw data, as it stands in a ranking; all in SI.

    It stands under the measured fans, has no rank, is never the leader, nor among the possible bests. With an
    interval it is compared with the others, as an error of its own that nothing shares; without one nothing is
    said of it.

    Parameters
    ----------
    fan, value : the fan and its number. low, high : its 95 % interval as it was told; None where it has none.
    key : of the record. marks : words that stand beside the number.
    """

    fan: str
    value: float
    low: float | None
    high: float | None
    key: str
    marks: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a number that contradicts itself.

        Raises
        ------
        BadInput : no finite number, one end of an interval only, or a value outside its interval.
        """
        given = [each for each in (self.value, self.low, self.high) if each is not None]
        if not all(map(math.isfinite, given)):
            raise BadInput(f"legacy number of {self.fan}", found=str(given), expected="finite numbers")
        if len(given) == 2:
            raise BadInput(
                f"interval of the legacy number of {self.fan}", found="one end", expected="both or none"
            )
        if self.low is not None and self.high is not None and not self.low <= self.value <= self.high:
            raise BadInput(
                f"interval of the legacy number of {self.fan}",
                found=f"{self.low:g} to {self.high:g}",
                expected=f"one that holds {self.value:g}",
            )

    def as_candidate(self, trials: int) -> Candidate | None:
        """As it is compared: normal on either side with the half-width told, by draws of its own; None without."""
        if self.low is None or self.high is None:
            return None
        draws = normal_draws(f"legacy/{self.key}", trials)
        down, up = (self.value - self.low) / NORMAL_95, (self.high - self.value) / NORMAL_95
        sd = (down + up) / 2.0
        parts = VarianceParts(0.0, 0.0, (1,), {f"legacy/{self.key}": sd})
        spread = self.value + draws * np.where(draws < 0.0, down, up)
        return Candidate(self.fan, self.value, spread, parts, How.LEGACY, 1, 1, self.key, self.marks)


NORMAL_95 = 1.959963984540054
"""Half-width of a normal 95 % interval in standard deviations."""


class StandingVerdict(Enum):
    """What may be said of a fan in the list, against the leader."""

    LEADER = "leader"
    TIED = "tied with the leader"
    NOT_RESOLVED = "not resolved"
    BEHIND = "behind"


@dataclass(frozen=True)
class Excluded:
    """A fan that can't be ranked, and why; `measured` where it has measurements and belongs to the comparison."""

    fan: str
    why: str
    measured: bool = False
