"""The scale of a recording from recordings of a sound calibrator, before and after."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from stillroom.core.arrays import Array


@dataclass(frozen=True)
class CalibratorReading:
    """One recording of a calibrator.

    Parameters
    ----------
    level : of its tone [dB re full scale].
    frequency : of its tone [Hz].
    others : level of all other sound, relative to the tone [dB].
    steady : share of its seconds within 0.25 dB of their median [1].
    seconds : how long it is [s].
    clipped : samples at full scale.
    name : run or file, for messages.
    """

    level: float
    frequency: float
    others: float
    steady: float
    seconds: float
    clipped: int = 0
    name: str = ""


@dataclass(frozen=True)
class Calibrated:
    """The scale: level [dB re 20 µPa] = level [dB re full scale] + offset.

    Parameters
    ----------
    offset : mean of before and after, where both were recorded [dB].
    before, after : each alone; None where it was not recorded [dB].
    drift : after less before; None where one is missing [dB].
    u : standard uncertainty of the offset [dB]: `u_calibrator` (shared by all that it ever calibrates) and
        `u_reading` (of this session).
    nominal : level of the calibrator [dB]. frequency : of its tone as recorded [Hz].
    """

    offset: float
    before: float | None
    after: float | None
    drift: float | None
    u: float
    u_calibrator: float
    u_reading: float
    nominal: float
    frequency: float

    def offset_at(self, share: float) -> float:
        """The offset at a share 0 … 1 of the time between before and after [dB]."""
        raise NotImplementedError


def read_calibrator(
    spectrum: Array, resolution: float, seconds: Array, *, clipped: int = 0, name: str = ""
) -> CalibratorReading:
    """What a recording that should be a calibrator's holds (spectrum and 1 s levels of its analysis)."""
    raise NotImplementedError


def calibrate(
    before: Sequence[CalibratorReading],
    after: Sequence[CalibratorReading],
    nominal: float,
    *,
    earlier: float | None = None,
    u_calibrator: float | None = None,
) -> Calibrated:
    """The scale of a session; `earlier` is an offset known from another day with the same gain."""
    raise NotImplementedError
