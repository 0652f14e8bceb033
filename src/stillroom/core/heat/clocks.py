"""Clocks of loggers brought to one."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from stillroom.core.arrays import Array

PAIRED_WITHIN = 2.0
"""Loggers that are further apart, or might be, don't pair their readings [s]."""


class How(Enum):
    """How the clock of a logger was brought to another's."""

    SAME_CLOCK = "same clock"
    STATED = "stated offset"
    SHARED_EDGE = "shared edge"
    NOT_ALIGNED = "not aligned"


@dataclass(frozen=True)
class Alignment:
    """What to add to a logger's times.

    Parameters
    ----------
    offset, u : [s]; u is without end where nothing aligns them. how : from what it is known.
    edges : number of edges that both saw. why : why they could not be aligned, "" where they were.
    found : offset that a shared edge shows where one was stated [s]; None where no edge tells.
    """

    offset: float
    u: float
    how: How
    edges: int = 0
    why: str = ""
    found: float | None = None


@dataclass(frozen=True)
class Series:
    """Values of one channel at times (n,) [s], any unit."""

    times: Array
    values: Array


def align(
    reference: Series,
    other: Series,
    *,
    stated: tuple[float, float] | None = None,
    within: float = 7200.0,
) -> Alignment:
    """Align another logger's clock to a reference by steps that both see.

    Parameters
    ----------
    reference, other : of each a channel in which the same event shows (heater power, speed, a probe by the hot one).
    stated : offset and its standard uncertainty that the lab tells [s].
    within : greatest offset looked for [s].
    """
    raise NotImplementedError
