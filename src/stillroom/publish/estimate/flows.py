"""The airflow of a fan against any resistance aQ + bQ² and at any speed, as a table that is looked up.

Fan and load are told by two numbers. With κ [m³] and π [Pa s²] of the fan, t = Q/(Nκ) and p = Δp/(N²π), a load is
p = A t + B t², A = aκ/(Nπ), B = bκ²/π. A plain fan p = 1 − t² would have its operating point at t = u, and
f = A/(A + B) is the linear share: these two are the table's axes, u from 0, where nothing flows, to 1, free air. Kept
is g = t/u, which is near 1 and changes slowly, at one speed, with the exponent by which g goes with the speed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part, pressure_coefficients
from stillroom.core.intervals import coverage_interval
from stillroom.errors import NotPossible
from stillroom.publish.estimate.full_speeds import FullSpeed, OfMounting, full_speed
from stillroom.publish.estimate.loads import OPENINGS, SHARES, each_cell, rough
from stillroom.publish.estimate.mounting_flows import MountingFlows, Weighed, head, reynolds, volume
from stillroom.publish.estimate.several import Several, several_of

VERSION = 2
"""Raised when the same curves would give another table."""

STEEP = 0.15
"""An exponent beyond this is none of the Reynolds number: between the speeds the operating point jumped [1]."""


@dataclass(frozen=True)
class FlowTable:
    """Airflow of one fan, in free air or measured with an obstacle mounted.

    Parameters
    ----------
    flow_scale : κ [m³]. pressure_scale : π [Pa s²]. speed : at which `factor` holds [1/s].
    speeds : least and greatest speed tested [1/s]. reach : t up to which the readings of every mounting go [1].
    factor : g, (OPENINGS, SHARES) [1]. exponent : d ln g/d ln N, the same shape [1].
    several : the band in which one value would be a lie; None where there is none.
    missing : cells without an operating point, the same shape.
    sd, down, up : relative standard deviation and half-widths of the 95 % interval of t by readings, (OPENINGS,) [1].
    sources, loadings : shared sources, and relative change of t by +1 standard deviation at the least and the
        greatest speed tested, (2, ROUGH, k) [1].
    full : the speed at full setting; None where it isn't known.
    each_speeds : least and greatest speed tested of each mounting as shares of `speeds`, (mountings, 2) [1].
    counts : mountings of each sample. greatest_is_full : whether no speed can be greater than that at full setting.
    """

    flow_scale: float
    pressure_scale: float
    speed: float
    speeds: tuple[float, float]
    reach: float
    factor: Array
    exponent: Array
    several: Several | None
    missing: NDArray[np.bool_]
    sd: Array
    down: Array
    up: Array
    sources: tuple[str, ...]
    loadings: Array
    full: FullSpeed | None
    each_speeds: Array
    counts: tuple[int, ...]
    greatest_is_full: bool


def flow_table(mountings: Sequence[Weighed], *, greatest_is_full: bool) -> FlowTable:
    """The table of a fan from its mountings.

    Parameters
    ----------
    mountings : those that take part; the weights sum to 1 but for bridges. greatest_is_full : as of `FlowTable`.

    Raises
    ------
    NotPossible : no mounting.
    """
    if not mountings:
        raise NotPossible("airflow of a fan", found="no mounting", expected="one that could be reduced")
    speeds = (min(each.fan.speeds[0] for each in mountings), max(each.fan.speeds[1] for each in mountings))
    speed = math.sqrt(speeds[0] * speeds[1])
    scales = _scales(mountings, speed)
    sources = tuple(dict.fromkeys(source for each in mountings for source in _sources(each)))
    parts = [MountingFlows(each, scales, speed, speeds, sources) for each in mountings]
    at = [_mean(parts, [part.central[i].flow for part in parts]) for i in range(3)]
    plain = each_cell()[0]
    factor = at[1] / plain
    slope = np.log(at[2] / at[0]) / math.log(speeds[1] / speeds[0])
    slope = np.where(np.abs(slope) > STEEP, np.median(slope), slope)
    central = _mean(parts, [part.of_value for part in parts])
    own = _mean(parts, [part.trials for part in parts])
    below, above = coverage_interval(own, axis=1)
    loadings = _mean(parts, [part.loadings for part in parts]) / central[rough()][None, :, None]
    return FlowTable(
        flow_scale=scales[0], pressure_scale=scales[1], speed=speed, speeds=speeds,
        reach=_reach(parts), factor=_whole(factor, 1.0), exponent=_whole(slope, 0.0),
        several=several_of(parts, speed, speeds),
        missing=_whole(np.any([part.missing for part in parts], axis=0).astype(np.float64), 0.0) > 0.0,
        sd=_first(own.std(axis=1) / central), down=_first((central - below) / central),
        up=_first((above - central) / central), sources=sources, loadings=loadings,
        full=full_speed(_at_full(mountings, scales[0]), sources),
        each_speeds=np.array([each.fan.speeds for each in mountings]) / np.array(speeds),
        counts=_counts(mountings), greatest_is_full=greatest_is_full,
    )  # fmt: skip


def _mean(parts: Sequence[MountingFlows], values: Sequence[Array]) -> Array:
    """The mean of the mountings' values, a bridge's ratio in it."""
    return np.asarray(
        np.sum([part.weight * value for part, value in zip(parts, values, strict=True)], axis=0)
    )


def _reach(parts: Sequence[MountingFlows]) -> float:
    """t of the mean up to which every mounting was read: where they differ, each has its own free air."""
    free = each_cell()[0] == 1.0
    own = [float(part.central[1].flow[free].min()) for part in parts]
    mean = sum(part.weight * flow for part, flow in zip(parts, own, strict=True))
    return float(mean) * min(part.reach / flow for part, flow in zip(parts, own, strict=True))


def _scales(mountings: Sequence[Weighed], speed: float) -> tuple[float, float]:
    """κ and π: free delivery and shut-off of the mean of the mountings at one speed; π from where the curve starts."""
    flow = pressure = 0.0
    total = sum(each.weight for each in mountings)
    for each in mountings:
        curve, phi = each.fan.characteristic, np.array([0.0, each.fan.characteristic.reach[1]])
        psi = pressure_coefficients(curve, phi, reynolds(each.fan, speed), part=Part.CENTRAL)[0]
        flow += each.weight / total * phi[1] * volume(each.fan)
        pressure += each.weight / total * max(float(psi[0]), 1e-3) * head(each.fan)
    return flow, pressure


def _sources(each: Weighed) -> tuple[str, ...]:
    full = each.fan.full_speed
    return (*each.fan.characteristic.sources, *(full.sources if full else ()))


def _at_full(mountings: Sequence[Weighed], flow_scale: float) -> list[OfMounting]:
    return [OfMounting(each.fan.full_speed, flow_scale / volume(each.fan), each.weight) for each in mountings]


def _whole(cells: Array, first: float) -> Array:
    """Cells as a table, with the row where nothing flows."""
    return np.concatenate([np.full((1, SHARES), first), cells.reshape(OPENINGS - 1, SHARES)])


def _first(values: Array) -> Array:
    return np.insert(values, 0, values[0])


def _counts(mountings: Sequence[Weighed]) -> tuple[int, ...]:
    samples = [each.sample for each in mountings]
    return tuple(samples.count(name) for name in dict.fromkeys(samples))
