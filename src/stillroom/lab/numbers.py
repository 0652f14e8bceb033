"""One number of an answer: a value with its interval, its way and its key, or why there is none."""

from __future__ import annotations

from dataclasses import dataclass

from stillroom.compare.candidates import Bound, Candidate, How
from stillroom.core.intervals import coverage_interval
from stillroom.measures import Measure


@dataclass(frozen=True)
class Number:
    """One number of an answer, in SI.

    Parameters
    ----------
    measure : what it is. value, low, high : with its 95 % interval; None where it is unknown.
    how : measured, interpolated, modelled, or unknown. is_range : whether one value would be a lie.
    marks : what must be said beside it. key : for `trace`. samples, mountings : what it rests on.
    why : why it is unknown, or "". left_out : mountings that could not be used for it, each with why.
    bound : whether the value is a bound. ends : both ends of a range; else None.
    """

    measure: Measure
    value: float | None
    low: float | None
    high: float | None
    how: How
    is_range: bool = False
    marks: tuple[str, ...] = ()
    key: str = ""
    samples: int = 0
    mountings: int = 0
    why: str = ""
    left_out: tuple[tuple[str, str], ...] = ()
    bound: Bound = Bound.NONE
    ends: tuple[float, float] | None = None


def number_of(measure: Measure, found: Candidate) -> Number:
    """A fan's value as a number of an answer."""
    low, _ = coverage_interval(found.low_trials)
    _, high = coverage_interval(found.high_trials)
    return Number(
        measure,
        found.value,
        float(low),
        float(high),
        found.how,
        found.ends is not None,
        found.marks,
        found.key,
        found.samples,
        found.mountings,
        bound=found.bound,
        ends=(found.ends.low, found.ends.high) if found.ends else None,
    )
