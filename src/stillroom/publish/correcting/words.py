"""Words of a correction: a number then and now, a change with its interval, places, verdicts."""

from __future__ import annotations

import math

from stillroom import wording
from stillroom.publish.correcting.moved import Difference, FanMoved, MeasureMoved, Movement, Value

LITTLE = "by less than the last printed digit"


def value_words(value: Value | None, unit: str = "") -> str:
    """A number as it is printed: "72.9 (70.2 to 75.3)"; of a bound the end that is known."""
    if value is None:
        return "no value"
    bound = f"{value.bound} " if value.bound in ("at least", "at most") else ""
    if not (math.isfinite(value.low) and math.isfinite(value.high)):
        return bound + wording.with_unit(wording.bare(value.value), unit)
    return bound + wording.with_interval(value.value, value.low, value.high, unit)


def change_words(fan: FanMoved, unit: str = "") -> str:
    """New minus old with its interval: "−0.98 m³/h (−1.02 to −0.94)"; "" where there is no difference."""
    if fan.difference is None:
        return ""
    return difference_words(fan.difference, unit)


def difference_words(found: Difference, unit: str = "") -> str:
    """A change with its sign and interval; without an interval where there are no trials in common."""
    sign = "+" if found.value > 0 else ""
    if found.low is None or found.high is None:
        return sign + wording.with_unit(wording.bare(found.value), unit)
    if found.low == found.high:
        return "0" if found.value == 0 else sign + wording.with_unit(wording.bare(found.value), unit)
    return sign + wording.with_interval(found.value, found.low, found.high, unit)


def share_words(fan: FanMoved, measure: MeasureMoved) -> str:
    """The change as a share of the old number: "−1.33 %"; "" where the measure has no shares, or nothing moved."""
    if not measure.relative or fan.old is None or fan.difference is None or not fan.old.value:
        return ""
    scale = 100.0 / abs(fan.old.value)
    share, low, high = (each if each is None else each * scale for each in
                        (fan.difference.value, fan.difference.low, fan.difference.high))  # fmt: skip
    if share is None or share == 0:
        return ""
    told = wording.rounded(share, low, high, most=3)
    return f"{'+' if share > 0 else ''}{told} %"


def is_printed(fan: FanMoved) -> bool:
    """Whether what is printed of a fan is other than it was."""
    if fan.movement in (Movement.GONE, Movement.CAME) or fan.rank_moved or fan.verdict_moved:
        return True
    return value_words(fan.old) != value_words(fan.new)


def reader_verdict(value: Value | None, best: tuple[str, ...]) -> str:
    """The verdict that readers see: ahead of all, too close to call, or behind."""
    if value is None:
        return ""
    if value.verdict == "behind":
        return "behind"
    return wording.BEST_MARK if value.verdict == "leader" and len(best) == 1 else wording.TIED_MARK


def winner_words(best: tuple[str, ...], leader: str) -> str:
    """Who leads: "A is ahead of all", "between A, B and C it is too close to call"."""
    if not best:
        return f"{wording.isolate(leader)} leads" if leader else "nobody leads"
    if len(best) == 1:
        return f"{wording.isolate(best[0])} is ahead of all"
    return f"between {wording.listed(best)} it is {wording.TIED_MARK}"
