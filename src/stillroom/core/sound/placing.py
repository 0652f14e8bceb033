"""Where the next speed of a level curve should lie."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from stillroom.core.sound.level_curve import LevelCurve


@dataclass(frozen=True)
class NextSpeed:
    """A speed worth a dwell.

    Parameters
    ----------
    speed : [1/s]. limit : the limit that it serves [dB]. probability : that the level there keeps to the limit.
    """

    speed: float
    limit: float
    probability: float


def next_speed(curve: LevelCurve, limits: Sequence[float]) -> NextSpeed | None:
    """The speed where P(level ≤ limit) is nearest one half; None where no further dwell is worth it."""
    raise NotImplementedError
