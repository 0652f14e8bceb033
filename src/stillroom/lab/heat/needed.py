"""The least speed at which a mounting holds a temperature rise, with its errors by kind."""

from __future__ import annotations

import numpy as np

from stillroom.compare.candidates import How
from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.heat.heat_curve import SLOPE, HeatCurve
from stillroom.errors import NotPossible
from stillroom.lab.heat.places import NEAR, forecast_marks, full_speed, measured_words
from stillroom.lab.heat.valuing import HeatValue, Rows, Warmed, curve_of
from stillroom.lab.sound.level_words import speed_in_words

BEYOND_FULL = 0.005
"""So far above full speed a needed speed still counts as full speed [1]."""


def speed_for_heat(warmed: Warmed, rise: float) -> HeatValue:
    """The least speed [1/s] at which a mounting's temperature rise at nominal power is a given one [K].

    Raises
    ------
    NotPossible : no curve against speed, or a speed that it doesn't have or that was not measured.
    """
    curve = curve_of(warmed.heat)
    total, shared = (_crossing(curve, part, rise) for part in (Part.TOTAL, Part.SHARED))
    speed = float(total[0])
    _refuse(warmed, curve, rise, speed)
    near = any(abs(each.speed / speed - 1.0) <= NEAR for each in curve.points)
    low, high = curve.measured
    beside = sorted(curve.points, key=lambda each: abs(np.log(each.speed / speed)))[:2]
    marks = forecast_marks(warmed.heat, beside)
    inside = low * (1.0 - NEAR) <= speed <= high * (1.0 + NEAR)
    marks += [] if inside else [f"modelled: {measured_words(warmed.heat)}"]
    how = How.INTERPOLATED if inside and not marks else How.MODELLED
    how = How.MEASURED if near and not marks else how
    return HeatValue(
        Rows(total, shared, curve.sources).result(warmed.node), how, (*marks, *warmed.heat.marks), speed
    )


def _crossing(curve: HeatCurve, part: Part, rise: float) -> Array:
    """The least speed of each row at which its curve comes down to a rise [1/s]; beyond its ends by a power law."""
    rows = np.log(np.maximum(curve.rows(part, curve.sources), 1e-3))
    falling = np.minimum.accumulate(rows, axis=1)  # a trial that turns up again has come down before
    target, x = np.log(rise), np.log(curve.speeds)
    under = falling <= target
    at = np.where(under.any(axis=1), under.argmax(axis=1), rows.shape[1] - 1)
    row = np.arange(len(rows))
    before = np.maximum(at - 1, 0)
    drop = falling[row, before] - falling[row, at]
    share = np.where(drop > 0.0, (falling[row, before] - target) / np.where(drop > 0.0, drop, 1.0), 1.0)
    inside = x[before] + np.clip(share, 0.0, 1.0) * (x[at] - x[before])
    first, last = x[0] + (target - falling[:, 0]) / SLOPE, x[-1] + (target - falling[:, -1]) / SLOPE
    found = np.where(falling[:, 0] <= target, first, np.where(under.any(axis=1), inside, last))
    return np.asarray(np.exp(found))


def _refuse(warmed: Warmed, curve: HeatCurve, rise: float, speed: float) -> None:
    """A speed that the fan doesn't have, or for which nothing was measured."""
    low, high = curve.reach
    top = full_speed(warmed.heat)
    if top is not None and speed > top * (1.0 + BEYOND_FULL):
        raise NotPossible(
            f"temperature rise of {rise:.4g} K",
            found=f"it needs {speed_in_words(speed)}, more than its full speed behind the radiator,"
            f" {speed_in_words(top)}",
            expected="a greater rise",
        )
    if speed > high * (1.0 + 1e-9):
        raise NotPossible(
            f"temperature rise of {rise:.4g} K",
            found=f"it needs more than {speed_in_words(high)}; {measured_words(warmed.heat)}",
            expected="a step at a greater speed, or a greater rise",
        )
    if speed < low * (1.0 - 1e-9):
        raise NotPossible(
            f"temperature rise of {rise:.4g} K",
            found=f"it needs less than {speed_in_words(low)}; {measured_words(warmed.heat)}",
            expected="a step at a lower speed, or a smaller rise",
        )
