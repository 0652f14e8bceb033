"""A measuring chain: from what an instrument showed to what was there, with its sources of error.

An instrument reads `gain · true + offset`. Its errors are of two kinds: shared ones (offset, gain, linearity
by range), each with an identity that belongs to instrument and property, and own ones (noise, resolution).
Limits of error without a stated distribution are taken as rectangular (JCGM 100:2008, 4.3.7).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from stillroom.core.arrays import Array
from stillroom.records.bench import Calibration, Instrument

UNTOLD_NOISE = 0.005
"""Scatter of single readings taken where nobody told an instrument's noise, of reading [1] (our choice)."""

SCATTERING = ("flow", "static_pressure", "nozzle_pressure", "resistance_pressure")
"""The quantities that are never read without scatter."""

RECTANGULAR = 1.0 / math.sqrt(3.0)
ROUNDING = 1.0 / math.sqrt(12.0)


@dataclass(frozen=True)
class Chain:
    """How one quantity is measured on a rig.

    Parameters
    ----------
    instrument : identity of the instrument (or of "the bench", where only one line is known).
    offset, gain : of the calibration; offset_u, gain_u their standard uncertainties; SI.
    linearity : (from, to, u) by range of the reading, SI; beyond the last the u grows with the reading.
    relative, absolute : limits of error of an accuracy line, rectangular; SI.
    resolution : step of the display. noise_relative, noise_absolute : own standard deviations.
    known : False for a chain that stands in for an instrument that nobody told of.
    """

    instrument: str
    offset: float = 0.0
    gain: float = 1.0
    offset_u: float = 0.0
    gain_u: float = 0.0
    linearity: tuple[tuple[float, float, float], ...] = ()
    relative: float = 0.0
    absolute: float = 0.0
    resolution: float = 0.0
    noise_relative: float = 0.0
    noise_absolute: float = 0.0
    known: bool = True

    @classmethod
    def of(cls, instrument: Instrument, calibration: Calibration | None) -> Chain:
        """The chain of an instrument under one calibration (or under its accuracy line alone)."""
        told = calibration or Calibration(instrument=instrument.instrument, date="")
        untold = UNTOLD_NOISE if instrument.quantity in SCATTERING and instrument.noise is None else 0.0
        parts = tuple(
            (float(each["from"]), float(each["to"]), float(each["u"])) for each in told.linearity or ()
        )
        return cls(
            instrument=instrument.instrument,
            offset=told.offset or 0.0,
            gain=1.0 if told.gain is None else told.gain,
            offset_u=told.offset_u or 0.0,
            gain_u=told.gain_u or 0.0,
            linearity=parts,
            relative=(instrument.accuracy_relative or 0.0) if calibration is None else 0.0,
            absolute=(instrument.accuracy_absolute or 0.0) if calibration is None else 0.0,
            resolution=instrument.resolution or 0.0,
            noise_relative=untold if instrument.noise_relative is None else instrument.noise_relative,
            noise_absolute=instrument.noise_absolute or 0.0,
        )

    def true(self, reading: Array) -> Array:
        """What was there, by the calibration [SI], shape of the reading."""
        return (reading - self.offset) / self.gain

    def shared(self, reading: Array) -> Iterator[tuple[str, Array]]:
        """Each shared source: its identity, and what +1 standard deviation of it does to the true value."""
        true = self.true(reading)
        name = f"instrument/{self.instrument}"
        offset = math.hypot(self.offset_u / self.gain, self.absolute * RECTANGULAR)
        gain = math.hypot(self.gain_u / self.gain, self.relative * RECTANGULAR)
        if offset > 0.0:
            yield f"{name}/offset", np.full_like(true, -offset)
        if gain > 0.0:
            yield f"{name}/gain", -gain * true
        bottom, top = self.reach
        for low, high, u in self.linearity:
            inside = (reading >= low) & (reading < high)
            inside |= (reading >= high) & (high == top)  # beyond all ranges the last one goes on, and grows
            inside |= (reading < low) & (low == bottom)
            if u > 0.0 and inside.any():
                grown = np.maximum(1.0, reading / high) if high > 0.0 else np.ones_like(reading)
                yield f"{name}/linearity/{low:g}", np.where(inside, -u / self.gain * grown, 0.0)

    @property
    def reach(self) -> tuple[float, float]:
        """Least and greatest reading that the calibration speaks of [SI]; ∓∞ where it tells no range."""
        ends = [(low, high) for low, high, _ in self.linearity]
        return min((each[0] for each in ends), default=-math.inf), max(
            (each[1] for each in ends), default=math.inf
        )

    def own(self, reading: Array) -> Array:
        """Standard deviation of each reading's own error [SI], shape of the reading."""
        relative = self.noise_relative * np.abs(reading)
        squares = relative**2 + self.noise_absolute**2 + (self.resolution * ROUNDING) ** 2
        return np.asarray(np.sqrt(squares) / self.gain)
