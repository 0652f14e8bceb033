"""A fan's level against speed: at each speed the mean over samples of means over mountings.

A limit is then looked for on the fan's own curve. The mean of its mountings' noise-limited speeds would be
something else: of a fan whose level falls again past a resonance it could lie in the very band to avoid.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.characteristic.curve import align
from stillroom.core.combine import spread_between_samples
from stillroom.core.draws import SEED, normal_draws
from stillroom.core.sound.level_curve import LevelCurve, Precision, places, trial_rows
from stillroom.core.sound.level_points import LevelPoint
from stillroom.core.spread import Spreads, variance_factor
from stillroom.errors import BadInput

Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class MountingCurve:
    """The curve of one mounting, with identities of sample and mounting that are unique in the whole lab."""

    sample: str
    mounting: str
    curve: LevelCurve


@dataclass(frozen=True)
class FanLevels:
    """Level against speed of a fan.

    Parameters
    ----------
    speeds, central, sources, effects, bound, floor, reach, seed : as in `LevelCurve`; the sources are those that
        other fans may share.
    private : identities of the p sources that are the fan's own, "mounting/…/level" and "sample/…/level".
    private_effects : change of the level by +1 standard deviation of each, (p, g) [dB].
    noise : deviations by all that is the fan's own, (M, g) float32 [dB].
    points : of all mountings, each with its mounting's identity.
    mountings_per_sample : how many mountings each sample has.
    sample_variance : between samples [dB²]. mounting_variance : of one mounting, its own noise among it, (g,) [dB²].
    left_out : mountings whose speeds have nothing in common with those of the widest one.
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
    mountings_per_sample: tuple[int, ...]
    sample_variance: float
    mounting_variance: Array
    left_out: tuple[str, ...]
    seed: int

    @property
    def samples(self) -> int:
        """How many samples there are."""
        return len(self.mountings_per_sample)

    @property
    def mountings(self) -> int:
        """How many mountings there are."""
        return sum(self.mountings_per_sample)

    @property
    def trials(self) -> int:
        """Number of trials M."""
        return len(self.noise)

    def rows(
        self, part: Part = Part.TOTAL, sources: tuple[str, ...] | None = None, speeds: Array | None = None
    ) -> Array:
        """Levels as a row stack: central, central moved by each source, then the trials.

        Parameters
        ----------
        part : `Part.TOTAL`: trials with all that is the fan's own; `Part.SHARED`: without it.
        sources : the sources that the rows 1 … k stand for; private ones may be among them. None: the shared.
        speeds : where, (m,) [1/s]; None: on the grid.

        Returns
        -------
        Array (1 + k + M, m), or (1, m) for `Part.CENTRAL` [dB].

        Raises
        ------
        NotPossible : a speed outside `reach`.
        UnknownThing : `sources` leaves out a shared one.
        """
        wanted = self.sources if sources is None else sources
        own = tuple(name for name in self.private if name in wanted)
        chosen = [self.private.index(name) for name in own]
        central, noise, shared, private = self.central, self.noise, self.effects, self.private_effects[chosen]
        if speeds is not None:
            at = places(self.speeds, speeds)
            central, noise, shared, private = at.of(central), at.of(noise), at.of(shared), at.of(private)
        if part is Part.CENTRAL:
            return central[None, :]
        moved = central + align(np.concatenate([shared, private]), (*self.sources, *own), wanted)
        trials = trial_rows(part, central, shared, noise, self.sources, self.seed)
        return np.concatenate([central[None, :], moved, trials])


@dataclass(frozen=True)
class _Spread:
    """One mounting's curve on the fan's grid: central (g,), effects (k, g), noise (M, g) float32, bound (g,)."""

    sample: str
    mounting: str
    central: Array
    effects: Array
    noise: NDArray[np.float32]
    bound: Flags


def combine_curves(
    curves: Sequence[MountingCurve], spreads: Spreads, *, identity: str = "level", seed: int = SEED
) -> FanLevels:
    """A fan's curve from its mountings.

    Spreads are treated as in `core.combine`: the pooled mounting spread already holds a mounting's own noise, so
    that a draw is added with only the variance that is missing at each speed; both move a curve as a whole.

    Parameters
    ----------
    curves : of at least one mounting, all with as many trials.
    spreads : pooled spreads [dB].
    identity : name of the pooled spreads; their χ² draws are shared by all fans under it.
    seed : of the draws, as in the curves.

    Returns
    -------
    FanLevels over the speeds of the mounting that reaches furthest. Outside of what another mounting measured,
    that one's curve goes on parallel to the widest one's.

    Raises
    ------
    BadInput : no mounting, a mounting twice, or other numbers of trials.
    """
    ordered = _checked(curves)
    widest = max(ordered, key=lambda each: each.curve.reach[1] - each.curve.reach[0]).curve
    sources = tuple(sorted({name for each in ordered for name in each.curve.sources}))
    meets = {each.mounting: _meets(each.curve, widest) for each in ordered}
    used = [each for each in ordered if meets[each.mounting]]
    spread = [_on_grid(each, widest, sources) for each in used]
    by_sample: dict[str, list[_Spread]] = defaultdict(list)
    for one in spread:
        by_sample[one.sample].append(one)
    weights = [1.0 / (len(by_sample) * len(by_sample[one.sample])) for one in spread]
    private, effects, noise, variances = _private(spread, weights, by_sample, spreads, identity, seed)
    floors = [each.curve.floor for each in used if each.curve.floor is not None]
    return FanLevels(
        speeds=widest.speeds,
        central=_mean([one.central for one in spread], weights),
        sources=sources,
        effects=_mean([one.effects for one in spread], weights),
        private=private,
        private_effects=effects,
        noise=noise,
        bound=np.any([one.bound for one in spread], axis=0),
        points=tuple(replace(point, mounting=each.mounting) for each in used for point in each.curve.points),
        floor=max(floors, default=None),
        reach=widest.reach,
        mountings_per_sample=tuple(len(cell) for cell in by_sample.values()),
        sample_variance=variances[0],
        mounting_variance=variances[1],
        left_out=tuple(each.mounting for each in ordered if not meets[each.mounting]),
        seed=seed,
    )


