"""The A-weighting, written on its own: the analytic form of IEC 61672-1:2013, annex E (from memory)."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

POLES = (20.598997, 107.65265, 737.86223, 12194.217)
"""Frequencies of the poles [Hz]."""
AT_1_KHZ = 1.9997
"""What the bare form lacks at 1 kHz [dB]."""


def a_power(frequencies: Array) -> Array:
    """The A-weighting as a factor on power, at frequencies [Hz]; 0 at 0 Hz."""
    squares = frequencies**2
    first, second, third, last = (pole**2 for pole in POLES)
    above = last**2 * squares**4
    below = (squares + first) ** 2 * (squares + second) * (squares + third) * (squares + last) ** 2
    weighted: Array = above / below * 10 ** (AT_1_KHZ / 10)
    return weighted


def a_level(frequency: float) -> float:
    """The A-weighting at one frequency [Hz], in dB."""
    square = frequency**2
    first, second, third, last = (pole**2 for pole in POLES)
    above = last * square**2
    below = (square + first) * math.sqrt((square + second) * (square + third)) * (square + last)
    return 20 * math.log10(above / below) + AT_1_KHZ
