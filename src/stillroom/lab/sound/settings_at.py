"""The duty or voltage at which a fan turns at a given speed: a measured relation, at the operating point."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.monotone_cubic import monotone_cubic
from stillroom.core.mounted import MountedFan
from stillroom.core.systems import Load
from stillroom.errors import StillroomError
from stillroom.measures import Condition, curve_in, load_in
from stillroom.measures.crossing import at_free_delivery, crossing

KINDS = ("duty", "volts")
SLACK = 0.005
"""A speed this far beyond those of the settings still counts as theirs [1]."""


@dataclass(frozen=True)
class SettingAt:
    """A setting that gives a speed.

    Parameters
    ----------
    kind : "duty" or "volts". value : [1] or [V]. way : what it was read from, in words.
    """

    kind: str
    value: float
    way: str


AT_POINT, IN_ROOM = "by the airflow sweeps, at the operating point", "by the dwells in the quiet room"


def setting_from_airflow(
    fans: Sequence[MountedFan], load: Load | None, condition: Condition, speed: float
) -> SettingAt | None:
    """The setting that gives a speed [1/s] at the operating point, mean over mountings; None where none tells it."""
    for kind in KINDS:
        found = [value for fan in fans if (value := _of_fan(fan, load, condition, kind, speed)) is not None]
        if found:
            return SettingAt(kind, float(np.mean(found)), AT_POINT)
    return None


def _of_fan(
    fan: MountedFan, load: Load | None, condition: Condition, kind: str, speed: float
) -> float | None:
    tested = next((each for each in fan.settings if each.kind == kind), None)
    if tested is None:
        return None
    try:
        phi = _operating_phi(fan, load, condition, min(max(speed, fan.speeds[0]), fan.speeds[1]))
    except StillroomError:
        return None  # no operating point that is read: the dwells may tell it
    speeds = tested.central @ np.array([1.0, phi, phi**2])
    return setting_of(tested.values, speeds, speed)


def _operating_phi(fan: MountedFan, load: Load | None, condition: Condition, speed: float) -> float:
    """φ at the operating point at a speed; at free delivery where there is no load."""
    curve = curve_in(fan, Condition(speed=speed, system=condition.system), Part.CENTRAL, ())
    around = load_in(load, condition.system)
    if around is None or not around.stacks:
        return float(at_free_delivery(lambda place: place.phi)(curve, None, Part.CENTRAL, ()).values[0])
    return float(crossing(curve, around, (), Part.CENTRAL).chosen[0])


def setting_from_sound(
    pairs: Sequence[Mapping[str, Sequence[tuple[float, float]]]], speed: float
) -> SettingAt | None:
    """The same from (setting, speed) pairs of dwells, one mapping a mounting; the mean over mountings."""
    for kind in KINDS:
        found = []
        for each in pairs:
            told = np.array(each.get(kind, ()))
            if len(told) and (value := setting_of(told[:, 0], told[:, 1], speed)) is not None:
                found.append(value)
        if found:
            return SettingAt(kind, float(np.mean(found)), IN_ROOM)
    return None


def setting_of(settings: Array, speeds: Array, speed: float) -> float | None:
    """The greatest setting that gives at most a speed, between those tested by a monotone cubic; None outside them.

    Parameters
    ----------
    settings : rising, (s,). speeds : of each, (s,) [1/s]. speed : wanted [1/s].
    """
    if not speeds.min() * (1.0 - SLACK) <= speed <= speeds.max() * (1.0 + SLACK):
        return None
    if len(settings) == 1:
        return float(settings[0])
    fine = np.unique(np.concatenate([np.linspace(settings[0], settings[-1], 2001), settings]))
    at = monotone_cubic(settings, speeds, fine)
    under = np.flatnonzero(at <= speed)
    if not len(under):
        return float(settings[int(np.argmin(speeds))])
    last = int(under[-1])
    if last == len(fine) - 1:
        return float(fine[-1])
    rise = at[last + 1] - at[last]
    return float(fine[last] + (fine[last + 1] - fine[last]) * (speed - at[last]) / rise)
