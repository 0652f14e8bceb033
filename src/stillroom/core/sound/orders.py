"""The order of each tone, and what it comes from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from stillroom.core.sound.tones import Tone


class Origin(Enum):
    """What a tone comes from."""

    BLADE_PASS = "blade pass"
    BLADE_PASS_HARMONIC = "harmonic of blade pass"
    SHAFT = "shaft"
    MOTOR = "motor"
    FIXED = "fixed frequency"
    UNKNOWN = "not known"


@dataclass(frozen=True)
class NamedTone:
    """A tone with its order, frequency/shaft speed, and its origin."""

    tone: Tone
    order: float
    origin: Origin


@dataclass(frozen=True)
class Line:
    """One tone followed over several speeds.

    Parameters
    ----------
    origin : what it comes from.
    order : its order where it is locked to the rotor, else None.
    frequency : its frequency [Hz] where that is fixed, else None.
    dwells : the places, in the sequence that was given, of the dwells in which it was found.
    """

    origin: Origin
    order: float | None
    frequency: float | None
    dwells: tuple[int, ...]


@dataclass(frozen=True)
class AcrossSpeeds:
    """The tones of each dwell, named by what they do from speed to speed, and the lines that they form."""

    named: tuple[tuple[NamedTone, ...], ...]
    lines: tuple[Line, ...]


def name_tones(tones: Sequence[Tone], speed: float, blades: int | None) -> tuple[NamedTone, ...]:
    """The order and, as far as one speed can tell, the origin of each tone."""
    raise NotImplementedError


def across_speeds(
    speeds: Sequence[float], tones: Sequence[Sequence[Tone]], blades: int | None
) -> AcrossSpeeds:
    """The tones of several dwells: the same order at several speeds is rotor-locked, the same frequency fixed."""
    raise NotImplementedError
