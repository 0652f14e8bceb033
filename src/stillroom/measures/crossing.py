"""The operating point of a fan on an obstacle, and what is taken there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.intervals import coverage_interval
from stillroom.core.mounted import Curve
from stillroom.core.operating import OperatingPoints, branch_top, free_delivery, operating_points
from stillroom.core.systems import Load
from stillroom.errors import NotPossible
from stillroom.measures.found import ENDS, SLACK, STRAY, Found, Sought, Take, reach_of, with_strays

BRANCH_SLACK = 0.01
"""A fall by less than this share of the greatest pressure doesn't end a branch [1]."""

FELT = 0.005
"""A hysteresis that moves the flow by less than this is not spoken of [1]."""


@dataclass(frozen=True)
class Place:
    """Where on a curve something is taken, in every row.

    Parameters
    ----------
    curve : of the system. phi : one abscissa a row, (rows,). part, sources : of the rows.
    """

    curve: Curve
    phi: Array
    part: Part
    sources: tuple[str, ...]


At = Callable[[Place], Array]
"""What is taken at a place, (rows,) SI."""


def flow_at(place: Place) -> Array:
    """Flow of the system [m³/s]."""
    return place.curve.flow_at(place.phi)


def pressure_at(place: Place) -> Array:
    """Static pressure of the system [Pa]."""
    return place.curve.at(place.curve.pressure, place.phi)


def speed_at(place: Place) -> Array:
    """Speed of each fan [1/s]."""
    return place.curve.at(place.curve.speed, place.phi)


def power_at(place: Place) -> Array:
    """Electrical power of all fans [W]; NotPossible where it wasn't read."""
    return place.curve.power_at(place.phi, place.part, place.sources)


def efficiency_at(place: Place) -> Array:
    """Static air power over electrical power [1]; NotPossible where power wasn't read, or isn't above zero."""
    power = power_at(place)
    if np.any(power <= 0.0):
        raise NotPossible(
            "static efficiency",
            found=f"power at or below 0 W in {int(np.sum(power <= 0.0))} rows",
            expected="readings of power that a curve can be fitted to",
        )
    return pressure_at(place) * flow_at(place) / power


def spare_at(place: Place) -> Array:
    """Pressure that could still be met on the same falling branch [Pa]."""
    curve = place.curve
    here = pressure_at(place)
    index = np.clip(np.searchsorted(curve.phi, place.phi, side="right") - 1, 0, len(curve.phi) - 1)
    slack = BRANCH_SLACK * float(curve.pressure[0].max())
    return np.maximum(branch_top(curve.pressure, index, slack) - here, 0.0)


@dataclass(frozen=True)
class Crossing:
    """The operating point in every row.

    Parameters
    ----------
    chosen : φ of the stable root of greatest flow, (rows,). lowest, highest : φ of the least and greatest root
        where one point would be a lie, else `chosen`.
    unique, extrapolated, rising, hysteresis : as of `Found`.
    """

    chosen: Array
    lowest: Array
    highest: Array
    unique: bool
    extrapolated: bool
    rising: bool
    hysteresis: bool


def crossing(curve: Curve, load: Load, sources: tuple[str, ...], part: Part) -> Crossing:
    """Where a curve meets a load; errors as `crossed`."""
    found = crossed(curve, load.drop(curve.flow, part, sources), sources)
    flow = float(curve.flow_at(found.chosen)[0])
    return replace(found, extrapolated=found.extrapolated or load.is_beyond(flow, SLACK))


def crossed(curve: Curve, drop: Array, sources: tuple[str, ...]) -> Crossing:
    """Where a curve meets a pressure drop [Pa], (rows, g) at the curve's flows.

    Raises
    ------
    NotPossible : they don't cross in every row.
    """
    points = operating_points(curve.phi, curve.pressure, drop, reach=reach_of(curve), sources=len(sources))
    chosen, lowest, highest = _places(points, curve)
    unique = not points.not_unique
    if unique:
        lowest = highest = chosen
    felt = False
    if curve.half is not None:
        low, high = _between_sweeps(curve, curve.half, drop, sources)
        lowest, highest = np.minimum(lowest, low), np.maximum(highest, high)
        felt = bool(highest[0] - lowest[0] > FELT * chosen[0])
    if unique and not felt:
        lowest = highest = chosen
    return Crossing(
        chosen,
        lowest,
        highest,
        unique=unique and not felt,
        extrapolated=not bool(points.inside[0]),
        rising=bool(points.rising[0]),
        hysteresis=felt,
    )


