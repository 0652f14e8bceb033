"""A fan's level against speed: at each speed the mean over samples of means over mountings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.draws import SEED
from stillroom.core.sound.level_curve import LevelCurve
from stillroom.core.sound.level_points import LevelPoint
from stillroom.core.spread import Spreads

Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class MountingCurve:
    """The curve of one mounting, with identities that are unique in the whole lab."""

    sample: str
    mounting: str
    curve: LevelCurve


@dataclass(frozen=True)
class FanLevels:
    """Level against speed of a fan.

    Parameters
    ----------
    speeds, central, sources, effects, bound, floor, reach, seed : as in `LevelCurve`; sources are shared ones.
    private : identities of what is the fan's own (its mountings and samples), and `private_effects` (p, g) [dB].
    noise : deviations of all that is the fan's own, (M, g) float32 [dB].
    points : of all mountings, each with its mounting's name.
    samples, mountings : how many.
    left_out : mountings whose speeds do not overlap with those of the widest one.
    """

    speeds: Array
    central: Array
    sources: tuple[str, ...]
    effects: Array
    private: tuple[str, ...]
    private_effects: Array
    noise: NDArray[np.float32]
    bound: Flags
    points: tuple[LevelPoint, ...]
    floor: float | None
    reach: tuple[float, float]
    samples: int
    mountings: int
    left_out: tuple[str, ...]
    seed: int

    def rows(
        self, part: Part = Part.TOTAL, sources: tuple[str, ...] | None = None, speeds: Array | None = None
    ) -> Array:
        """Levels as a row stack (1 + k + M, g); `sources` may name private ones too [dB]."""
        raise NotImplementedError


def combine_curves(
    curves: Sequence[MountingCurve], spreads: Spreads, *, identity: str = "level", seed: int = SEED
) -> FanLevels:
    """A fan's curve from its mountings; `spreads` in dB."""
    raise NotImplementedError
