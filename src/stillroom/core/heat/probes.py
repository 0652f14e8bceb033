"""Probes of temperature: their limits of error, and their offsets from a common bath."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.heat.autocorrelation import mean_of
from stillroom.errors import NotPossible, OutOfRange, UnknownThing

CELSIUS = 273.15

U_BATH = 0.02
"""Standard uncertainty of a probe's place in a stirred bath [K]: it isn't equally warm everywhere (common practice)."""


@dataclass(frozen=True)
class Offset:
    """What a probe read above the mean of all in one bath [K], and its standard uncertainty by the readings [K]."""

    value: float
    u: float


@dataclass(frozen=True)
class Offsets:
    """Offsets of probes against each other.

    They say nothing of how right the probes are together: that stays their shared limit of error, and cancels in
    a difference between two of them.

    Parameters
    ----------
    probes : of each its offset. bath : temperature of the bath, mean of all [K].
    u_bath : standard uncertainty of each probe's own place in the bath [K].
    """

    probes: Mapping[str, Offset]
    bath: float
    u_bath: float

    def corrected(self, probe: str, values: Array) -> Array:
        """Readings of a probe less its offset [K].

        Raises
        ------
        UnknownThing : it was not in the bath.
        """
        return np.asarray(values - self._of(probe).value)

    def u_difference(self, first: Sequence[str], second: Sequence[str]) -> float:
        """Standard uncertainty of the difference of the means of two groups of probes, by their offsets [K].

        Parameters
        ----------
        first, second : names of the probes; one that is in both groups cancels as far as it is.

        Raises
        ------
        UnknownThing : a probe that was not in the bath.
        """
        shares = dict.fromkeys((*first, *second), 0.0)
        for names, sign in ((first, 1.0), (second, -1.0)):
            for name in names:
                shares[name] += sign / len(names)
        return math.sqrt(
            sum(share**2 * (self._of(name).u ** 2 + self.u_bath**2) for name, share in shares.items())
        )

    def _of(self, probe: str) -> Offset:
        if probe not in self.probes:
            raise UnknownThing(f"probe {probe!r}", found="no offset", expected=", ".join(self.probes))
        return self.probes[probe]


def offsets_from_bath(readings: Mapping[str, Array], *, u_bath: float = U_BATH) -> Offsets:
    """Offsets of probes from readings in one bath.

    The bath may drift: each reading is taken against the mean of all probes at that instant.

    Parameters
    ----------
    readings : of each probe, at the same instants (n,) [K]; NaN where it was not read.
    u_bath : standard uncertainty of a probe's place in it [K].

    Raises
    ------
    NotPossible : fewer than two probes, or too few instants at which all were read; probes further apart than any
    two can be, or that drift against each other: they didn't lie in one bath, or it was not at rest.
    """
    if len(readings) < 2:
        raise NotPossible("offsets of probes", found=f"{len(readings)} in the bath", expected="two or more")
    table = np.array([readings[name] for name in readings], dtype=np.float64)
    table = table[:, np.isfinite(table).all(axis=0)]
    apart = table - table.mean(axis=0)
    own = [mean_of(row) for row in apart]
    _refuse_no_bath(readings, apart)
    offsets = {name: Offset(each.value, each.u) for name, each in zip(readings, own, strict=True)}
    return Offsets(offsets, float(table.mean()), u_bath)


FARTHEST = 5.0
"""Probes that read further from the mean of all didn't lie in one bath [K]: twice a type K of class 2 (IEC 60584-1,
from memory)."""

MOVED = 0.2
"""A probe that moves by more against the others, from the first third of the record to the last, didn't rest [K]
(common practice)."""


def _refuse_no_bath(names: Iterable[str], apart: Array) -> None:
    """Refuse readings of no common bath at rest. apart : each probe's from the mean of all (probes, n) [K]."""
    third = max(1, apart.shape[1] // 3)
    for name, row in zip(names, apart, strict=True):
        off = float(np.median(row))
        moved = float(np.median(row[-third:]) - np.median(row[:third]))
        if abs(off) > FARTHEST:
            found = f"{name} {off:+.1f} K from the mean of all"
            raise NotPossible(
                "offsets of probes", found=found, expected=f"probes in one bath, {FARTHEST:g} K at most"
            )
        if abs(moved) > MOVED:
            found = f"{name} moving by {moved:+.2f} K against the others"
            raise NotPossible(
                "offsets of probes", found=found, expected=f"a bath at rest, {MOVED:g} K at most"
            )


@dataclass(frozen=True)
class Tolerance:
    """Limit of error of a kind of probe: the greater of `least` [K] and `share` of |t| in °C, or their sum.

    Parameters
    ----------
    low, high : temperatures for which it is stated [°C]. is_sum : whether the two are added (resistance thermometers).
    """

    least: float
    share: float
    low: float
    high: float
    is_sum: bool = False


TOLERANCES: Mapping[tuple[str, str], Tolerance] = {
    # IEC 60584-1:2013, table 12 (from memory; types T and K, class 1, as read in makers' tables)
    ("T", "1"): Tolerance(0.5, 0.004, -40.0, 350.0),
    ("T", "2"): Tolerance(1.0, 0.0075, -40.0, 350.0),
    ("K", "1"): Tolerance(1.5, 0.004, -40.0, 1000.0),
    ("K", "2"): Tolerance(2.5, 0.0075, -40.0, 1200.0),
    ("J", "1"): Tolerance(1.5, 0.004, -40.0, 750.0),
    ("J", "2"): Tolerance(2.5, 0.0075, -40.0, 750.0),
    ("N", "1"): Tolerance(1.5, 0.004, -40.0, 1000.0),
    ("N", "2"): Tolerance(2.5, 0.0075, -40.0, 1200.0),
    ("E", "1"): Tolerance(1.5, 0.004, -40.0, 800.0),
    ("E", "2"): Tolerance(2.5, 0.0075, -40.0, 900.0),
    # IEC 60751:2022, table 3 (from memory), wire-wound
    ("Pt", "AA"): Tolerance(0.1, 0.0017, -50.0, 250.0, is_sum=True),
    ("Pt", "A"): Tolerance(0.15, 0.002, -100.0, 450.0, is_sum=True),
    ("Pt", "B"): Tolerance(0.3, 0.005, -196.0, 600.0, is_sum=True),
}


def probe_limit(kind: str, tolerance_class: str, temperature: float) -> float:
    """Limit of error of a thermocouple or resistance thermometer.

    Parameters
    ----------
    kind : "T", "K", "J", "N", "E", or "Pt".
    tolerance_class : "1", "2"; "AA", "A", "B" of "Pt".
    temperature : [K].

    Returns
    -------
    Half-width of a rectangular distribution [K]; divided by √3 it is a standard uncertainty.

    Raises
    ------
    UnknownThing : a kind and class that is not listed. OutOfRange : a temperature for which it isn't stated.

    Source: IEC 60584-1:2013, table 12; IEC 60751:2022, table 3 (from memory).
    """
    told = TOLERANCES.get((kind, tolerance_class))
    if told is None:
        raise UnknownThing(
            "kind of probe",
            found=f"{kind} class {tolerance_class}",
            expected=", ".join(f"{one} class {other}" for one, other in TOLERANCES),
        )
    celsius = temperature - CELSIUS
    if not told.low <= celsius <= told.high:
        raise OutOfRange(
            f"limit of error of type {kind}, class {tolerance_class}",
            found=f"{celsius:g} °C",
            expected=f"{told.low:g} to {told.high:g} °C",
        )
    by_share = told.share * abs(celsius)
    return told.least + by_share if told.is_sum else max(told.least, by_share)
