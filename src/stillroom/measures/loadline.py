"""Load-line mean airflow: what a fan moves on the whole range of resistances, without naming an obstacle."""

from __future__ import annotations

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.fanlaws import STANDARD_DENSITY
from stillroom.core.mounted import Curve
from stillroom.core.systems import Load
from stillroom.measures.crossing import crossed
from stillroom.measures.found import Found, Take

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
    square = (curve.flow / tiles) ** 2 * (curve.air.density / STANDARD_DENSITY)
    logarithms = np.zeros((3, len(curve.flow)))
    found = [crossed(curve, k * square, sources) for k in lines]
    for each in found:
        flow = np.log(curve.flow_at(each.chosen))
        ends = (
            [flow, flow] if each.unique else [np.log(curve.flow_at(at)) for at in (each.lowest, each.highest)]
        )
        logarithms += [flow, *ends]
    values, lowest, highest = np.exp(logarithms / len(lines))
    return Found(
        values,
        lowest,
        highest,
        unique=all(each.unique for each in found),
        extrapolated=any(each.extrapolated for each in found),
        rising=any(each.rising for each in found),
        hysteresis=any(each.hysteresis for each in found),
    )
