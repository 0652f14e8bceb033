"""How an invented fan answers its control: where it stops and starts, with which speed it idles, what it draws."""

from __future__ import annotations

import math
from dataclasses import dataclass

from stillroom.demo.draws import Draws
from stillroom.demo.fan import SUPPLY, Control, Fan, Setting

LAG = 0.003
"""By how much the speed is higher while the setting falls, as a share."""
SPIN_UP = 1.6
"""How fast a fan follows its setting [s]."""
PEAK = (2.2, 3.4)
"""The current's peak at the start over the steady current at full speed."""


@dataclass(frozen=True)
class Answer:
    """How one fan answers; settings as they are set, duties [%] or voltages [V].

    Parameters
    ----------
    stops : whether it stops at all; else it keeps its lowest speed.
    stop : the lowest setting that still turns it. start : the lowest that starts it from rest.
    peak : of the current at the start [A]; decay : in which it falls [s].
    """

    fan: Fan
    stops: bool
    stop: float
    start: float
    peak: float
    decay: float

    def speed(self, setting: float, *, turning: bool, falling: bool, frequency: float) -> float:
        """Speed in free air [1/s]; 0 where it stands."""
        if self.stops and setting < (self.stop if turning else self.start):
            return 0.0
        steady = self.fan.free_speed(Setting(setting, self.fan.control), frequency)
        return steady * (1 + LAG if falling else 1.0)

    @property
    def full(self) -> float:
        """The setting of full speed."""
        return SUPPLY if self.fan.control is Control.VOLTS else 100.0

    def steady_current(self, speed: float, volts: float) -> float:
        """Drawn at a speed in free air [A]; a fan that stands draws what its electronics need."""
        return (self.fan.power(1.0, speed) if speed else 0.5 * self.fan.idle) / max(volts, 1.0)

    def start_current(self, time: float) -> float:
        """So long after it is switched on to full [A]."""
        steady = self.steady_current(self.fan.full_speed, SUPPLY)
        rise = 1 - math.exp(-time / 0.004)
        return (steady + (self.peak - steady) * math.exp(-time / self.decay)) * rise if time > 0 else 0.0


def answer_of(seed: int, fan: Fan) -> Answer:
    """Draw how a sample answers."""
    draws = Draws(seed, f"control {fan.name}")
    steady = fan.power(1.0, fan.full_speed) / SUPPLY
    peak, decay = steady * draws.between(*PEAK), draws.between(0.12, 0.35)
    if fan.control is Control.VOLTS:
        stop = fan.dead_volts + draws.between(0.7, 1.2)
        return Answer(fan, True, stop, stop + draws.between(0.4, 0.9), peak, decay)
    stop = draws.between(4.5, 11.0)
    return Answer(fan, draws.between(0.0, 1.0) < 0.65, stop, stop + draws.between(2.5, 6.0), peak, decay)
