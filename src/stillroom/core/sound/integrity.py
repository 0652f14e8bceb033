"""Whether samples are what the microphone gave: clipping, drop-outs, silence, a constant offset."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Integrity:
    """What is wrong with the samples themselves.

    Parameters
    ----------
    clipped : samples on flat tops, at full scale or below it. clipped_runs : the flat tops.
    clipped_at : the largest value, where samples are clipped, else None [of full scale].
    dropouts : (start [s], length [s]) of each stretch of exact zeros or of one repeated value.
    silent : nothing but the last digit, or nothing at all.
    dc_offset : mean of all samples [of full scale].
    """

    clipped: int
    clipped_runs: int
    clipped_at: float | None
    dropouts: tuple[tuple[float, float], ...]
    silent: bool
    dc_offset: float
