"""The catalogue of probable causes: what pattern each leaves, in words, with a one-minute test at the rig."""

from __future__ import annotations

import math
from dataclasses import dataclass

from stillroom.vocabulary import unit

WITHIN = 0.03
"""A ratio matches a cause of the catalogue within this [1]."""


@dataclass(frozen=True)
class Cause:
    """A probable cause.

    Parameters
    ----------
    name : short. quantity : flow, pressure or speed. ratio : what was written over what was there [1].
    words : the cause. test : what shows it within a minute.
    """

    name: str
    quantity: str
    ratio: float
    words: str
    test: str


def _factor(written: str, taken_for: str) -> float:
    """Ratio of the number taken over the true one when a column in one unit is read as another."""
    return unit(taken_for).factor / unit(written).factor


def _mixed(quantity: str, written: str, taken_for: str) -> Cause:
    return Cause(
        name=f"{written} read as {taken_for}",
        quantity=quantity,
        ratio=_factor(written, taken_for),
        words=f"the column is in {written} and was read as {taken_for}",
        test=f"look at the unit in the export's settings; add the file again with the {quantity} in {written}",
    )


_PULSES = "read the speed with the optical tachometer once and compare; then set the pulses per revolution"
_RATIOS = ((2.0, "twice"), (0.5, "half"), (1.5, "1.5 times"), (2 / 3, "two thirds of"),
           (3.0, "three times"), (1 / 3, "a third of"))  # fmt: skip

CATALOGUE: tuple[Cause, ...] = (
    _mixed("flow", "CFM", "m³/h"),
    _mixed("flow", "m³/h", "CFM"),
    _mixed("flow", "l/s", "m³/h"),
    _mixed("flow", "m³/h", "l/s"),
    _mixed("pressure", "mmH₂O", "Pa"),
    _mixed("pressure", "Pa", "mmH₂O"),
    _mixed("pressure", "inH₂O", "Pa"),
    _mixed("pressure", "Pa", "inH₂O"),
    _mixed("pressure", "hPa", "Pa"),
    _mixed("pressure", "Pa", "hPa"),
    *(
        Cause(
            f"speed {words} the true one", "speed", ratio,
            f"wrong pulses per revolution: the speed reads {words} what it is", _PULSES,
        )
        for ratio, words in _RATIOS
    ),
)  # fmt: skip


def cause_of(quantity: str, ratio: float, within: float = WITHIN) -> Cause | None:
    """The cause of the catalogue whose ratio of a quantity this is, or None."""
    near = [each for each in CATALOGUE if each.quantity == quantity]
    best = min(near, key=lambda each: abs(math.log(ratio / each.ratio)))
    return best if abs(ratio / best.ratio - 1.0) <= within else None
