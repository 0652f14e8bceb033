"""The airflow measures: what is taken from a fan's curve at one speed, with or without an obstacle."""

from __future__ import annotations

import difflib
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.mounted import Curve, MeasuredObstacle
from stillroom.core.multiple import Merit
from stillroom.core.operating import (
    OperatingPoints,
    free_delivery,
    greatest_air_power,
    operating_points,
    shut_off_pressure,
)
from stillroom.errors import NotPossible, UnknownThing

SLACK = 0.01
"""A value this far beyond the readings still counts as read [1]."""


@dataclass(frozen=True)
class Found:
    """A measure in every row, with what must be said beside it.

    Parameters
    ----------
    values : (rows,), SI. lowest, highest : the same where one value would be a lie, else equal to `values`.
    unique : whether one value stands for it. extrapolated : whether it lies beyond the readings.
    rising : whether the operating point lies on a rising branch of the curve.
    """

    values: Array
    lowest: Array
    highest: Array
    unique: bool = True
    extrapolated: bool = False
    rising: bool = False


Take = Callable[[Curve, MeasuredObstacle | None, Part, tuple[str, ...]], Found]


@dataclass(frozen=True)
class Measure:
    """A measure as it is published.

    Parameters
    ----------
    name : as given on the command line. title : as readers see it. definition : in one sentence.
    version : raised when the same curve would give another number.
    quantity : the vocabulary's quantity of its values. merit : which direction is better.
    through : whether it needs an obstacle. take : the function that takes it from a curve.
    """

    name: str
    title: str
    definition: str
    version: int
    quantity: str
    merit: Merit
    through: bool
    take: Take


STRAY = 0.01
"""Share of trials that may pass the end of the curve followed; they count as lying at its end [1]."""


def _with_strays(values: Array, missing: NDArray[np.bool_], end: float, thing: str, fixed: int) -> Array:
    """The values of all rows; a stray trial without one lies at the end of the curve.

    Parameters
    ----------
    values : (rows,). missing : rows without a value. end : abscissa at which the curve ends.
    fixed : how many rows before the trials must have a value of their own.

    Raises
    ------
    NotPossible : a fixed row, or more than a stray trial, has none.
    """
    if missing[:fixed].any() or float(missing[fixed:].mean() if len(missing) > fixed else 0.0) > STRAY:
        raise NotPossible(
            thing,
            found=f"none on the curve in {int(missing.sum())} of {len(missing)} rows",
            expected="a curve that reaches it",
        )
    return np.where(missing, end, values)


def _reach(curve: Curve) -> tuple[float, float]:
    low, high = curve.fan.characteristic.reach
    return low, high * (1.0 + SLACK)


def _points(curve: Curve, points: OperatingPoints, thing: str) -> Found:
    """Operating points in φ as flows."""
    fixed, end = 1 + points.sources, float(curve.phi[-1])
    chosen, lowest, highest = (
        _with_strays(each, points.missing, end, thing, fixed)
        for each in (points.flow, points.lowest, points.highest)
    )
    unique = not points.not_unique
    return Found(
        values=curve.flow_at(chosen),
        lowest=curve.flow_at(chosen if unique else lowest),
        highest=curve.flow_at(chosen if unique else highest),
        unique=unique,
        extrapolated=not bool(points.inside[0]),
        rising=bool(points.rising[0]),
    )


def _free_airflow(
    curve: Curve, _obstacle: MeasuredObstacle | None, _part: Part, sources: tuple[str, ...]
) -> Found:
    root = free_delivery(curve.phi, curve.pressure, reach=_reach(curve))
    end = float(curve.phi[-1])
    values = curve.flow_at(_with_strays(root.values, root.missing, end, "free delivery", 1 + len(sources)))
    return Found(values, values, values, extrapolated=not bool(root.inside[0]))


def _maximum_pressure(
    curve: Curve, _obstacle: MeasuredObstacle | None, _part: Part, _sources: tuple[str, ...]
) -> Found:
    shut = shut_off_pressure(curve.phi, curve.pressure, reach=_reach(curve))
    values = shut.complete("shut-off pressure")
    return Found(values, values, values, extrapolated=not bool(shut.inside[0]))


def _air_power(
    curve: Curve, _obstacle: MeasuredObstacle | None, _part: Part, _sources: tuple[str, ...]
) -> Found:
    power, _ = greatest_air_power(curve.phi, curve.pressure * curve.to_flow, reach=_reach(curve))
    values = power.complete("greatest air power")
    return Found(values, values, values, extrapolated=not bool(power.inside[0]))


