"""From tables of steps, or logs, to legs of settled steps: of the duty, or of the supply voltage."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.control.response import STANDS_STILL, Leg, legs
from stillroom.core.control.staircase import SAME_DUTY, SAME_VOLTS, Steps, resolution_of, snapped, steps_of
from stillroom.core.standards.pwm_fans_4_wire import SUPPLY
from stillroom.errors import NotPossible
from stillroom.methods.control.told import Flags, Table, Told

DUTY, VOLTS = "duty", "volts"

QUANTITY = {DUTY: "duty", VOLTS: "voltage"}
"""{kind of control: the quantity whose column tells it}."""

SAME = {DUTY: SAME_DUTY, VOLTS: SAME_VOLTS}
GRID = {DUTY: 0.005, VOLTS: 0.1}
"""Settings near such a step are that step: 6.98 V is 7 V [SI]."""

OVERFLOWS = (9999.0, 19999.0, 32767.0, 65535.0, 99999.0)
"""The largest numbers of usual displays and counters [rpm] (common practice): no speeds."""


@dataclass(frozen=True)
class Stairs:
    """The staircases of one table.

    Parameters
    ----------
    told : the table. kind : "duty" or "volts". legs : in their order. steps : settled, in their order.
    open_speeds : speeds with the control wire open [1/s].
    """

    told: Told
    kind: str
    legs: tuple[Leg, ...]
    steps: Steps
    open_speeds: Array


def stairs_of(told: Told) -> Stairs:
    """The staircases of a table of steps, or of a log of them.

    Raises
    ------
    NotPossible : no reading with setting and speed, or one setting only.
    """
    kind = control_of(told)
    speed = told.columns["speed"]
    settings = told.columns[QUANTITY[kind]]
    used = np.isfinite(speed) & np.isfinite(settings) & ~told.open_wire & ~is_overflow(speed)
    if int(used.sum()) < 2:
        raise NotPossible(
            f"response in {told.file}",
            found=f"{int(used.sum())} readings with setting and speed",
            expected="several",
        )
    at = np.flatnonzero(used)
    falling = [told.falling[i] for i in at.tolist()] if told.falling else None
    true = told.speed_chain.true(speed[at])
    true = np.where(speed[at] < STANDS_STILL, 0.0, true)  # an offset turns no rotor
    resolution = told.speed_chain.resolution or resolution_of(speed[at])
    breaks = [i for i in range(1, len(at)) if falling and falling[i] != falling[i - 1]]
    on_grid = snapped(settings[at], GRID[kind], SAME[kind])
    steps = steps_of(on_grid, true, same=SAME[kind], resolution=resolution, breaks=breaks)
    ways = [falling[i] for i in steps.first] if falling else None
    u = np.hypot(steps.u, told.speed_chain.own(steps.speeds))
    return Stairs(
        told,
        kind,
        legs(steps.settings, steps.speeds, u, ways),
        steps,
        told.speed_chain.true(speed[told.open_wire]),
    )


def control_of(told: Told) -> str:
    """What was moved: the duty, unless it stayed at 100 % or isn't told, and the voltage was moved."""
    duty, volts = (told.columns.get(name) for name in ("duty", "voltage"))
    if duty is None or not np.isfinite(duty).any():
        return VOLTS
    if volts is None or not np.isfinite(volts).any():
        return DUTY
    moved = np.unique(np.round(duty[np.isfinite(duty)], 3))
    return VOLTS if len(moved) == 1 and np.nanmin(volts) < SUPPLY.low else DUTY


def is_overflow(speeds: Array) -> Flags:
    """Where a reading is a display's largest number [1/s], no speed."""
    shown = speeds * 60.0
    flags: Flags = np.any([np.abs(shown - each) < 0.5 for each in OVERFLOWS], axis=0)
    return flags


def stairs_in(tables: Sequence[Told]) -> tuple[list[Stairs], list[str]]:
    """The staircases of all tables of steps, and why others tell none."""
    found: list[Stairs] = []
    failed: list[str] = []
    for told in tables:
        if told.table is Table.STEPS:
            try:
                found.append(stairs_of(told))
            except NotPossible as error:
                failed.append(error.sentence())
    return found, failed
