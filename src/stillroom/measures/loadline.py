"""Load-line mean airflow: what a fan moves on the whole range of resistances, without naming an obstacle."""

from __future__ import annotations

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.mounted import Curve
from stillroom.core.operating import operating_points
from stillroom.core.systems import Load
from stillroom.measures.found import Found, Take, reach_of, with_strays

HOUR = 3600.0
LINES: Array = np.geomspace(1e-4, 3e-2, 21) * HOUR**2
"""k of the load lines Δp = kQ², from open to restrictive [Pa/(m³/s)²]: 1e-4 to 3e-2 Pa/(m³/h)²."""

THIRD = 7
WHOLE = slice(0, len(LINES))
OPEN = slice(0, THIRD)
RESTRICTIVE = slice(len(LINES) - THIRD, len(LINES))


def load_line_mean(lines: slice) -> Take:
    """The measure that takes the geometric mean of the flow over some of `LINES`.

    The lines are for one fan's piece in standard air: with M tiles k is divided by M², in other air it goes
    with the density, as a resistance of turbulent flow does.
    """

    def taken(curve: Curve, load: Load | None, _part: Part, sources: tuple[str, ...]) -> Found:
        return _mean(curve, 1.0 if load is None else load.tiles, LINES[lines], sources)

    return taken


def _mean(curve: Curve, tiles: float, lines: Array, sources: tuple[str, ...]) -> Found:
    square = (curve.flow / tiles) ** 2 * (curve.air.density / 1.2)
    fixed, end = 1 + len(sources), float(curve.phi[-1])
    logarithms = np.zeros((3, len(curve.flow)))
    unique, inside, rising = True, True, False
    for k in lines:
        points = operating_points(
            curve.phi, curve.pressure, k * square, reach=reach_of(curve), sources=len(sources)
        )
        places = [points.flow] * 3 if not points.not_unique else [points.flow, points.lowest, points.highest]
        for row, place in enumerate(places):
            at = with_strays(place, points.missing, end, "load line", fixed)
            logarithms[row] += np.log(curve.flow_at(at))
        unique &= not points.not_unique
        inside &= bool(points.inside[0])
        rising |= bool(points.rising[0])
    values, lowest, highest = np.exp(logarithms / len(lines))
    return Found(values, lowest, highest, unique, not inside, rising)
