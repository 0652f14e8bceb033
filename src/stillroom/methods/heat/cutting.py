"""Where the settings of a run begin and end: as told, else by the drive's record, else by what changes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from itertools import pairwise

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.heat.cutting import Cut, by_change, by_drive
from stillroom.methods.heat.channels import DRIVES, HOT, OPTICAL, SPEED, Channels, air_of, power_of
from stillroom.methods.heat.moments import seconds_of
from stillroom.methods.heat.told import StepTold

SAME_SETTING = 0.02
"""A recorded setting is the planned one within this share of it [1] …"""

SAME_STEP = {"duty": 0.006, "volts": 0.06, "speed": 0.2}
"""… or within this much of it, since drives are recorded in whole steps [SI]."""

LEAST_OVERLAP = 60.0
"""Told steps overlap from here on [s]: their ends are told to the minute."""

ON = 0.5
"""The heater is on at more than this share of its usual power [1]."""


class CutBy(Enum):
    """How the settings of a run were found."""

    TOLD = "told"
    DRIVE = "record of the drive"
    SPEED = "change of speed"
    TEMPERATURE = "change of temperature"
    WHOLE = "one setting"


@dataclass(frozen=True)
class Setting:
    """One setting within a run.

    Parameters
    ----------
    first, last : [s]. kind, setting : "duty", "volts", "speed" or "" and None [SI]. noise : [dB(A)] or None.
    by : how it was found. told : number of the step that tells it, None where none does.
    """

    first: float
    last: float
    kind: str
    setting: float | None
    noise: float | None
    by: CutBy
    told: int | None = None


def settings_of(
    channels: Channels,
    start: float | None,
    told: Sequence[StepTold],
    *,
    kind: str = "",
    setting: float | None = None,
    tau: float | None = None,
) -> tuple[tuple[Setting, ...], tuple[str, ...]]:
    """The settings of a run in order of time, and what must be said of them.

    Parameters
    ----------
    channels : of the run. start : seconds of its time 0. told : the steps planned or told.
    kind, setting : of the whole run, where one is told. tau : time constant, where known [s].

    A step with its ends told stands as it is told, and takes the place of what was found there. Planned ones give their
    noise to the settings that were found: by the setting where the drive tells it, else in order.
    """
    fixed = [each for one in told if (each := _fixed(one, channels, start)) is not None]
    planned = [each for each in told if each.first is None and not each.moment]
    heated = heated_of(channels)
    found = _found(heated, kind, setting, tau, several=len(planned) > 1)
    free = [each for one in found for each in _beside(one, fixed)]
    named, marks = _named(free, planned, plain=not fixed)
    marks += tuple(_against_each_other(fixed)) + tuple(_against_the_drive(fixed, channels))
    return tuple(sorted([*fixed, *named], key=lambda each: each.first)), marks


def _against_each_other(fixed: Sequence[Setting]) -> Iterator[str]:
    """What is said of told steps that overlap: the readings of both count twice."""
    for before, after in pairwise(sorted(fixed, key=lambda each: each.first)):
        over = before.last - after.first
        if over > LEAST_OVERLAP:
            yield f"steps {before.told} and {after.told} are told to overlap by {over / 60.0:.0f} min"


def _against_the_drive(fixed: Sequence[Setting], channels: Channels) -> Iterator[str]:
    """What is said of told steps of which the drive's record shows another setting."""
    for each in fixed:
        drive = channels.between(each.first, each.last).get(DRIVES.get(each.kind, ""))
        if drive is None or each.setting is None:
            continue
        shown = float(np.nanmedian(drive))
        if abs(shown - each.setting) > max(SAME_SETTING * abs(each.setting), SAME_STEP[each.kind]):
            yield (
                f"step {each.told} is told at {each.kind} {_in_words(each.setting, each.kind)},"
                f" its record shows {_in_words(shown, each.kind)}"
            )


def _in_words(setting: float, kind: str) -> str:
    return {"duty": f"{100.0 * setting:.0f} %", "volts": f"{setting:.2f} V"}.get(
        kind, f"{60.0 * setting:.0f} rpm"
    )


