"""Sounds that are not the fan's: seconds that are louder than the rest."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Transient:
    """A stretch of seconds that was left out.

    Parameters
    ----------
    start, length [s].
    over : its loudest second over the median second [dB].
    """

    start: float
    length: float
    over: float
