"""Loudness of a stationary sound from its one-third-octave levels."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from numpy.typing import ArrayLike

from stillroom.core.arrays import Array


class Field(Enum):
    """The sound field in which the levels were measured."""

    FREE = "free"
    DIFFUSE = "diffuse"


@dataclass(frozen=True)
class Loudness:
    """Loudness [sone], loudness level [phon], and specific loudness (240,) every 0.1 of the critical-band rate."""

    sone: float
    phon: float
    specific: Array


def loudness(bands: ArrayLike, field: Field = Field.FREE) -> Loudness:
    """The loudness of 28 one-third-octave levels, 25 Hz to 12.5 kHz [dB]."""
    raise NotImplementedError


def phon_from_sone(sone: ArrayLike) -> Array:
    """Loudness level [phon] of a loudness [sone]."""
    raise NotImplementedError


def sone_from_phon(phon: ArrayLike) -> Array:
    """Loudness [sone] of a loudness level [phon]."""
    raise NotImplementedError