def _fixed(told: StepTold, channels: Channels, start: float | None) -> Setting | None:
    """A step whose ends are told, in the run's time; None where it lies outside the run, or is planned only."""
    first, last = told.first, told.last
    if told.moment and start is not None:
        at, until = seconds_of(told.moment), seconds_of(told.until)
        first = None if at is None else at - start
        last = None if until is None else until - start
    if first is None:
        return None
    end = float(channels.times[-1])
    last = end if last is None else last
    if last <= float(channels.times[0]) or first >= end:
        return None
    return Setting(
        max(0.0, first), min(last, end), told.kind, told.setting, told.noise, CutBy.TOLD, told.number
    )


def heated_of(channels: Channels) -> Channels:
    """The rows between the heater's going on and off; all where no power was read."""
    power = power_of(channels)
    if power is None:
        return channels
    there = np.isfinite(power)
    usual = float(np.median(power[there & (power > 0.0)])) if (there & (power > 0.0)).any() else 0.0
    on = np.flatnonzero(there & (power > ON * usual))
    if usual <= 0.0 or not len(on):
        return channels
    return channels.between(float(channels.times[on[0]]), float(channels.times[on[-1]]))


def _found(
    channels: Channels, kind: str, setting: float | None, tau: float | None, *, several: bool
) -> list[Setting]:
    """What the record itself shows."""
    for name, channel in DRIVES.items():
        drive = channels.get(channel)
        if drive is not None:
            cuts = by_drive(channels.times, drive)
            if cuts:
                return [Setting(each.first, each.last, name, each.value, None, CutBy.DRIVE) for each in cuts]
    if setting is None or several:
        cuts, by = _by_change(channels, tau)
        if len(cuts) > 1:
            only = kind if setting is None else ""
            return [Setting(each.first, each.last, only, None, None, by) for each in cuts]
    whole = Cut(float(channels.times[0]), float(channels.times[-1]), setting)
    return [Setting(whole.first, whole.last, kind, setting, None, CutBy.WHOLE)]


def _by_change(channels: Channels, tau: float | None) -> tuple[tuple[Cut, ...], CutBy]:
    for name in (SPEED, OPTICAL):
        speed = channels.get(name)
        if speed is not None:
            return by_change(channels.times, speed), CutBy.SPEED
    rise: Array = channels.columns[HOT] - air_of(channels)[0]
    if tau is None or not np.isfinite(rise).any():
        return (), CutBy.TEMPERATURE
    return by_change(channels.times, rise, tau=tau), CutBy.TEMPERATURE


def _beside(found: Setting, fixed: Sequence[Setting]) -> list[Setting]:
    """What is left of a found setting beside those that are told: nothing where less than half of it is."""
    first, last = found.first, found.last
    for each in fixed:
        if each.first <= first < each.last:
            first = each.last
        if each.first < last <= each.last:
            last = each.first
        if first < each.first and each.last < last:  # a told one in the middle: the longer side is left
            first, last = (first, each.first) if each.first - first >= last - each.last else (each.last, last)
    left = last - first
    return [replace(found, first=first, last=last)] if left >= 0.5 * (found.last - found.first) else []


def _named(
    found: list[Setting], planned: Sequence[StepTold], *, plain: bool
) -> tuple[list[Setting], tuple[str, ...]]:
    """Found settings with what the plan tells of them."""
    if not planned:
        return found, ()
    by_order = len(found) == len(planned)
    named: list[Setting] = []
    for i, each in enumerate(found):
        same = [one for one in planned if _is_same(each, one)]
        taken = {one.told for one in named}
        match = next((one for one in same if one.number not in taken), same[0] if same else None)
        if match is None and by_order:
            match = planned[i] if _may_be(each, planned[i]) else None
        if match is None:
            named.append(each)
            continue
        kind, setting = (each.kind, each.setting) if each.setting is not None else (match.kind, match.setting)
        named.append(replace(each, kind=kind, setting=setting, noise=match.noise, told=match.number))
    if plain and any(all(each.told != one.number for each in named) for one in planned):
        return named, (f"{len(planned)} settings planned, {len(found)} found in the record",)
    return named, ()


def _is_same(found: Setting, planned: StepTold) -> bool:
    if found.setting is None or planned.setting is None or found.kind != planned.kind:
        return False
    within = max(SAME_SETTING * abs(planned.setting), SAME_STEP[planned.kind])
    return abs(found.setting - planned.setting) <= within


def _may_be(found: Setting, planned: StepTold) -> bool:
    """Whether a found setting doesn't contradict a planned one: one tells no setting, or they are of two kinds."""
    return found.setting is None or planned.setting is None or found.kind != planned.kind