def _places(points: OperatingPoints, curve: Curve) -> tuple[Array, Array, Array]:
    fixed, end = 1 + points.sources, float(curve.phi[-1])
    sought = Sought("operating point", _last_words(curve), "a reading at a greater flow")
    chosen, lowest, highest = (
        with_strays(each, points.missing, end, sought, fixed)
        for each in (points.flow, points.lowest, points.highest)
    )
    return chosen, lowest, highest


def _between_sweeps(curve: Curve, half: Array, drop: Array, sources: tuple[str, ...]) -> tuple[Array, Array]:
    """Least and greatest φ at which the sweep up or the sweep down alone would meet the load."""
    lows, highs = [], []
    for sign in (-1.0, 1.0):
        points = operating_points(curve.phi, curve.pressure + sign * half, drop, sources=len(sources))
        chosen, low, high = _places(points, curve)
        lows.append(low if points.not_unique else chosen)
        highs.append(high if points.not_unique else chosen)
    return np.minimum(*lows), np.maximum(*highs)


def at_free_delivery(take: At, ends: float = ENDS) -> Take:
    """A measure that takes something where the static pressure is zero.

    Parameters
    ----------
    ends : share of trials that may stray where the last reading is free delivery itself [1].
    """

    def taken(curve: Curve, _load: Load | None, part: Part, sources: tuple[str, ...]) -> Found:
        root = free_delivery(curve.phi, curve.pressure, reach=reach_of(curve))
        end, fixed = float(curve.phi[-1]), 1 + len(sources)
        sought = Sought("free delivery", _last_words(curve), "a reading at or below 0 Pa")
        share = ends if _ends_at_zero(curve, fixed) else STRAY
        phi = with_strays(root.values, root.missing, end, sought, fixed, share)
        values = take(Place(curve, phi, part, sources))
        strays = float(root.missing[fixed:].mean()) if len(phi) > fixed else 0.0
        marks = (ENDS_MARK,) if strays > STRAY else ()
        return Found(values, values, values, extrapolated=not bool(root.inside[0]), marks=marks)

    return taken


ENDS_MARK = "ends at free delivery"
"""The mark of a curve whose last reading is free delivery itself, so that some of its trials don't pass it."""


def _last(curve: Curve) -> Array:
    """Pressure on the curve at the greatest φ read, in every row [Pa]."""
    return curve.at(curve.pressure, np.full(len(curve.pressure), curve.fan.characteristic.reach[1]))


def _last_words(curve: Curve) -> str:
    """Where the readings end."""
    return f"its last reading lies at {float(_last(curve)[0]):.1f} Pa"


def _ends_at_zero(curve: Curve, fixed: int) -> bool:
    """Whether the pressure at the last reading is zero within its 95 % uncertainty."""
    trials = _last(curve)[fixed:]
    if not len(trials):
        return False
    low, high = coverage_interval(trials)
    return bool(low <= 0.0 <= high)


def at_operating_point(take: At) -> Take:
    """A measure that takes something at the operating point; its range where that is not unique.

    Without a load it is taken at free delivery: of a fan that was measured with the obstacle mounted, that is
    the operating point.
    """
    free = at_free_delivery(take, STRAY)

    def taken(curve: Curve, load: Load | None, part: Part, sources: tuple[str, ...]) -> Found:
        if load is None or not load.stacks:
            return free(curve, load, part, sources)
        found = crossing(curve, load, sources, part)
        values = take(Place(curve, found.chosen, part, sources))
        lowest = highest = values
        if not found.unique:
            ends = [take(Place(curve, phi, part, sources)) for phi in (found.lowest, found.highest)]
            lowest, highest = np.minimum.reduce([values, *ends]), np.maximum.reduce([values, *ends])
        return Found(
            values, lowest, highest, found.unique, found.extrapolated, found.rising, found.hysteresis
        )

    return taken
