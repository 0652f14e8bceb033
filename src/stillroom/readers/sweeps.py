"""The sweeps of a recording: stretches of readings at one setting, in one direction."""

from __future__ import annotations

from dataclasses import dataclass, field

from stillroom.readers.recording import Recording


@dataclass(frozen=True)
class SweepPart:
    """One sweep of a recording.

    Parameters
    ----------
    first, last : its readings, from `first` up to but not including `last`.
    setting : {"duty": 0.4}, {"voltage": 7.0} or {"speed": 25.0} [SI]; empty where the file doesn't tell.
    direction : "up" where the flow rises, "down" where it falls, "" where that can't be told.
    """

    first: int
    last: int
    setting: dict[str, float] = field(default_factory=dict)
    direction: str = ""


def sweeps(recording: Recording) -> tuple[SweepPart, ...]:
    """The sweeps of a recording: at least one, contiguous, together all its readings."""
    return (SweepPart(0, len(recording)),)
