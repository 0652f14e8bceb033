"""What findings and `trace` need of one table of control behaviour, in plain numbers."""

from __future__ import annotations

from typing import Any

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.control.response import STANDS_STILL
from stillroom.core.control.staircase import resolution_of
from stillroom.methods.control.stairs import Stairs, is_overflow
from stillroom.methods.control.told import Told


def run_facts(told: Told, stairs: Stairs | None) -> dict[str, Any]:
    """The facts of one table.

    Parameters
    ----------
    stairs : its staircases, None where it has none.
    """
    columns = told.columns
    speed = columns.get("speed")
    read = columns.get("pwm_frequency")
    return {
        "run": told.run,
        "key": told.key,
        "file": told.file,
        "table": told.table.value,
        "date": told.date,
        "points": told.size,
        "lines": list(told.lines),
        "pwm_frequency": told.pwm_frequency if told.pwm_frequency is not None else _median(read),
        "supply": _supply(told, stairs),
        "pairs": _pairs(speed, columns.get("optical_speed")),
        "overflows": int(is_overflow(speed).sum()) if speed is not None else 0,
        "overflow": _overflow(speed),
        "resolution": told.speed_chain.resolution or (resolution_of(speed) if speed is not None else 0.0),
        "unsettled": _unsettled(stairs),
        "attempts": [
            [each.setting, each.attempts, each.started, each.rested, each.cold] for each in told.attempts
        ],
        "control": stairs.kind if stairs else told.setting_kind,
        "marks": [] if told.speed_chain.known or stairs is None else ["accuracy of the tachometer not told"],
    }


def _median(values: Array | None) -> float | None:
    there = values[np.isfinite(values)] if values is not None else np.empty(0)
    return float(np.median(there)) if len(there) else None


def _supply(told: Told, stairs: Stairs | None) -> list[float] | None:
    """Lowest and highest supply voltage where the duty was moved [V]; None where it isn't told, or was moved itself."""
    values = told.columns.get("voltage")
    if stairs is None or stairs.kind != "duty" or values is None or not np.isfinite(values).any():
        return None
    return [float(np.nanmin(values)), float(np.nanmax(values))]


def _pairs(speed: Array | None, optical: Array | None) -> list[list[float]]:
    """Tachometer and optical tachometer where both were read while it turned [1/s], at most ten."""
    if speed is None or optical is None:
        return []
    both = np.isfinite(speed) & np.isfinite(optical) & (optical >= STANDS_STILL) & (speed >= STANDS_STILL)
    both &= ~is_overflow(speed)
    at = np.flatnonzero(both)
    kept = at[np.linspace(0, len(at) - 1, min(len(at), 10)).astype(int)] if len(at) else at
    return [[float(speed[i]), float(optical[i])] for i in kept.tolist()]


def _overflow(speed: Array | None) -> float | None:
    """A display's largest number that was read as a speed [1/s]."""
    if speed is None or not is_overflow(speed).any():
        return None
    return float(speed[is_overflow(speed)][0])


def _unsettled(stairs: Stairs | None) -> list[list[float]]:
    """[setting, speed [1/s], relative scatter] of the settled part of each step that turned and has readings enough."""
    if stairs is None:
        return []
    steps = stairs.steps
    rows = zip(steps.settings, steps.speeds, steps.unsettled, steps.readings, strict=True)
    return [[float(s), float(n), float(v)] for s, n, v, k in rows if k > 3 and n >= STANDS_STILL]
