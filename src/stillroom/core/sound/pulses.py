"""Pulses per revolution, inferred from a tachometer's reading against the sound or an optical reading."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class PulseCheck:
    """A tachometer against another opinion of the same speed.

    Parameters
    ----------
    ratio : shown over true speed, the median of the pairs [1].
    named : the simple ratio that it is within 1 % (0.5, 1, 1.5, 2, 3 …), or None where it is none.
    pulses : pulses per revolution that would make both agree, or None.
    agrees : whether the assumed number does.
    """

    ratio: float
    named: float | None
    pulses: int | None
    agrees: bool


def pulses_per_revolution(shown: Sequence[float], true: Sequence[float], assumed: int = 2) -> PulseCheck:
    """Pulses per revolution from pairs of readings [1/s]: shown with `assumed` pulses, and heard or seen."""
    raise NotImplementedError
