"""The channels of a log, cleaned: what is no value is NaN, and counted.

A logger writes on when a probe falls off: an empty cell, a word such as "open", the largest number of its display, a
thermocouple's last degree. None of these is a value, and none is a reason to lose the other channels of its row.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from stillroom.readers.reading.bounds import BOUNDS
from stillroom.readers.words.numbers import Array
from stillroom.vocabulary import from_si

FEW = 0.01
"""Share of a channel's values that may lie outside what can be [1]: spikes. More, of many different values, is a wrong
unit, and refused."""

STUCK = 2
"""So many different values outside what can be are what a logger shows for "over the range", however often."""

BEYOND = 1.5
"""A number of nines alone is an overflow where it exceeds all other values of its channel by this factor."""

NEVER = 9.9e37
"""Numbers from here on stand for infinity or for no number in instruments' replies [in any unit]: +9.9E37 and +9.91E37
by SCPI-1999, volume 1, 7.2.1.4 and 7.2.1.5 (from memory)."""

_NINES = 3


@dataclass
class Channel:
    """What is known of one channel so far.

    Parameters
    ----------
    empty : readings without a value: an empty cell, or a word that says so. over : readings over the range of the
    instrument. outside : readings outside what can be. strange : the different values of these [SI], a few.
    line : of the first of these. low, high : of all values [SI].
    """

    empty: int = 0
    over: int = 0
    outside: int = 0
    strange: set[float] = field(default_factory=set)
    line: int = 0
    low: float = np.inf
    high: float = -np.inf

    @property
    def missing(self) -> int:
        """How many readings have no value."""
        return self.empty + self.over + self.outside


def cleaned(quantity: str, values: Array, symbol: str, lines: NDArray[np.int64], known: Channel) -> Array:
    """A stretch of a channel with NaN for what is no value; `known` is brought up to date.

    Parameters
    ----------
    values : [SI], NaN where there is none. symbol : the unit in the file. lines : of each reading.
    """
    there = np.isfinite(values)
    known.empty += int(np.count_nonzero(~there))
    over = _overflow(values, there, symbol)
    known.over += int(np.count_nonzero(over))
    there &= ~over
    bound = BOUNDS.get(quantity)
    if bound is not None and there.any():
        outside = there & ((values < bound.low) | (values > bound.high))
        if outside.any():
            first = int(np.flatnonzero(outside)[0])
            known.line = known.line or int(lines[first])
            known.outside += int(np.count_nonzero(outside))
            if len(known.strange) <= STUCK:
                known.strange |= set(np.unique(values[outside])[: STUCK + 1].tolist())
            there &= ~outside
    if there.any():
        known.low = min(known.low, float(values[there].min()))
        known.high = max(known.high, float(values[there].max()))
    return values if there.all() else np.where(there, values, np.nan)


def _overflow(values: Array, there: NDArray[np.bool_], symbol: str) -> NDArray[np.bool_]:
    """Which values are the largest number that a display can show."""
    over = np.zeros(len(values), dtype=bool)
    for sign in (1.0, -1.0):
        left = there & ~over
        if not left.any():
            break
        top = float((sign * values[left]).max()) * sign
        shown = from_si(top, symbol)
        if abs(shown) >= NEVER:
            over |= there & (np.abs(values) >= NEVER * 0.5)
            continue
        others = np.abs(values[left & (values != top)])
        rest = float(np.abs(from_si(float(others.max()), symbol))) if others.size else 0.0
        if _is_nines(shown) and others.size and abs(shown) > BEYOND * rest:
            over |= left & (values == top)
    return over


def _is_nines(shown: float) -> bool:
    """Whether a number is written with nines alone (9999, 999.9)."""
    digits = f"{abs(shown):.7g}".replace(".", "")
    return len(digits) >= _NINES and set(digits) == {"9"}


def is_wrong(known: Channel, rows: int) -> bool:
    """Whether so much of a channel lies outside what can be that its unit must be wrong."""
    if known.outside == 0:
        return False
    nothing_else = known.low > known.high
    return nothing_else or (known.outside > FEW * rows and len(known.strange) > STUCK)
