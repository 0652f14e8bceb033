"""How an invented fan sounds, in closed form: broadband level, spectrum, tones and its resonance.

Levels are A-weighted, in dB re 20 µPa at 1 m. The broadband level is
L = L₁₅₀₀ + s·lg(N/1500) + 20 lg(ρ/1.2) + δ(q); δ rises towards stall and towards free delivery.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.demo.air import STANDARD_DENSITY
from stillroom.demo.fan import REFERENCE_SPEED
from stillroom.demo.sound.weighting import a_power

Array = NDArray[np.float64]

LOWEST = 22.0
"""Below this the broadband sound falls off [Hz]."""
DECIBELS_PER_OCTAVE = 10 * math.log10(2)
MOTOR_ORDER = 12
"""Steps of the motor's windings in a turn."""


@dataclass(frozen=True)
class Resonance:
    """A resonance of the frame: tones that pass it are raised.

    Parameters
    ----------
    frequency : [Hz]. quality : Q. gain : at its frequency [dB].
    """

    frequency: float
    quality: float
    gain: float

    def raised(self, frequency: float) -> float:
        """By how much a tone is raised [dB]; half the power's excess lies within frequency / Q."""
        away = self.quality * (frequency / self.frequency - self.frequency / frequency)
        return 10 * math.log10(1 + (10 ** (self.gain / 10) - 1) / (1 + away**2))


@dataclass(frozen=True)
class Component:
    """A tone at one speed: its order (0 where it stands still), frequency [Hz] and A-weighted level at 1 m [dB]."""

    order: float
    frequency: float
    level: float


@dataclass(frozen=True)
class Voice:
    """The sound of a fan.

    Parameters
    ----------
    level : broadband, at 1,500 rpm and its quietest opening [dB].
    slope : by which it grows with the logarithm of speed [dB].
    hump : frequency of the most sound [Hz]. rise, fall : of the bands below and above it [dB/octave].
    resonance : of the frame.
    blades : of the rotor; passing is heard at their multiples of the shaft's frequency.
    passing : level of each harmonic of blade pass over the broadband one, away from the resonance [dB].
    turning : the same of the shaft's own orders 1 and 2. motor : of the motor's order.
    whine : frequency of a tone of the drive that stays where it is, 0 for none [Hz]; whine_level : its level [dB].
    """

    level: float
    slope: float
    hump: float
    rise: float
    fall: float
    resonance: Resonance
    blades: int
    passing: tuple[float, ...]
    turning: tuple[float, ...] = (-54.0, -52.0)
    motor: float = -35.0
    whine: float = 0.0
    whine_level: float = 0.0

    def broadband(self, speed: float, q: float, density: float = STANDARD_DENSITY) -> float:
        """Broadband level [dB] at a speed [1/s], an opening and a density [kg/m³]."""
        grown = self.slope * math.log10(speed / REFERENCE_SPEED)
        return self.level + grown + 20 * math.log10(density / STANDARD_DENSITY) + loading(q)

    def tones(self, speed: float, q: float, density: float = STANDARD_DENSITY) -> Iterator[Component]:
        """The tones at a speed [1/s]."""
        level = self.broadband(speed, q, density)
        for number, over in enumerate(self.passing, start=1):
            frequency = number * self.blades * speed
            yield Component(number * self.blades, frequency, level + over + self.resonance.raised(frequency))
        for number, over in enumerate(self.turning, start=1):
            yield Component(number, number * speed, level + over)
        yield Component(MOTOR_ORDER, MOTOR_ORDER * speed, level + self.motor)
        if self.whine:
            yield Component(0.0, self.whine, self.whine_level)

    def total(self, speed: float, q: float, density: float = STANDARD_DENSITY) -> float:
        """Level of everything [dB]."""
        levels = [self.broadband(speed, q, density), *(each.level for each in self.tones(speed, q, density))]
        return 10 * math.log10(sum(10 ** (each / 10) for each in levels))

    def spectrum(self, frequencies: Array) -> Array:
        """Shape of the broadband sound: unweighted power a hertz, scaled to 1 when A-weighted and summed.

        The bands, A-weighted, rise to the hump and fall after it; `frequencies` are evenly spaced from 0 [Hz].
        """
        f = np.maximum(frequencies, frequencies[1])
        below, above = (each / DECIBELS_PER_OCTAVE for each in (self.rise, self.fall))
        weighted = 1.0 / ((self.hump / f) ** below + (f / self.hump) ** above) / f
        weighted[0] = 0.0
        shape = weighted / np.maximum(a_power(f), 1e-12) / (1 + (LOWEST / f) ** 8)
        shape[0] = 0.0
        scaled: Array = shape / (np.sum(shape * a_power(f)) * (frequencies[1] - frequencies[0]))
        return scaled


def loading(q: float) -> float:
    """By how much a fan is louder at an opening than at its quietest one [dB]."""
    stalled: float = 9 * max(0.0, (0.70 - q) / 0.70) ** 1.6
    free: float = 2 * max(0.0, (q - 0.8) / 0.2) ** 2
    return stalled + free
