"""From levels at some speeds to a curve of level against speed, with its errors kept by kind."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.draws import SEED
from stillroom.core.sound.level_points import LevelPoint

Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Resonances:
    """How much a lab's fans stray from a smooth curve near resonances.

    Parameters
    ----------
    amplitude : standard deviation [dB]. length : correlation length of a Matérn-3/2 process [1/s].
    """

    amplitude: float = 1.0
    length: float = 80.0 / 60.0


@dataclass(frozen=True)
class LevelCurve:
    """Level against speed of one mounting.

    Parameters
    ----------
    identity : of the mounting.
    speeds : the grid, rising, (g,) [1/s].
    central : level (g,) [dB].
    sources : identities of the k shared sources. effects : the level's change by +1 sd of each, (k, g) [dB].
    noise : the mounting's own deviations, (M, g) float32 [dB].
    bound : where true, nothing but bounds was measured: the level is at most `central`, (g,).
    points : what it was fitted to. held : those of them that their near neighbours contradict.
    floor : lowest level that this chain can measure [dB]; None where it is not known.
    reach : least and greatest speed measured [1/s].
    seed : of the draws.
    """

    identity: str
    speeds: Array
    central: Array
    sources: tuple[str, ...]
    effects: Array
    noise: NDArray[np.float32]
    bound: Flags
    points: tuple[LevelPoint, ...]
    held: tuple[LevelPoint, ...]
    floor: float | None
    reach: tuple[float, float]
    seed: int

    def rows(
        self, part: Part = Part.TOTAL, sources: tuple[str, ...] | None = None, speeds: Array | None = None
    ) -> Array:
        """Levels as a row stack (1 + k + M, g): central, central moved by each source, trials [dB]."""
        raise NotImplementedError


def fit_levels(
    points: Sequence[LevelPoint],
    *,
    identity: str,
    sources: Mapping[str, float | Array],
    trials: int,
    hyper: Resonances | None = None,
    floor: float | None = None,
    seed: int = SEED,
) -> LevelCurve:
    """Fit a curve to the levels of one mounting."""
    raise NotImplementedError


def pooled_resonances(ramps: Sequence[Sequence[LevelPoint]]) -> Resonances:
    """Amplitude and length from the ramps of a lab, leaning on 1 dB and 80 rpm."""
    raise NotImplementedError
