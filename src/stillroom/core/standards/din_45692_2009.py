"""DIN 45692:2009, sharpness."""

from __future__ import annotations

from stillroom.core.arrays import Array


def sharpness(specific: Array) -> float:
    """Sharpness [acum] from the specific loudness (240,) of ISO 532-1."""
    raise NotImplementedError
