"""A value that is a range, in words."""

from __future__ import annotations

import math

from stillroom.wording import number


def both_ends(low: float, high: float, places: int) -> str:
    """Both ends of a range, "20 to 25", to the place that the interval beside allows, or finer where they would print
    alike or be moved by a part of their distance.
    """
    if high > low:
        places = max(places, -math.floor(math.log10(high - low)))
    return f"{number(low, places)} to {number(high, places)}"
