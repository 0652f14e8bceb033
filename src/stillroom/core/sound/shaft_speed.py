"""The shaft's speed from a narrow-band spectrum, by the comb of its orders."""

from __future__ import annotations

from dataclasses import dataclass

from stillroom.core.arrays import Array


@dataclass(frozen=True)
class SpeedFromSound:
    """A speed that was heard.

    Parameters
    ----------
    speed, u : the shaft's speed and its standard uncertainty [1/s].
    blades : the number of blades that the comb fits (the told one where it fits).
    told_blades_fit : False where the told number of blades contradicts the comb.
    harmonics : lines that were used.
    drift : width of the speed during the recording, its standard deviation over speed [1].
    score : how far the comb stands above the next best that is another speed [1]; above 1 where it is told.
    """

    speed: float
    u: float
    blades: int
    told_blades_fit: bool
    harmonics: int
    drift: float
    score: float


def speed_from_sound(
    spectrum: Array,
    resolution: float,
    noise_bandwidth: float,
    *,
    blades: int | None,
    between: tuple[float, float],
    near: float | None = None,
) -> SpeedFromSound:
    """The shaft's speed [1/s] within `between`; raises `NotPossible` where the sound doesn't tell it."""
    raise NotImplementedError
