"""What stands around one fan: more fans, a larger obstacle, thinner or warmer air.

One tested fan and one measured piece of an obstacle answer for a whole system by laws that are stated here.
Nothing but the push-pull factor knows of fans disturbing each other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from stillroom.errors import BadInput

MOST_FANS = 100
HIGHEST_FACTOR = 1.5
ALTITUDES = (-500.0, 5000.0)
"""Altitudes of rooms that are reckoned with [m]."""

TEMPERATURES = (253.15, 333.15)
"""Temperatures of a room's air that are reckoned with [K]."""


@dataclass(frozen=True)
class System:
    """How fans and obstacle are arranged, and in which air; the usual values are one fan in standard air.

    Parameters
    ----------
    beside : number of equal fans side by side: flows add at equal pressure.
    tiles : the obstacle's area in pieces as measured: flow through each is the total over `tiles`.
    push_pull : interaction factor F of two fans behind each other, pressure × 2 F at equal flow; None for one.
    push_pull_u : standard uncertainty of the factor [1].
    altitude : of the room [m], None for standard air. temperature : of the air [K], None for 20 °C.

    Raises
    ------
    BadInput : a value that no system can have.
    """

    beside: int = 1
    tiles: float = 1.0
    push_pull: float | None = None
    push_pull_u: float = 0.0
    altitude: float | None = None
    temperature: float | None = None

    def __post_init__(self) -> None:
        """Refuse what can't be."""
        _within("fans side by side", float(self.beside), 1.0, float(MOST_FANS))
        _within("tiles", self.tiles, 1.0 / MOST_FANS, float(MOST_FANS))
        if self.push_pull is not None:
            _within("push-pull factor", self.push_pull, 0.05, HIGHEST_FACTOR)
            _within("uncertainty of the push-pull factor", self.push_pull_u, 0.0, self.push_pull / 2.0)
        if self.altitude is not None:
            _within("altitude [m]", self.altitude, *ALTITUDES)
        if self.temperature is not None:
            _within("air temperature [K]", self.temperature, *TEMPERATURES)

    @property
    def is_single(self) -> bool:
        """Whether it is one fan on the piece as measured, in standard air."""
        return self == System()

    @property
    def fans(self) -> int:
        """Number of fans that take power."""
        return self.beside * (1 if self.push_pull is None else 2)


def _within(thing: str, value: float, low: float, high: float) -> None:
    if not (math.isfinite(value) and low <= value <= high):
        raise BadInput(thing, found=f"{value:g}", expected=f"{low:g} to {high:g}")
