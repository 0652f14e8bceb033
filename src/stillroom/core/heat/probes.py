"""Probes of temperature: tolerances of thermocouples, and offsets from a common bath."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from stillroom.core.arrays import Array


@dataclass(frozen=True)
class Offset:
    """What a probe read above the mean of all in one bath [K], and its standard uncertainty by noise [K]."""

    value: float
    u: float


@dataclass(frozen=True)
class Offsets:
    """Offsets of probes against each other.

    Parameters
    ----------
    probes : of each its offset. bath : temperature of the bath, mean of all [K].
    u_bath : standard uncertainty by the bath's being uneven, of each probe on its own [K].
    """

    probes: Mapping[str, Offset]
    bath: float
    u_bath: float

    def corrected(self, probe: str, values: Array) -> Array:
        """Readings of a probe less its offset [K]."""
        raise NotImplementedError

    def u_difference(self, first: Sequence[str], second: Sequence[str]) -> float:
        """Standard uncertainty of the difference of the means of two groups of probes, after correction [K]."""
        raise NotImplementedError


def offsets_from_bath(readings: Mapping[str, Array], *, u_bath: float = 0.02) -> Offsets:
    """Offsets of probes from readings in one bath (n,) each [K]."""
    raise NotImplementedError


def thermocouple_limit(kind: str, tolerance_class: int, temperature: float) -> float:
    """Limit of error of a thermocouple [K] at a temperature [K]."""
    raise NotImplementedError
