"""Random numbers that depend on a seed and a name only, never on the order of asking.

A new fan or a new mounting in the invented laboratory therefore leaves the numbers of all others alone.
"""

from __future__ import annotations

import math
from random import Random


class Draws:
    """A stream of random numbers belonging to one named thing.

    Parameters
    ----------
    seed : the laboratory's seed.
    name : what the numbers are for ("Bracken s1 m1 100pct").

    Notes
    -----
    Only `random.Random.random` is used, whose sequence Python promises to keep; the normal numbers are
    made from it by the Box–Muller transform.
    """

    def __init__(self, seed: int, name: str) -> None:
        self._source = Random(f"{seed}/{name}")
        self._spare: float | None = None

    def between(self, low: float, high: float) -> float:
        """A number evenly spread over [low, high)."""
        return low + (high - low) * self._source.random()

    def normal(self, sd: float = 1.0) -> float:
        """A normal number with mean 0 and standard deviation `sd`."""
        if self._spare is not None:
            value, self._spare = self._spare, None
            return value * sd
        radius = math.sqrt(-2.0 * math.log(1.0 - self._source.random()))
        angle = 2.0 * math.pi * self._source.random()
        self._spare = radius * math.sin(angle)
        return radius * math.cos(angle) * sd

    def near_one(self, sd: float) -> float:
        """A factor close to one: 1 + a normal number of relative standard deviation `sd`."""
        return 1.0 + self.normal(sd)
