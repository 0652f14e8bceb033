"""Pulses per revolution, inferred from a tachometer's reading against the sound or an optical reading."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stillroom.core.standards.limits import require_positive
from stillroom.errors import OutOfRange

MOST_PULSES = 8
"""Pulses per revolution that are thought of: 1 to this."""

WITHIN = 0.01
"""How far a ratio may be off [1] (3.7)."""


@dataclass(frozen=True)
class PulseCheck:
    """A tachometer against another opinion of the same speed.

    Parameters
    ----------
    ratio : shown over true speed, the median of the pairs [1].
    named : the simple ratio that every pair is within 1 % of (0.5, 1, 1.5, 2, 3 …), or None where there is none.
    pulses : pulses per revolution that would make both agree, or None.
    agrees : whether the assumed number does.
    """

    ratio: float
    named: float | None
    pulses: int | None
    agrees: bool


def pulses_per_revolution(shown: Sequence[float], true: Sequence[float], assumed: int = 2) -> PulseCheck:
    """Pulses per revolution from pairs of readings.

    A fan of p pulses whose readings were reckoned with `assumed` shows p/assumed times its speed. All pairs have
    to say the same: one that doesn't is another fault (a reading at the display's end, an unsteady speed).

    Parameters
    ----------
    shown : readings of the tachometer [1/s].
    true : the speed heard or seen at the same time [1/s].
    assumed : pulses per revolution that the readings were reckoned with.

    Returns
    -------
    the ratio, its name, and the number that explains it.

    Raises
    ------
    OutOfRange : no pairs, unequal numbers of readings, a speed or a number of pulses that is not above zero.
    """
    tachometer = require_positive("a tachometer's reading", shown, "1/s")
    speed = require_positive("a speed", true, "1/s")
    require_positive("pulses per revolution", assumed)
    if tachometer.shape != speed.shape or tachometer.size == 0:
        raise OutOfRange(
            "pairs of speeds", found=f"{tachometer.size} and {speed.size}", expected="as many, one at least"
        )
    ratios = tachometer / speed
    numbers = np.arange(1, MOST_PULSES + 1)
    fits = (np.abs(ratios[:, None] / (numbers / assumed) - 1.0) <= WITHIN).all(axis=0)
    pulses = int(numbers[int(np.argmax(fits))]) if fits.any() else None
    return PulseCheck(
        ratio=float(np.median(ratios)),
        named=None if pulses is None else pulses / assumed,
        pulses=pulses,
        agrees=pulses == assumed,
    )
