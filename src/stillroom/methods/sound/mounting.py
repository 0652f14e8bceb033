"""From the recordings of one mounting to its sound: calibrated, corrected, with speeds, tones and loudness."""

from __future__ import annotations

VERSION = 1
"""Raised when the same recordings would give other numbers."""
