"""What is true of how the invented fans answer their control. Settings as they are set: duties [%] or voltages [V]."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class ControlTruth:
    """One sample on the bench for control.

    Parameters
    ----------
    files : relative to the folder. by : "duty" or "volts". stops : whether it ever stands still.
    stop : the lowest setting that still turns it. start : the lowest that starts it from rest.
    lowest : its lowest speed while it turns [1/s]. full : full speed [1/s].
    peak : of the current at the start [A].
    tried, started : attempts to start at `tried_at`.
    departure : greatest of speed over full speed less duty from 30 % up [1]; 0 under voltage.
    """

    mounting: str
    fan: str
    sample: str
    files: tuple[str, ...]
    by: str
    stops: bool
    stop: float
    start: float
    lowest: float
    full: float
    peak: float
    tried_at: float
    tried: int
    started: int
    departure: float
