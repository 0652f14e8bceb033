"""4-Wire Pulse Width Modulation (PWM) Controlled Fans Specification, September 2005, revision 1.3.

Limits as data, with the page on which each is printed; figures read at the public specification.
"""

from __future__ import annotations

from dataclasses import dataclass

from stillroom.core.arrays import Array


@dataclass(frozen=True)
class Allowed:
    """What the specification allows.

    Parameters
    ----------
    name : what is limited, in words. unit : its SI unit. low, high : the closed range that is allowed.
    page : on which it is printed.
    """

    name: str
    unit: str
    low: float
    high: float
    page: int

    def holds(self, value: float) -> bool:
        """Whether a value [SI] is allowed."""
        return self.low <= value <= self.high


PWM_FREQUENCY = Allowed("PWM frequency", "Hz", 21e3, 28e3, 9)
NOMINAL_PWM_FREQUENCY = 25e3
"""Target frequency of the control signal [Hz], page 9."""

SUPPLY = Allowed("supply voltage", "V", 11.4, 12.6, 9)
"""12 V ± 5 %."""

STEADY_CURRENT = Allowed("steady current, free stream at 12.6 V", "A", 0.0, 1.5, 9)
START_CURRENT = Allowed("start-up current", "A", 0.0, 2.2, 9)
START_CURRENT_LENGTH = Allowed("length of the start-up current", "s", 0.0, 1.0, 9)
LOGIC_LOW = Allowed("logic low of the control signal", "V", 0.0, 0.8, 9)
OPEN_CIRCUIT = Allowed("open-circuit voltage of the control signal", "V", 0.0, 5.25, 9)

PULSES_PER_REVOLUTION = 2
"""Tachometer pulses per revolution [1], page 9."""

MINIMUM_SPEED = Allowed("minimum speed over full speed", "1", 0.0, 0.30, 13)
START_PULSE_LENGTH = Allowed("length of the start-up pulse", "s", 0.0, 2.0, 13)
SPEED_MATCH = Allowed("speed over full speed less duty", "1", -0.10, 0.10, 14)

LIMITS: tuple[Allowed, ...] = (
    PWM_FREQUENCY, SUPPLY, STEADY_CURRENT, START_CURRENT, START_CURRENT_LENGTH, LOGIC_LOW, OPEN_CIRCUIT,
    MINIMUM_SPEED, START_PULSE_LENGTH, SPEED_MATCH,
)  # fmt: skip
"""All ranges. Beside them: with no control signal a fan runs at its maximum speed (page 14)."""


def expected_speed(duty: Array, full: float) -> Array:
    """The speed that matches a duty: the same share of full speed as the duty is of one.

    Parameters
    ----------
    duty : (n,) [1].
    full : speed at 100 % duty [1/s].

    Returns
    -------
    (n,) [1/s].

    Limits
    ------
    From 100 % duty down to the minimum speed, which is 30 % of full speed or less; below it the specification lets
    a fan keep its minimum speed, or stop.

    Source
    ------
    Sections 3.3 (page 14) and 3.4.
    """
    return duty * full


def pulses_speed(frequency: float, pulses: int = PULSES_PER_REVOLUTION) -> float:
    """Speed from the frequency of a tachometer's pulses.

    Parameters
    ----------
    frequency : of the pulses [Hz].
    pulses : per revolution [1].

    Returns
    -------
    Speed [1/s].

    Source: page 9 (2 pulses per revolution).
    """
    return frequency / pulses
