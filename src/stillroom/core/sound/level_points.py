"""Levels at speeds, as a level curve is fitted to them: one point per dwell, one per narrow step of a ramp."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class LevelPoint:
    """A level at a speed.

    Parameters
    ----------
    speed, u_speed : shaft speed and its own standard uncertainty [1/s].
    level : corrected level [dB re 20 µPa].
    u : standard uncertainty of its own (repeat, averaging time), without what is shared [dB].
    is_bound : the level is at most `level`; nobody knows how far below it lies.
    from_ramp : taken while the speed was swept, not in a dwell.
    run : the run that it comes from.
    mounting : the mounting that the run belongs to; "" where there is one only.
    """

    speed: float
    u_speed: float
    level: float
    u: float
    is_bound: bool
    from_ramp: bool
    run: str
    mounting: str = ""
