"""What every series checks of itself, so that a chart never shows a gap or a NaN in silence."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise

from stillroom.errors import BadInput


def finite(thing: str, values: Iterable[float]) -> None:
    """Refuse a number that isn't finite.

    Raises
    ------
    BadInput : with the place of the first one.
    """
    for index, each in enumerate(values):
        if not math.isfinite(each):
            raise BadInput(thing, place=f"value {index + 1}", found=repr(each), expected="a finite number")


def same_length(thing: str, **series: Sequence[object]) -> None:
    """Refuse series of different lengths.

    Raises
    ------
    BadInput : with the lengths.
    """
    lengths = {name: len(values) for name, values in series.items()}
    if len(set(lengths.values())) > 1:
        found = ", ".join(f"{name} {length}" for name, length in lengths.items())
        raise BadInput(thing, found=found, expected="series of one length")


def interval(thing: str, low: float | None, high: float | None) -> None:
    """Refuse half an interval, and one whose ends are the wrong way round.

    Raises
    ------
    BadInput : with what was found.
    """
    if (low is None) != (high is None):
        raise BadInput(thing, found="half an interval", expected="low and high, or neither")
    if low is not None and high is not None and not low <= high:
        raise BadInput(thing, found=f"{low} to {high}", expected="low ≤ high")


def rising(thing: str, grid: Sequence[float]) -> None:
    """Refuse a grid that doesn't rise, or has fewer than two points.

    Raises
    ------
    BadInput : with what was found.
    """
    if len(grid) < 2:
        raise BadInput(thing, found=f"{len(grid)} points", expected="at least two")
    if any(not before < after for before, after in pairwise(grid)):
        raise BadInput(thing, found="places that don't rise", expected="a rising grid")
