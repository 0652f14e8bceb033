"""From the points of an obstacle's run to its resistance."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.characteristic.curve import align
from stillroom.core.mounted import MeasuredObstacle
from stillroom.core.resistance import fit_resistance
from stillroom.methods.airflow.points import Points

VERSION = 3
"""Raised when the same readings would give other numbers."""


def reduce_obstacle(runs: Sequence[Points], *, identity: str, trials: int) -> MeasuredObstacle:
    """Fit Δp = aQ + bQ² or cQⁿ, by AICc, to the points of all runs of an obstacle, in the air as it was.

    Parameters
    ----------
    runs : reduced points, at least one run. identity : of the obstacle and its version. trials : how many.

    Raises
    ------
    NotPossible : too few points with flow.
    """
    sources = tuple(dict.fromkeys(source for each in runs for source in each.sources))

    def shared(quantity: str) -> Array:
        return np.concatenate([align(each.shared(quantity), each.sources, sources) for each in runs], axis=1)

    def own(quantity: str) -> Array:
        return np.concatenate([np.sqrt((each.own_effects(quantity) ** 2).sum(axis=0)) for each in runs])

    def central(quantity: str) -> Array:
        return np.concatenate([each.rows[quantity][0] for each in runs])

    fitted = fit_resistance(
        central("flow"),
        central("pressure"),
        shared_flow=shared("flow"),
        shared_pressure=shared("pressure"),
        own_flow=own("flow"),
        own_pressure=own("pressure"),
        sources=sources,
        identity=identity,
        trials=trials,
    )
    return MeasuredObstacle(fitted, float(central("density").mean()), float(central("viscosity").mean()))