def _checked(curves: Sequence[MountingCurve]) -> list[MountingCurve]:
    """The curves in a fixed order, so that the same ones always add up to the same bits."""
    if not curves:
        raise BadInput("level curves of a fan", found="none", expected="at least one")
    ordered = sorted(curves, key=lambda each: (each.sample, each.mounting))
    if len({each.mounting for each in ordered}) != len(ordered):
        raise BadInput("level curves of a fan", found="one mounting twice", expected="each once")
    counts = {each.curve.trials for each in ordered}
    if len(counts) > 1:
        raise BadInput("level curves of a fan", found=f"{sorted(counts)} trials", expected="as many in each")
    return ordered


def _meets(curve: LevelCurve, widest: LevelCurve) -> bool:
    return curve.reach[0] <= widest.reach[1] and curve.reach[1] >= widest.reach[0]


def _on_grid(each: MountingCurve, widest: LevelCurve, sources: tuple[str, ...]) -> _Spread:
    """A mounting's curve on the grid of the widest one, gone on with parallel to that one's where it ends."""
    curve, grid = each.curve, widest.speeds
    effects = align(curve.effects, curve.sources, sources)
    if curve is widest:
        return _Spread(each.sample, each.mounting, curve.central, effects, curve.noise, curve.bound)
    inside = np.clip(grid, *curve.reach)
    own, away = places(curve.speeds, inside), places(grid, inside)

    def gone_on(values: NDArray[Precision], model: NDArray[Precision]) -> NDArray[Precision]:
        carried = own.of(values)
        carried += model
        carried -= away.of(model)
        return carried

    return _Spread(
        each.sample,
        each.mounting,
        gone_on(curve.central, widest.central),
        gone_on(effects, align(widest.effects, widest.sources, sources)),
        gone_on(curve.noise, widest.noise),
        np.where(inside == grid, own.of(curve.bound.astype(np.float64)) > 0.0, widest.bound),
    )


def _mean(values: Sequence[Array], weights: Sequence[float]) -> Array:
    total = np.zeros_like(values[0])
    for value, weight in zip(values, weights, strict=True):
        total += weight * value
    return total


def _private(
    spread: Sequence[_Spread],
    weights: Sequence[float],
    by_sample: dict[str, list[_Spread]],
    spreads: Spreads,
    identity: str,
    seed: int,
) -> tuple[tuple[str, ...], Array, NDArray[np.float32], tuple[float, Array]]:
    """What is the fan's own: names, effects (p, g), trials (M, g), and variances of samples and of mountings."""
    count = len(spread[0].noise)
    cells = [np.array([float(one.central.mean()) for one in cell]) for cell in by_sample.values()]
    of_samples = spread_between_samples(cells, spreads, 1.0)
    mounting_factor = variance_factor(spreads.mounting.dof, count, identity=f"{identity}/mounting", seed=seed)
    sample_factor = variance_factor(of_samples.dof, count, identity=f"{identity}/sample", seed=seed)
    wanted = spreads.mounting.variance
    trials = np.zeros_like(spread[0].noise)
    mounting_variance = np.zeros_like(spread[0].central)
    effects: dict[str, Array] = {}
    for one, weight in zip(spread, weights, strict=True):
        own = one.noise.var(axis=0, dtype=np.float64)
        name = f"mounting/{one.mounting}/level"
        added = (wanted * mounting_factor).astype(np.float32)[:, None] - own.astype(np.float32)
        np.sqrt(np.maximum(added, 0.0, out=added), out=added)
        added *= normal_draws(name, count, seed).astype(np.float32)[:, None]
        added += one.noise
        trials += np.float32(weight) * added
        effects[name] = weight * np.sqrt(np.maximum(0.0, wanted - own))
        mounting_variance += np.maximum(wanted, own) / len(spread)
    for sample in by_sample:
        name = f"sample/{sample}/level"
        sd = of_samples.sd / len(by_sample)
        shift = sd * np.sqrt(sample_factor) * normal_draws(name, count, seed)
        trials += shift.astype(np.float32)[:, None]
        effects[name] = np.full_like(mounting_variance, sd)
    return tuple(effects), np.array(list(effects.values())), trials, (of_samples.variance, mounting_variance)
