"""The speed at full setting along a fan's curve, as the mean of its mountings, for a table of airflow."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.mounted import Polynomial

MIDDLE = 0.7
"""Of t, where mountings are told apart and errors are taken: about where a fan behind an obstacle works [1]."""


@dataclass(frozen=True)
class FullSpeed:
    """The speed at full setting.

    Parameters
    ----------
    coefficients : n(t) = c₀ + c₁t + c₂t², (3,) [1/s]. ratios : of each mounting to that mean, (mountings,) [1].
    loadings : relative change by +1 standard deviation of each source, (k,) [1]. sd : relative, by readings [1].
    """

    coefficients: Array
    ratios: Array
    loadings: Array
    sd: float


@dataclass(frozen=True)
class OfMounting:
    """The polynomial of one mounting in φ, φ over t, and its share in the mean."""

    polynomial: Polynomial | None
    phi_over_t: float
    weight: float


def full_speed(mountings: Sequence[OfMounting], sources: tuple[str, ...]) -> FullSpeed | None:
    """The mean of the mountings that have one; None where none has. The mean serves a mounting that has none."""
    total = sum(each.weight for each in mountings if each.polynomial is not None)
    if total == 0.0:
        return None
    mean, effects, variance = np.zeros(3), np.zeros(len(sources)), 0.0
    at: list[float] = []
    for each in mountings:
        told, weight = each.polynomial, each.weight / total
        if told is None:
            at.append(math.nan)
            continue
        scaled = told.central * each.phi_over_t ** np.arange(3)
        design = (each.phi_over_t * MIDDLE) ** np.arange(3)
        mean += weight * scaled
        at.append(float(told.central @ design))
        variance += (weight * float((told.noise @ design).std())) ** 2
        for source, change in zip(told.sources, told.effects @ design, strict=True):
            effects[sources.index(source)] += weight * float(change)
    middle = float(mean @ MIDDLE ** np.arange(3))
    return FullSpeed(
        mean, np.nan_to_num(np.array(at) / middle, nan=1.0), effects / middle, math.sqrt(variance) / middle
    )
