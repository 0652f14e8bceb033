"""Start attempts: how many succeeded, and what that proves."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import scipy

from stillroom.core.control.control_mounting import How, StartCount, Threshold
from stillroom.errors import OutOfRange

CONFIDENCE = 0.95
"""Of the one-sided bound [1]."""


@dataclass(frozen=True)
class Attempt:
    """One attempt to start, or several at one setting summarised.

    Parameters
    ----------
    setting : duty [1] or voltage [V]. attempts, started : how many.
    rested : how long it had stood before [s]; None where nobody told. cold : whether it was cold; None likewise.
    """

    setting: float
    attempts: int
    started: int
    rested: float | None = None
    cold: bool | None = None


def proven_share(started: int, attempts: int, confidence: float = CONFIDENCE) -> float:
    """The share of attempts that at least succeed, with one-sided confidence: the exact binomial bound.

    Parameters
    ----------
    started, attempts : how many.
    confidence : of the bound [1].

    Returns
    -------
    Lower bound of the probability of a start [1]; 10 of 10 give 0.741 at 95 %, α^(1/n) in closed form.

    Raises
    ------
    OutOfRange : no attempt, more starts than attempts, a confidence that is none.

    Source
    ------
    Clopper, C. J. & Pearson, E. S. (1934), The use of confidence or fiducial limits illustrated in the case of the
    binomial, Biometrika 26(4), 404-413; as the quantile of a beta distribution.
    """
    if attempts < 1 or not 0 <= started <= attempts:
        raise OutOfRange(
            "start attempts",
            found=f"{started} of {attempts}",
            expected="some, and no more starts than attempts",
        )
    if not 0.0 < confidence < 1.0:
        raise OutOfRange("confidence", found=str(confidence), expected="strictly between 0 and 1")
    if started == 0:
        return 0.0
    return float(scipy.special.betaincinv(started, attempts - started + 1, 1.0 - confidence))


def start_counts(attempts: Iterable[Attempt]) -> tuple[StartCount, ...]:
    """Attempts counted by setting, rising, each with its bound."""
    groups: dict[float, list[Attempt]] = defaultdict(list)
    for each in attempts:
        groups[round(each.setting, 6)].append(each)
    return tuple(_count(setting, own) for setting, own in sorted(groups.items()))


FROM_REST = 5.0
"""A fan that has stood so long starts from rest [s] (common practice: a rotor of this size has stopped by then)."""


def _count(setting: float, own: Sequence[Attempt]) -> StartCount:
    tried, started = sum(each.attempts for each in own), sum(each.started for each in own)
    rests = [None if each.rested is None else each.rested >= FROM_REST for each in own]
    return StartCount(
        setting, tried, started, proven_share(started, tried), _all(rests), _all([each.cold for each in own])
    )


def _all(told: Sequence[bool | None]) -> bool | None:
    """Whether it holds of all; None where it holds of none that is told otherwise, but isn't told of each."""
    if False in told:
        return False
    return None if None in told else True


def start_of(by_attempts: Threshold | None, by_steps: Threshold | None) -> Threshold | None:
    """Between which settings a fan starts: as attempts tell it, else as the rising response does.

    Where attempts failed and none above them had only starts, the response's first start above them is the upper end.
    Where the response stood at a setting above all at which an attempt failed, but below the upper end, that is the
    lower end. Where both contradict one another, the attempts count.
    """
    if by_attempts is None or by_steps is None:
        return by_attempts or by_steps
    low, high, how = by_attempts.low, by_attempts.high, How.ATTEMPTS
    if high is None and low is not None and by_steps.high is not None and by_steps.high > low:
        high, how = by_steps.high, How.BOTH
    stood = by_steps.low
    if stood is not None and high is not None and (low is None or low < stood) and stood < high:
        low, how = stood, How.BOTH if how is How.BOTH else How.ABOVE_STANDING
    return Threshold(low, high, how)


def threshold_of(counts: Sequence[StartCount]) -> Threshold | None:
    """Between which two settings a fan starts reliably: the highest at which an attempt failed, and the lowest above
    it at which all succeeded.

    Returns
    -------
    None without attempts; `low` None where none failed, `high` None where no setting above had only starts.
    """
    if not counts:
        return None
    low = max((each.setting for each in counts if each.started < each.attempts), default=None)
    above = [
        each.setting
        for each in counts
        if each.started == each.attempts and (low is None or each.setting > low)
    ]
    return Threshold(low, min(above, default=None), How.ATTEMPTS)
