"""From temperature differences at some speeds to a curve against speed, with its errors kept by kind."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.draws import SEED
from stillroom.core.row_speeds import RowSpeeds


@dataclass(frozen=True)
class HeatPoint:
    """A temperature difference at nominal power at a speed.

    Parameters
    ----------
    speed, u_speed : shaft speed and its own standard uncertainty [1/s].
    delta, u : temperature difference at nominal power and its own standard uncertainty [K].
    is_forecast : whether it is a forecast. step : number of the step that it comes from.
    """

    speed: float
    u_speed: float
    delta: float
    u: float
    is_forecast: bool = False
    step: int = 0


@dataclass(frozen=True)
class HeatCurve:
    """Temperature difference at nominal power against speed, of one mounting.

    Trial = central + effects times the draws of their sources + noise.

    Parameters
    ----------
    identity : of the mounting.
    speeds : the grid, rising evenly in ln N, (g,) [1/s]. central : (g,) [K].
    sources : identities of the k shared sources. effects : change by +1 sd of each, (k, g) [K].
    noise : the mounting's own deviations, (M, g) float32 [K].
    points : from which it was fitted.
    reach : least and greatest speed for which it answers [1/s]. seed : of the draws.
    """

    identity: str
    speeds: Array
    central: Array
    sources: tuple[str, ...]
    effects: Array
    noise: NDArray[np.float32]
    points: tuple[HeatPoint, ...]
    reach: tuple[float, float]
    seed: int

    @property
    def trials(self) -> int:
        """Number of trials M."""
        return len(self.noise)

    def rows(
        self,
        part: Part = Part.TOTAL,
        sources: tuple[str, ...] | None = None,
        speeds: Array | RowSpeeds | None = None,
        *,
        full_speed: float | None = None,
    ) -> Array:
        """Temperature differences as a row stack: central, moved by each source, then the trials.

        Parameters
        ----------
        part : which errors the trials carry; with `Part.CENTRAL` there is the central row alone.
        sources : the sources that the rows 1 … k stand for, in this order (its own where None); with speeds that
            differ by row, those that move the speeds are among them.
        speeds : where, (m,) [1/s]; one for each row; None: on the grid.
        full_speed : of this mounting, for rows at full setting [1/s]; None: the speed that these rows give.

        Returns
        -------
        Array (1 + k + M, m), m = 1 with a speed of its own in each row; or (1, m) for `Part.CENTRAL` [K].

        Raises
        ------
        NotPossible : a speed outside `reach` (with a speed in each row: the central one).
        UnknownThing : `sources` leaves out one that is needed.
        """
        raise NotImplementedError


def fit_heat(
    points: Sequence[HeatPoint],
    *,
    identity: str,
    sources: Mapping[str, float | Array],
    trials: int,
    seed: int = SEED,
) -> HeatCurve:
    """Fit a curve to the temperature differences of one mounting.

    Parameters
    ----------
    points : in any order. identity : of the mounting; its draws go by it.
    sources : {identity of a shared source: change by +1 standard deviation}, one for all points or (n,) in the
        order of `points` [K].
    trials : number M. seed : of the draws.

    Raises
    ------
    NotPossible : no points.
    """
    raise NotImplementedError
