"""Values of a fan's own level curve: at a noise limit, or at the speed that an airflow needs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stillroom.compare.candidates import Bound, Candidate, How
from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.combine import VarianceParts
from stillroom.core.sound.fan_levels import FanLevels
from stillroom.core.sound.level_curve import SPEED_TOLERANCE
from stillroom.core.standards.iso_532_1_2017.loudness import sone_from_phon
from stillroom.errors import NotPossible
from stillroom.lab.sound.fan_sound import FanSound
from stillroom.lab.sound.kept_limits import own_source
from stillroom.lab.sound.level_words import speed_in_words
from stillroom.lab.sound.limits import FanLimit
from stillroom.lab.valuing import FanCase

Scale = Callable[[Array], Array]


@dataclass(frozen=True)
class RowValue:
    """A value of a fan from rows.

    Parameters
    ----------
    value : central. trials : (M,). loadings : {source: change by one standard deviation}.
    own : standard deviation by what is the fan's own. parts : the same by kind. is_bound : whether it is at most that.
    marks : what must be said beside it.
    """

    value: float
    trials: Array
    loadings: dict[str, float]
    own: float
    parts: VarianceParts
    is_bound: bool
    marks: tuple[str, ...] = ()

    @property
    def variance(self) -> float:
        """Of shared and own errors together."""
        return self.own**2 + sum(each**2 for each in self.loadings.values())

    def candidate(self, used: FanSound, key: str, how: How, bound: Bound, marks: Sequence[str]) -> Candidate:
        """As it enters a ranking."""
        return Candidate(
            fan=used.fan,
            value=self.value,
            trials=self.trials,
            parts=self.parts,
            how=how,
            samples=len({each.node.sample for each in used.heard}),
            mountings=len(used.heard),
            key=key,
            marks=tuple(dict.fromkeys([*marks, *self.marks])),
            bound=bound,
        )


def limited_speed(found: FanLimit) -> RowValue:
    """The speed that a limit allows [1/s]."""
    speeds, k = found.speeds, len(found.sources)
    value = speeds.central
    loadings = {name: float(speeds.speeds[1 + i]) - value for i, name in enumerate(found.sources)}
    own = abs(float(speeds.speeds[1 + k]) - value)
    trials = speeds.speeds[2 + k :]
    return RowValue(value, trials, loadings, own, _parts(found.levels, value, own, loadings), False)


def at_limit(found: FanLimit, used: FanSound, curves: FanLevels, scale: Scale) -> RowValue:
    """What another curve of the fan, such as its loudness, says at the speed of a limit, each row at its own."""
    sources = tuple(dict.fromkeys((*curves.sources, *found.sources)))
    speeds, k = found.speeds, len(sources)
    own = own_source(used.fan)
    rows, _ = speeds.rows((*sources, own))
    at = np.delete(rows, 1 + k)
    total, shared = (scale(rows_at(curves, part, sources, at)) for part in (Part.TOTAL, Part.SHARED))
    value = float(total[0])
    loadings = {name: float(total[1 + i]) - value for i, name in enumerate(sources)}
    spread = float(np.std(total[1 + k :] - shared[1 + k :]))
    bound = _is_bound(curves, float(at[0]))
    return RowValue(
        value, total[1 + k :], loadings, spread, _parts(curves, float(at[0]), spread, loadings), bound
    )


def at_needed(case: FanCase, used: FanSound, curves: FanLevels, scale: Scale, gain: float) -> RowValue:
    """What a curve says at the speed that an airflow needs, each trial at its own.

    Parameters
    ----------
    case : the speed needed, of all mountings. gain : of several fans together [dB].

    Raises
    ------
    NotPossible : a speed beyond those whose sound was measured, with what it is.
    """
    speed, k = case.candidate.value, len(curves.sources)
    low, high = curves.reach
    if not low * (1.0 - SPEED_TOLERANCE) <= speed <= high * (1.0 + SPEED_TOLERANCE):
        raise NotPossible(
            f"level of {used.fan}",
            found=f"it needs {speed_in_words(speed)}; its sound was measured from {low * 60:,.0f} to"
            f" {speed_in_words(high)}",
        )
    fixed = np.full(1 + k, speed)
    at = np.concatenate([fixed, case.candidate.trials])
    total, shared = (
        scale(rows_at(curves, part, curves.sources, at) + gain) for part in (Part.TOTAL, Part.SHARED)
    )
    value = float(total[0])
    loadings = {name: float(total[1 + i]) - value for i, name in enumerate(curves.sources)}
    slope = _slope(curves, scale, speed, gain)
    for name, loading in case.candidate.parts.loadings.items():
        loadings[name] = loadings.get(name, 0.0) + slope * loading
    of_sound = float(np.std(total[1 + k :] - shared[1 + k :]))
    of_flow = abs(slope) * case.candidate.parts.private**0.5
    own = float(np.hypot(of_sound, of_flow))
    parts = _parts(curves, speed, own, loadings)
    return RowValue(value, total[1 + k :], loadings, own, parts, _is_bound(curves, speed))


def rows_at(curves: FanLevels, part: Part, sources: tuple[str, ...], speeds: Array) -> Array:
    """A fan's curve at each row's own speed [1/s], held at the ends of the speeds measured; (1 + k + M,)."""
    rows = curves.rows(part, sources)
    grid = curves.speeds
    at = np.clip(speeds, grid[0], grid[-1])
    place = np.clip(np.searchsorted(grid, at) - 1, 0, len(grid) - 2)
    row = np.arange(len(rows))
    share = (at - grid[place]) / (grid[place + 1] - grid[place])
    return np.asarray(rows[row, place] * (1.0 - share) + rows[row, place + 1] * share)


def _slope(curves: FanLevels, scale: Scale, speed: float, gain: float) -> float:
    """Change of the scaled curve with speed, over 2 % about a speed."""
    ends = np.clip(np.array([0.99, 1.01]) * speed, curves.speeds[0], curves.speeds[-1])
    values = scale(np.interp(ends, curves.speeds, curves.central) + gain)
    width = float(ends[1] - ends[0])
    return float(values[1] - values[0]) / width if width > 0.0 else 0.0


def _is_bound(curves: FanLevels, speed: float) -> bool:
    return bool(curves.bound[int(np.argmin(np.abs(curves.speeds - speed)))])


def _parts(curves: FanLevels, speed: float, own: float, loadings: Mapping[str, float]) -> VarianceParts:
    """The variance of what is the fan's own, parted into samples and mountings as that of its level is."""
    at = int(np.argmin(np.abs(curves.speeds - speed)))
    counts = curves.mountings_per_sample
    level = VarianceParts(curves.sample_variance, float(curves.mounting_variance[at]), counts)
    share = own**2 / max(level.private, 1e-30)
    return VarianceParts(share * level.sample, share * level.mounting, counts, dict(loadings))


def to_sone(phon: Array) -> Array:
    """Loudness from loudness level (ISO 532-1:2017)."""
    return np.asarray(sone_from_phon(phon))


def same(level: Array) -> Array:
    """A level as it is."""
    return level
