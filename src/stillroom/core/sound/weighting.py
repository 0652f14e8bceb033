"""Frequency weightings as sound is analysed: powers at the bins of a spectrum, and a digital A filter."""

from __future__ import annotations

from enum import Enum


class Weighting(Enum):
    """A frequency weighting of IEC 61672-1."""

    A = "A"
    C = "C"
    Z = "Z"