def _static_efficiency(
    curve: Curve, _obstacle: MeasuredObstacle | None, part: Part, sources: tuple[str, ...]
) -> Found:
    share = curve.pressure * curve.to_flow / curve.power(part, sources)
    best, _ = greatest_air_power(curve.phi, share, reach=_reach(curve))
    values = best.complete("best static efficiency")
    return Found(values, values, values, extrapolated=not bool(best.inside[0]))


def _airflow(curve: Curve, obstacle: MeasuredObstacle | None, part: Part, sources: tuple[str, ...]) -> Found:
    if obstacle is None:
        return _free_airflow(curve, obstacle, part, sources)
    drop = obstacle.drop(curve.flow, part, sources)
    points = operating_points(curve.phi, curve.pressure, drop, reach=_reach(curve), sources=len(sources))
    found = _points(curve, points, "operating point")
    beyond = float(found.values[0]) > obstacle.resistance.reach[1] * (1.0 + SLACK)
    return replace(found, extrapolated=found.extrapolated or beyond)


def _at_free_delivery(curve: Curve, rows: Array, sources: tuple[str, ...]) -> Found:
    """What a row stack over the curve is at free delivery."""
    root = free_delivery(curve.phi, curve.pressure, reach=_reach(curve))
    phi = _with_strays(root.values, root.missing, float(curve.phi[-1]), "free delivery", 1 + len(sources))
    values = np.array([np.interp(at, curve.phi, row) for at, row in zip(phi, rows, strict=True)])
    return Found(values, values, values, extrapolated=not bool(root.inside[0]))


def _free_speed(
    curve: Curve, _obstacle: MeasuredObstacle | None, _part: Part, sources: tuple[str, ...]
) -> Found:
    return _at_free_delivery(curve, curve.speed, sources)


def _free_power(
    curve: Curve, _obstacle: MeasuredObstacle | None, part: Part, sources: tuple[str, ...]
) -> Found:
    return _at_free_delivery(curve, curve.power(part, sources), sources)


MEASURES: tuple[Measure, ...] = (
    Measure(
        "airflow",
        "Airflow",
        "Volume flow at the fan's inlet at the stable operating point of greatest flow on the obstacle's"
        " resistance, at 1.2 kg/m³.",
        1,
        "flow",
        Merit.MORE,
        True,
        _airflow,
    ),
    Measure(
        "free-airflow",
        "Free airflow",
        "Volume flow at the fan's inlet where the static pressure is zero (free delivery), at 1.2 kg/m³.",
        1,
        "flow",
        Merit.MORE,
        False,
        _free_airflow,
    ),
    Measure(
        "maximum-pressure",
        "Maximum pressure",
        "Fan static pressure where nothing flows (shut-off), at 1.2 kg/m³.",
        1,
        "static_pressure",
        Merit.MORE,
        False,
        _maximum_pressure,
    ),
    Measure(
        "air-power",
        "Greatest air power",
        "Greatest product of static pressure and volume flow on the curve, at 1.2 kg/m³.",
        1,
        "air_power",
        Merit.MORE,
        False,
        _air_power,
    ),
    Measure(
        "static-efficiency",
        "Best static efficiency",
        "Greatest quotient of static air power and electrical power (volts times amps) on the curve,"
        " at 1.2 kg/m³.",
        1,
        "static_efficiency",
        Merit.MORE,
        False,
        _static_efficiency,
    ),
    Measure(
        "free-speed",
        "Speed at free delivery",
        "Speed where the static pressure is zero (free delivery): what a box prints as the fan's speed.",
        1,
        "speed",
        Merit.MORE,
        False,
        _free_speed,
    ),
    Measure(
        "free-power",
        "Electrical power at free delivery",
        "Electrical power (volts times amps) where the static pressure is zero (free delivery), at 1.2 kg/m³.",
        1,
        "power",
        Merit.LESS,
        False,
        _free_power,
    ),
)


def measure_named(name: str) -> Measure:
    """The measure of a name.

    Raises
    ------
    UnknownThing : there is none; the nearest is proposed.
    """
    for each in MEASURES:
        if each.name == name:
            return each
    names = [each.name for each in MEASURES]
    close = difflib.get_close_matches(name, names, n=1)
    raise UnknownThing("measure", found=repr(name), expected=close[0] if close else ", ".join(names))
