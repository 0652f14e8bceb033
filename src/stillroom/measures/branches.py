"""Every operating point of a fan on a load that has more than one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.mounted import Curve, MountedFan
from stillroom.core.operating import NOT_UNIQUE, Branches, branches
from stillroom.core.row_speeds import RowSpeeds
from stillroom.core.systems import Load
from stillroom.errors import NotPossible
from stillroom.measures import crossing
from stillroom.measures.value import Condition, curve_in, load_in, sources_of

TAKEN: dict[str, crossing.At] = {
    "flow": crossing.flow_at,
    "pressure": crossing.pressure_at,
    "speed": crossing.speed_at,
    "power": crossing.power_at,
    "efficiency": crossing.efficiency_at,
}
"""What is taken at each point."""


@dataclass(frozen=True)
class Taken:
    """One quantity at one point of one mounting: value, and trials by kind as of a `MeasuredValue`."""

    value: float
    shared: Array
    noise: Array
    loadings: dict[str, float]


@dataclass(frozen=True)
class BranchPoint:
    """One operating point of one mounting.

    Parameters
    ----------
    taken : {name of `TAKEN`: values}, without those that can't be had.
    stable : whether pressure less drop falls with flow there. rising : whether the fan's pressure rises there.
    share : of trials that have it [1].
    """

    taken: dict[str, Taken]
    stable: bool
    rising: bool
    share: float


def branch_points(
    fan: MountedFan, obstacle: Load, condition: Condition, speeds: RowSpeeds | None = None
) -> tuple[BranchPoint, ...]:
    """All operating points from the greatest flow down, where more than one is to be reckoned with.

    Parameters
    ----------
    fan, obstacle, condition, speeds : as of `evaluate`.

    Returns
    -------
    The points of the trials that have three or more; none where such trials are too few to count. The errors
    of a point are those of the trials that have it.

    Raises
    ------
    NotPossible : as `evaluate`.
    """
    load = load_in(obstacle, condition.system)
    if load is None or not load.stacks:
        return ()
    sources = sources_of(fan, load, condition.system, speeds)
    rows: dict[Part, tuple[Curve, Branches]] = {}
    for part in (Part.TOTAL, Part.SHARED):
        curve = curve_in(fan, condition, part, sources, speeds)
        drop = load.drop(curve.flow, part, sources)
        rows[part] = curve, branches(curve.phi, curve.pressure, drop)
    trials = rows[Part.TOTAL][1].flow[1 + len(sources) :]
    count = np.isfinite(trials).sum(axis=1)
    if float(np.mean(count >= 3)) <= NOT_UNIQUE:
        return ()
    several = trials[count == 3] if np.any(count == 3) else trials[count > 3]
    usual = np.nanmedian(several, axis=0)
    usual = usual[np.isfinite(usual)]
    return tuple(_point(rows, usual, at, sources) for at in range(len(usual)))


def _point(
    rows: dict[Part, tuple[Curve, Branches]], usual: Array, at: int, sources: tuple[str, ...]
) -> BranchPoint:
    """One point in all rows, by quantity."""
    fixed = 1 + len(sources)
    places: dict[Part, Array] = {}
    share = 0.0
    for part, (_, found) in rows.items():
        phi, there = _nearest(found, usual, at)
        if part is Part.TOTAL:
            share = float(there[fixed:].mean())
        places[part] = _filled(phi, there, float(usual[at]), fixed)
    taken: dict[str, Taken] = {}
    for name, take in TAKEN.items():
        try:
            total, shared = (
                take(crossing.Place(rows[part][0], places[part], part, sources))
                for part in (Part.TOTAL, Part.SHARED)
            )
        except NotPossible:
            continue
        value = float(total[0])
        loadings = {source: float(total[1 + i]) - value for i, source in enumerate(sources)}
        taken[name] = Taken(value, shared[fixed:], total[fixed:] - shared[fixed:], loadings)
    curve = rows[Part.TOTAL][0]
    place = int(np.clip(np.searchsorted(curve.phi, places[Part.TOTAL][0]), 1, len(curve.phi) - 1))
    rising = bool(curve.pressure[0, place] > curve.pressure[0, place - 1])
    return BranchPoint(taken, _is_falling(at), rising, share)


def _is_falling(at: int) -> bool:
    """Roots alternate; that of the greatest flow is stable."""
    return at % 2 == 0


def _nearest(found: Branches, usual: Array, at: int) -> tuple[Array, NDArray[np.bool_]]:
    """φ of one point in each row, and which rows have it: the root of its stability that lies nearest."""
    same = np.where(found.falling == _is_falling(at), found.flow, np.nan)
    away = np.abs(same - usual[at])
    away = np.where(np.isfinite(away), away, np.inf)
    column = np.argmin(away, axis=1)
    rows = np.arange(len(same))
    phi = same[rows, column]
    alike = usual[at % 2 :: 2]  # the usual places of the same stability
    there = np.isfinite(phi)
    nearest = np.argmin(np.abs(np.where(there, phi, 0.0)[:, None] - alike), axis=1)
    return phi, there & (nearest == at // 2)


def _filled(phi: Array, there: NDArray[np.bool_], usual: float, fixed: int) -> Array:
    """Rows without the point take the place of the trials that have it, in turn; fixed rows the usual one."""
    filled = phi.copy()
    filled[:fixed][~there[:fixed]] = filled[0] if there[0] else usual
    trials, have = filled[fixed:], there[fixed:]
    known = trials[have]
    trials[~have] = np.resize(known, int((~have).sum())) if len(known) else usual
    return filled
