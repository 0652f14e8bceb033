"""What readers are told of a fan: its number, where it stands, and how it stands against another."""

from __future__ import annotations

import math

from stillroom import wording
from stillroom.compare.candidates import Bound
from stillroom.compare.standing import PairStanding, Ranking, Standing
from stillroom.core.multiple import Verdict
from stillroom.lab.range_words import both_ends
from stillroom.lab.ranking_words import gap_unit

BEHIND = "behind"
NOT_RANKED = "not ranked"

READERS_WORDS = (wording.BEST_MARK, wording.TIED_MARK, BEHIND, NOT_RANKED)
"""What may stand beside a fan in a list."""

AGAINST = {
    Verdict.AHEAD: "ahead of",
    Verdict.BEHIND: BEHIND,
    Verdict.TIED: f"{wording.TIED_MARK} against",
    Verdict.NOT_RESOLVED: f"{wording.TIED_MARK} against",
}
"""What is said of one fan against another: of what the laboratory tells apart as tied and not resolved the same."""


def readers_word(each: Standing, ranking: Ranking) -> str:
    """Where a fan stands: a legacy number has no place; of the others two verdicts."""
    if each.fan in ranking.best:
        return wording.mark_for(len(ranking.best))
    return NOT_RANKED if each.rank is None else BEHIND


def value_words(each: Standing, unit: str) -> str:
    """A fan's number with its 95 % interval: "71 m³/h (60 to 74)", "at least 12 Pa", "20 to 25 m³/h, a range"."""
    low, high = each.low, each.high
    is_closed = math.isfinite(low) and math.isfinite(high)
    if each.ends and is_closed:
        places = wording.places_for((high - low) / 2) if high > low else 1
        return f"{wording.with_unit(both_ends(*each.ends, places), unit)}, a range"
    if each.bound in (Bound.AT_LEAST, Bound.AT_MOST):
        end = low if each.bound is Bound.AT_LEAST else high
        near = abs(end - each.value)
        number = (
            wording.number(each.value, wording.places_for(near)) if near > 0 else wording.bare(each.value)
        )
        return f"{each.bound.value} {wording.with_unit(number, unit)}"
    if not is_closed:
        return f"{wording.with_unit(wording.bare(each.value), unit)} (no interval)"
    return wording.with_interval(each.value, low, high, unit)


def gap_words(pair: PairStanding, unit: str) -> str:
    """By how much one of two is better, without a sign, with its 95 % interval; "" where an end is open."""
    low, high = (pair.low, pair.high) if pair.difference >= 0 else (-pair.high, -pair.low)
    if not (math.isfinite(low) and math.isfinite(high)):
        return ""
    return wording.with_interval(abs(pair.difference), low, high, gap_unit(unit))
