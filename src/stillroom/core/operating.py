"""Where a fan's curve meets a load line, and the objective points of a curve, for all rows at once.

Curves are row stacks (rows, g) over common flows (g,): row 0 central, rows 1 … k central moved by each shared
source, then trials. Everything here is row by row; roots lie on straight lines between neighbouring flows, so
that about 400 flows are needed (relative error of a root about 1e-5 of the reach on a smooth curve).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.errors import BadInput, NotPossible

Flags = NDArray[np.bool_]
NOT_UNIQUE = 0.05  # share of trials with three or more roots above which one value would be a lie


@dataclass(frozen=True)
class RowValues:
    """One value per row, with flags instead of silence.

    Parameters
    ----------
    values : (rows,); NaN exactly where `missing`.
    missing : rows that have no such value.
    inside : rows whose value lies within the readings; others are extrapolated.
    """

    values: Array
    missing: Flags
    inside: Flags

    def complete(self, thing: str) -> Array:
        """The values of all rows.

        Raises
        ------
        NotPossible : a row has none.
        """
        return _complete(self.values, self.missing, thing)


@dataclass(frozen=True)
class OperatingPoints:
    """The roots of fan pressure less pressure drop, row by row.

    Parameters
    ----------
    flow : the chosen root, the one of greatest flow at which the difference falls (stable), (rows,); NaN
        exactly where `missing`.
    lowest, highest : the roots of least and greatest flow, (rows,); NaN where `missing`.
    count : number of roots, (rows,).
    rising : whether the fan's pressure rises with flow at the chosen root, (rows,).
    inside : whether the chosen root lies within the readings, (rows,).
    central : all roots of the central row, rising. central_stable : whether each is stable.
    sources : number k of moved rows after the central one.
    """

    flow: Array
    lowest: Array
    highest: Array
    count: NDArray[np.intp]
    rising: Flags
    inside: Flags
    central: Array
    central_stable: Flags
    sources: int

    @property
    def missing(self) -> Flags:
        """Rows without any root."""
        return np.asarray(self.count == 0)

    @property
    def share_multiple(self) -> float:
        """Share of trials with three or more roots [1]; of all rows where there are no trials."""
        return float(np.mean(self.count[self._trials] >= 3))

    @property
    def not_unique(self) -> bool:
        """Whether a range must stand in for one value: more than 5 % of trials have three or more roots."""
        return self.share_multiple > NOT_UNIQUE

    def complete(self, thing: str) -> Array:
        """The chosen flows of all rows (rows,).

        Raises
        ------
        NotPossible : a row has no root.
        """
        return _complete(self.flow, self.missing, thing)

    @property
    def _trials(self) -> slice:
        return slice(1 + self.sources if len(self.count) > 1 + self.sources else 0, None)


def _complete(values: Array, missing: Flags, thing: str) -> Array:
    if missing.any():
        raise NotPossible(
            thing, found=f"none in {int(missing.sum())} of {len(missing)} rows", expected="one in every row"
        )
    return values


def operating_points(
    flow: Array,
    fan_pressure: Array,
    drop: Array | Callable[[Array], Array],
    *,
    reach: tuple[float, float] = (0.0, np.inf),
    sources: int = 0,
) -> OperatingPoints:
    """All operating points of a fan on an obstacle, row by row.

    Parameters
    ----------
    flow : airflow [m³/s], rising, (g,).
    fan_pressure : pressure of the fan [Pa], (rows, g).
    drop : pressure drop of the obstacle [Pa], (rows, g) or (1, g), or a function of flow that gives it.
    reach : least and greatest flow covered by readings [m³/s].
    sources : number k of moved rows between the central row and the trials.

    Returns
    -------
    `OperatingPoints`. A row without a root on the flows given is flagged in `missing`, its flow is NaN;
    `complete` refuses to pass such rows on.

    Limits
    ------
    Two roots between neighbouring flows are not seen. A stable root is one where pressure less drop falls
    with flow (static stability); a root on a rising branch can be stable and is flagged `rising`.
    """
    loads = drop(flow) if callable(drop) else drop
    _same_grid(flow, fan_pressure)
    surplus = fan_pressure - loads
    above = surplus > 0.0
    change = above[:, 1:] != above[:, :-1]
    falling = change & above[:, :-1]
    count = change.sum(axis=1)
    segments = change.shape[1]
    first = np.argmax(change, axis=1)
    last = segments - 1 - np.argmax(change[:, ::-1], axis=1)
    stable = np.where(falling.any(axis=1), segments - 1 - np.argmax(falling[:, ::-1], axis=1), last)
    missing = count == 0
    chosen, lowest, highest = (
        np.where(missing, np.nan, _crossing(flow, surplus, at)) for at in (stable, first, last)
    )
    rows = np.arange(len(surplus))
    rising = ~missing & (fan_pressure[rows, stable + 1] > fan_pressure[rows, stable])
    inside = ~missing & (chosen >= reach[0]) & (chosen <= reach[1])
    at = np.flatnonzero(change[0])
    central = _crossing(flow, np.broadcast_to(surplus[0], (len(at), len(flow))), at)
    return OperatingPoints(chosen, lowest, highest, count, rising, inside, central, falling[0, at], sources)


def _same_grid(flow: Array, pressure: Array) -> None:
    if pressure.ndim != 2 or pressure.shape[1] != len(flow) or len(flow) < 2:
        raise BadInput(
            "curve", found=f"{pressure.shape} pressures on {flow.shape} flows", expected="(rows, g) on (g,)"
        )
    if not np.all(np.diff(flow) > 0):
        raise BadInput("flows of a curve", found="not rising", expected="rising flows")


def _crossing(flow: Array, values: Array, segment: NDArray[np.intp]) -> Array:
    """Flow at which the straight line over one segment of each row is zero."""
    rows = np.arange(len(values))
    left, right = values[rows, segment], values[rows, segment + 1]
    difference = left - right
    share = np.divide(left, difference, out=np.zeros_like(left), where=difference != 0.0)
    return np.asarray(flow[segment] + share * (flow[segment + 1] - flow[segment]))


def shut_off_pressure(
    flow: Array, pressure: Array, *, reach: tuple[float, float] = (0.0, np.inf), slack: float = 0.01
) -> RowValues:
    """Pressure at no flow, row by row.

    Parameters
    ----------
    flow : [m³/s], rising, (g,); zero must lie within.
    pressure : [Pa], (rows, g).
    reach : flows covered by readings [m³/s].
    slack : where the least flow of the reach is more than this share of the greatest flow away from zero, the
        value is extrapolated and `inside` is false [1].

    Returns
    -------
    `RowValues` in Pa. Every row is missing where the flows don't reach zero.
    """
    _same_grid(flow, pressure)
    rows = len(pressure)
    covered = reach[0] <= slack * float(flow[-1])
    if flow[0] > 0.0:
        return RowValues(np.full(rows, np.nan), np.ones(rows, bool), np.zeros(rows, bool))
    at = int(np.clip(np.searchsorted(flow, 0.0, side="right") - 1, 0, len(flow) - 2))
    share = -flow[at] / (flow[at + 1] - flow[at])
    values = pressure[:, at] * (1.0 - share) + pressure[:, at + 1] * share
    return RowValues(np.asarray(values), np.zeros(rows, bool), np.full(rows, covered))


def free_delivery(
    flow: Array, pressure: Array, *, reach: tuple[float, float] = (0.0, np.inf), slack: float = 0.01
) -> RowValues:
    """Flow against no pressure, row by row: the root of greatest flow of the pressure.

    Parameters as for `shut_off_pressure`; a root up to `slack` beyond the greatest flow read counts as read.

    Returns
    -------
    `RowValues` in m³/s; rows whose pressure doesn't reach zero on the flows given are missing.
    """
    points = operating_points(flow, pressure, np.zeros((1, len(flow))), reach=reach)
    covered = ~points.missing & (points.highest <= reach[1] * (1.0 + slack))
    return RowValues(points.flow, points.missing, np.asarray(covered))


def greatest_air_power(
    flow: Array, pressure: Array, *, reach: tuple[float, float] = (0.0, np.inf)
) -> tuple[RowValues, RowValues]:
    """Greatest air power p·Q and the flow at which it is had, row by row.

    Returns
    -------
    (power [W], flow [m³/s]), by a parabola through the greatest value and its neighbours; a row whose
    greatest value lies at an end of the flows is missing.
    """
    _same_grid(flow, pressure)
    power = pressure * flow
    top = np.argmax(power, axis=1)
    missing = (top == 0) | (top == len(flow) - 1)
    at = np.clip(top, 1, len(flow) - 2)
    rows = np.arange(len(power))
    x = [flow[at + i] for i in (-1, 0, 1)]
    y = [power[rows, at + i] for i in (-1, 0, 1)]
    left, right = (y[1] - y[0]) / (x[1] - x[0]), (y[2] - y[1]) / (x[2] - x[1])
    bend = (right - left) / (x[2] - x[0])
    middle = (x[0] + x[1]) / 2.0
    flat = bend >= 0.0
    best = np.where(flat, x[1], middle - left / np.where(flat, 1.0, 2.0 * bend))
    best = np.clip(best, x[0], x[2])
    value = y[0] + left * (best - x[0]) + bend * (best - x[0]) * (best - x[1])
    inside = ~missing & (best >= reach[0]) & (best <= reach[1])
    return (
        RowValues(np.where(missing, np.nan, value), missing, inside),
        RowValues(np.where(missing, np.nan, best), missing, inside),
    )


@dataclass(frozen=True)
class Branches:
    """All roots of all rows, from the greatest flow down.

    Parameters
    ----------
    flow : (rows, r); NaN where a row has fewer roots. falling : whether pressure less drop falls there (stable).
    rising : whether the fan's pressure rises with flow there; both (rows, r).
    """

    flow: Array
    falling: Flags
    rising: Flags


def branches(flow: Array, fan_pressure: Array, drop: Array) -> Branches:
    """Every root of fan pressure less drop in every row; parameters and limits as of `operating_points`."""
    _same_grid(flow, fan_pressure)
    surplus = fan_pressure - drop
    above = surplus > 0.0
    change = above[:, 1:] != above[:, :-1]
    most = int(change.sum(axis=1).max(initial=0))
    found = np.full((len(surplus), most), np.nan)
    falling, rising = np.zeros(found.shape, bool), np.zeros(found.shape, bool)
    left = change.copy()
    for root in range(most):
        rows = np.flatnonzero(left.any(axis=1))
        at = left.shape[1] - 1 - np.argmax(left[rows, ::-1], axis=1)
        found[rows, root] = _crossing(flow, surplus[rows], at)
        falling[rows, root] = above[rows, at]
        rising[rows, root] = fan_pressure[rows, at + 1] > fan_pressure[rows, at]
        left[rows, at] = False
    return Branches(found, falling, rising)


def branch_top(pressure: Array, place: NDArray[np.intp], slack: float) -> Array:
    """Greatest pressure that is reached from a place by closing the throttle, before the curve falls back.

    Parameters
    ----------
    pressure : of the fan at rising flows [Pa], (rows, g).
    place : index at or below the operating point, (rows,).
    slack : a fall by less than this doesn't end the branch [Pa].

    Returns
    -------
    Array (rows,): the top of the falling branch to the left of each place; at least the pressure there.
    """
    rows = np.arange(len(pressure))
    top = pressure[rows, place].copy()
    going = np.ones(len(pressure), bool)
    for back in range(1, int(place.max(initial=0)) + 1):
        at = place - back
        going &= at >= 0
        here = pressure[rows, np.maximum(at, 0)]
        going &= here >= top - slack
        if not going.any():
            break
        top = np.where(going, np.maximum(top, here), top)
    return top
