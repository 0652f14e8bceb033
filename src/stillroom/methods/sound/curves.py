"""Level and loudness level of a mounting against speed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.draws import SEED, normal_draws
from stillroom.core.sound.level_curve import LevelCurve, fit_levels
from stillroom.core.sound.level_fit import LEAST_U
from stillroom.core.sound.level_points import LevelPoint
from stillroom.core.sound.level_process import SLOPE

BESIDE = 1e-3
"""So far on either side of its only speed a level holds [1]."""

Sources = Mapping[str, float | Array]


def level_curve(
    points: Sequence[LevelPoint], sources: Sources, *, identity: str, trials: int, floor: float | None
) -> LevelCurve:
    """A curve through the points of a mounting; of a single speed, the level at it.

    Parameters
    ----------
    points : one at least. sources : {identity: change of the level by +1 standard deviation} [dB].
    identity : of the mounting and what is drawn. trials : number of trials. floor : of the chain [dB].
    """
    if len({each.speed for each in points}) > 1:
        return fit_levels(points, identity=identity, sources=sources, trials=trials, floor=floor)
    return _single(points, sources, identity=identity, trials=trials, floor=floor)


def _single(
    points: Sequence[LevelPoint], sources: Sources, *, identity: str, trials: int, floor: float | None
) -> LevelCurve:
    """The level at the only speed that was measured."""
    speed = points[0].speed
    values = [each for each in points if not each.is_bound] or list(points)
    weights = np.array([1.0 / max(each.u, LEAST_U) ** 2 for each in values])
    level = float(np.average([each.level for each in values], weights=weights))
    speeds = speed * np.array([1.0 - BESIDE, 1.0 + BESIDE])
    names = tuple(sorted(sources))
    effects = np.array([float(np.mean(sources[name])) for name in names])
    own = normal_draws(f"{identity}/own", trials) / np.sqrt(weights.sum())
    return LevelCurve(
        identity=identity,
        speeds=speeds,
        central=level + SLOPE * np.log10(speeds / speed),
        sources=names,
        effects=np.repeat(effects[:, None], 2, axis=1),
        noise=np.repeat(own[:, None], 2, axis=1).astype(np.float32),
        bound=np.full(2, all(each.is_bound for each in points)),
        points=tuple(points),
        held=(),
        floor=floor,
        reach=(float(speeds[0]), float(speeds[1])),
        seed=SEED,
    )


def phon_curve(
    points: Sequence[LevelPoint],
    phons: Sequence[float | None],
    bounds: Sequence[bool],
    slopes: Sequence[float],
    sources: Sources,
    *,
    identity: str,
    trials: int,
) -> LevelCurve | None:
    """Loudness level against speed; None where no dwell has one.

    Parameters
    ----------
    points : levels of the dwells. phons : their loudness levels [phon], None where bands don't tell.
    bounds : which of these are upper bounds.
    slopes : how a loudness level goes with the level [phon/dB]. sources : of the levels, one for all or for each.
    """
    told = [(i, phon) for i, phon in enumerate(phons) if phon is not None]
    if not told:
        return None
    own = [replace(points[i], level=phon, u=points[i].u * slopes[i], is_bound=bounds[i]) for i, phon in told]
    used = [i for i, _ in told]
    slope = np.array(slopes)[used]
    moved = {name: np.broadcast_to(each, len(points))[used] * slope for name, each in sources.items()}
    return level_curve(own, moved, identity=f"{identity}/loudness", trials=trials, floor=None)
