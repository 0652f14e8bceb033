"""From readings to steps: consecutive readings at one setting are one step, of which the settled part counts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from stillroom.core.arrays import Array

SAME_DUTY, SAME_VOLTS = 0.004, 0.04
"""Settings that differ by less from one reading to the next are one step: duty [1], voltage [V]."""

FEW = 3
"""Up to so many readings a step counts as a whole; of more the last half, when the speed has settled."""


@dataclass(frozen=True)
class Steps:
    """A staircase of settled steps, in their order.

    Parameters
    ----------
    settings : (n,) [SI]. speeds, u : mean of the settled readings and its own standard uncertainty, (n,) [1/s].
    readings : how many each step has, (n,). unsettled : relative scatter of its settled part, (n,) [1].
    first : the first reading of each step, (n,).
    """

    settings: Array
    speeds: Array
    u: Array
    readings: tuple[int, ...]
    unsettled: Array
    first: tuple[int, ...]


def edges_of(settings: Array, same: float, breaks: Sequence[int] = ()) -> list[int]:
    """Where steps begin, with the end: a change of the setting by more than `same`, or a told break.

    A setting that drifts slowly (a ramp) is a step for each `same` by which it has moved.
    """
    edges = [0]
    for i in range(1, len(settings)):
        if i in breaks or abs(float(settings[i] - settings[edges[-1]])) > same:
            edges.append(i)
    return [*edges, len(settings)]


def steps_of(
    settings: Array, speeds: Array, *, same: float, resolution: float = 0.0, breaks: Sequence[int] = ()
) -> Steps:
    """The steps of a table, or of a log, of a staircase.

    The scatter of the settled readings is that of a slow wander at least as much as of noise: the mean is taken to be
    as uncertain as a single reading.

    Parameters
    ----------
    settings : of each reading, (n,) [1] or [V].
    speeds : of each reading, (n,) [1/s].
    same : by how much readings of one step may differ [1] or [V].
    resolution : the step in which speeds are shown [1/s].
    breaks : readings with which a step begins in any case.
    """
    edges = edges_of(settings, same, breaks)
    rows = [_step(settings[a:b], speeds[a:b], resolution) for a, b in pairwise(edges)]
    columns = np.array(rows).T
    counts = tuple(b - a for a, b in pairwise(edges))
    return Steps(columns[0], columns[1], columns[2], counts, columns[3], tuple(edges[:-1]))


def settled_part(values: Array) -> Array:
    """The readings of a step that count: all of a few, else the last half."""
    return values if len(values) <= FEW else values[len(values) // 2 :]


def _step(settings: Array, speeds: Array, resolution: float) -> tuple[float, float, float, float]:
    kept = settled_part(speeds)
    speed = float(np.median(kept))
    scatter = float(np.std(kept, ddof=1)) if len(kept) > 1 else 0.0
    u = float(np.hypot(scatter, resolution / np.sqrt(12.0)))
    return float(np.median(settings)), speed, u, scatter / speed if speed > 0.0 else 0.0


def snapped(settings: Array, grid: float, within: float) -> Array:
    """Settings that lie within so much of a multiple of `grid` as that multiple, the others as they are [1] or [V]."""
    near = np.round(settings / grid) * grid
    return np.where(np.abs(settings - near) <= within, near, settings)


def resolution_of(speeds: Array) -> float:
    """The step in which speeds are shown [1/s]: the largest of 30, 10, 5 and 1 rpm of which all are multiples; 0.0
    where none is, or fewer than three speeds tell.
    """
    shown = np.unique(speeds[speeds > 0.0]) * 60.0
    for step in (30.0, 10.0, 5.0, 1.0):
        if len(shown) > 2 and bool((np.abs(shown / step - np.round(shown / step)) < 0.01).all()):
            return step / 60.0
    return 0.0
