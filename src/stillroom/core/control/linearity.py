"""How far the speed departs from the specification's line: a share of full speed."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from stillroom.core.control.control_mounting import Linearity
from stillroom.core.control.response import Leg
from stillroom.core.standards.pwm_fans_4_wire import MINIMUM_SPEED, expected_speed

FULL_DUTY = 0.995
"""From which duty on the speed is full speed [1]."""

FEWEST = 3
"""Fewest duties from 30 % up that tell of a line; full duty among them."""


def greatest_departure(
    several: Iterable[Leg], full: float, u_full: float, full_setting: float
) -> Linearity | None:
    """The greatest departure of speed over full speed from the duty, both ways, from 30 % duty up.

    Below 30 % the specification lets a fan keep its minimum speed, or stop: nothing is judged there, so that all
    fans are judged over the same duties. A fan that stands still at 30 % or more departs by its whole duty.

    Parameters
    ----------
    several : legs of a response to duty.
    full, u_full : full speed, its own uncertainty [1/s].
    full_setting : the duty at which it was taken [1].

    Returns
    -------
    None where full duty wasn't taken, or too few duties were. What the speed meter shares cancels: a departure is a
    ratio of two speeds.

    Source: 4-Wire PWM Controlled Fans Specification, 3.2 and 3.3 (pages 13 and 14).
    """
    if full_setting < FULL_DUTY or full <= 0.0:
        return None
    found: list[Linearity] = []
    duties: set[float] = set()
    for leg in several:
        steps = leg.response
        used = (steps.settings >= MINIMUM_SPEED.high - 1e-6) & (steps.settings < FULL_DUTY)
        departures = (steps.speeds - expected_speed(steps.settings, full)) / full
        for i in np.flatnonzero(used).tolist():
            share = float(steps.speeds[i]) / full
            u = math.hypot(float(steps.u[i]), share * u_full) / full
            found.append(Linearity(float(departures[i]), u, float(steps.settings[i]), leg.is_falling))
            duties.add(round(float(steps.settings[i]), 4))
    if len(duties) + 1 < FEWEST:
        return None
    return max(found, key=lambda each: abs(each.departure))
