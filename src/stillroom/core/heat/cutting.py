"""Where the settings of a run begin and end."""

from __future__ import annotations

from dataclasses import dataclass

from stillroom.core.arrays import Array


@dataclass(frozen=True)
class Cut:
    """One setting within a run.

    Parameters
    ----------
    first, last : its first and last reading [s]. value : the setting, in the unit of the record, or None.
    """

    first: float
    last: float
    value: float | None


def by_drive(times: Array, drive: Array, *, least: float = 60.0) -> tuple[Cut, ...]:
    """Cut a run by its record of duty, volts or set speed.

    Parameters
    ----------
    times : (n,) [s]. drive : (n,), NaN in gaps. least : shortest setting [s].
    """
    raise NotImplementedError


def by_change(
    times: Array, values: Array, *, least: float = 180.0, tau: float | None = None
) -> tuple[Cut, ...]:
    """Cut a run by changes of measured speed or temperature, where no drive was recorded.

    Parameters
    ----------
    times, values : (n,) [s], any unit, NaN in gaps. least : shortest setting [s].
    tau : time constant [s] of values that approach their end slowly (temperatures); None: they follow at once (speed).
    """
    raise NotImplementedError
