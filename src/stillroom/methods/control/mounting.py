"""From the tables of one mounting to its control behaviour."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from stillroom.core.control.control_mounting import (
    ControlMounting,
    Drive,
    Inrush,
    OpenWire,
    StartCount,
)
from stillroom.core.control.inrush import inrush_of, peak_told
from stillroom.core.control.linearity import FULL_DUTY, greatest_departure
from stillroom.core.control.response import (
    Leg,
    Lowest,
    behaviour,
    falls_back,
    full_speed,
    hysteresis,
    joined,
    lowest_running,
    slowest_before,
    start_threshold,
    stop_threshold,
    without_open_end,
)
from stillroom.core.control.staircase import settled_part
from stillroom.core.control.starts import start_counts, start_of, threshold_of
from stillroom.core.speeds import setting_words
from stillroom.errors import NotPossible
from stillroom.methods.airflow.chain import RECTANGULAR, Chain
from stillroom.methods.control.facts import run_facts
from stillroom.methods.control.stairs import DUTY, VOLTS, Stairs, stairs_in
from stillroom.methods.control.told import Table, Told

NOTHING = "neither a response nor start attempts nor a start's current"


@dataclass(frozen=True)
class Reduced:
    """A mounting's control behaviour, and its tables in plain words.

    Parameters
    ----------
    control : None where no table could be used; then `failed` says why. runs : a dict each.
    """

    control: ControlMounting | None
    failed: str
    runs: tuple[dict[str, Any], ...]


def reduce_control(tables: Sequence[Told]) -> Reduced:
    """Reduce the tables of one mounting: staircases, start attempts, records of current.

    Parameters
    ----------
    tables : in their order.
    """
    stairs, failed = stairs_in(tables)
    runs = tuple(run_facts(each, next((one for one in stairs if one.told is each), None)) for each in tables)
    drives: dict[str, Drive] = {}
    for kind in (DUTY, VOLTS):
        own = [each for each in stairs if each.kind == kind]
        attempts = [one for each in tables if each.setting_kind == kind for one in each.attempts]
        if own or attempts:
            drives[kind] = _drive(kind, own, start_counts(attempts))
    inrush, without = _inrush(tables)
    if not drives and inrush is None:
        return Reduced(None, "; ".join(dict.fromkeys((*failed, *without))) or NOTHING, runs)
    control = ControlMounting(drives, _open_wire(stairs, drives), inrush, _marks(drives, tables))
    return Reduced(control, "", runs)


def _drive(kind: str, own: Sequence[Stairs], counts: tuple[StartCount, ...]) -> Drive:
    by_attempts = threshold_of([each for each in counts if each.from_rest is not False])
    if not own:
        return Drive(kind, None, None, None, None, None, None, None, None, None, by_attempts, counts, None, None,
                     None, None, None, None, {})  # fmt: skip
    every = [leg for each in own for leg in each.legs]
    top, full, u_full = full_speed([each.response for each in every])
    kept = [Leg(without_open_end(each.response, full, kind)[0], each.is_falling) for each in every]
    kept = [each for each in kept if len(each.response.settings) > 1]
    goes_full = any(without_open_end(each.response, full, kind)[1] for each in every)
    up, down = (joined(every, falling=way) for way in (False, True))
    lowest, stop = lowest_running(kept), stop_threshold(kept)
    differs = hysteresis(up, down, full) if up and down and full > 0.0 else None
    return Drive(
        kind=kind,
        up=up,
        down=down,
        full=full,
        u_full=u_full,
        full_setting=top,
        lowest_setting=lowest.setting if lowest else None,
        lowest=lowest.speed if lowest else None,
        u_lowest=lowest.u if lowest else None,
        stop=stop,
        start=start_of(by_attempts, start_threshold(kept)),
        starts=counts,
        hysteresis=differs[0] if differs else None,
        hysteresis_at=differs[1] if differs else None,
        linearity=greatest_departure(every, full, u_full, top) if kind == DUTY else None,
        behaviour=behaviour(kept, full, goes_full=goes_full),
        falls_back=falls_back(kept, full),
        slowest=slowest_before(kept, lowest, stop) if lowest and stop else None,
        lowest_shared=_shared(own[0].told.speed_chain, lowest),
    )


def _shared(chain: Chain, lowest: Lowest | None) -> dict[str, float]:
    """What each shared source of the speed meter does to the lowest speed [1/s]."""
    if lowest is None:
        return {}
    reading = np.array([lowest.speed * chain.gain + chain.offset])
    return {name: float(change[0]) for name, change in chain.shared(reading)}


def _open_wire(stairs: Sequence[Stairs], drives: Mapping[str, Drive]) -> OpenWire | None:
    """The speed with the control wire open; None where it wasn't taken, or full duty wasn't."""
    drive = drives.get(DUTY)
    own = [each.open_speeds[np.isfinite(each.open_speeds)] for each in stairs if each.kind == DUTY]
    speeds = np.concatenate([settled_part(each) for each in own] or [np.empty(0)])
    if not len(speeds) or drive is None or not drive.full or (drive.full_setting or 0.0) < FULL_DUTY:
        return None
    speed, u_full = float(speeds.mean()), drive.u_full or 0.0
    scatter = float(np.std(speeds, ddof=1)) if len(speeds) > 1 else 0.0
    u = float(np.hypot(scatter, u_full))
    share = speed / drive.full
    return OpenWire(speed, u, share, float(np.hypot(u, share * u_full)) / drive.full)


def _inrush(tables: Sequence[Told]) -> tuple[Inrush | None, list[str]]:
    """The greatest inrush of all records; where there is none, of the peaks that were read off."""
    found: list[Inrush] = []
    failed: list[str] = []
    for each in tables:
        if each.table is Table.INRUSH:
            currents = each.current_chain.true(each.columns["current"])
            try:
                found.append(inrush_of(each.columns["time"], currents, _relative(each.current_chain)))
            except NotPossible as error:
                failed.append(error.sentence())
    if found:
        return max(found, key=lambda one: one.peak), failed
    peaks = [(each, each.columns["peak_current"]) for each in tables if "peak_current" in each.columns]
    told = [each.current_chain.true(values[np.isfinite(values)]) for each, values in peaks]
    read = np.concatenate(told) if told else np.empty(0)
    return (peak_told(read, _relative(peaks[0][0].current_chain)) if len(read) else None), failed


def _relative(chain: Chain) -> float:
    """Relative standard uncertainty of a current [1]."""
    return float(np.hypot(chain.gain_u / chain.gain, chain.relative * RECTANGULAR))


def _marks(drives: Mapping[str, Drive], tables: Sequence[Told]) -> tuple[str, ...]:
    marks = [mark for drive in drives.values() for mark in _drive_marks(drive)]
    if any(each.table is Table.STEPS and not each.speed_chain.known for each in tables):
        marks.append("accuracy of the tachometer not told")
    if any(each.open_wire.any() for each in tables) and not any((each.full_setting or 0.0) >= FULL_DUTY
                                                                for each in drives.values()):  # fmt: skip
        marks.append("full duty not taken: nothing to hold the open wire against")
    return tuple(dict.fromkeys(marks))


def _drive_marks(drive: Drive) -> list[str]:
    marks = []
    if drive.falls_back is not None:
        low, high = (setting_words(drive.kind, each) for each in drive.falls_back)
        marks.append(f"the speed falls from {low} to {high} though the setting rises")
    if (drive.up is None) != (drive.down is None):
        marks.append(f"response with {'rising' if drive.down is None else 'falling'} settings only")
    if drive.starts and all(each.from_rest is None for each in drive.starts):
        marks.append("not told whether it started from rest")
    return marks
