"""From mountings to a fan: mean over samples of means over mountings, with trials that still share.

What is shared (instruments, a nozzle, an obstacle, a day's barometer) keeps its identity, so that it
cancels when two fans are compared. What is private is drawn by the identity of its mounting and sample.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from heapq import heapify, heapreplace

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.draws import SEED, normal_draws
from stillroom.core.spread import PooledSpread, Spreads, nested_squares, own_spread, variance_factor
from stillroom.errors import BadInput

SAMPLES_FOR_OWN_SPREAD = 3


@dataclass(frozen=True)
class MountingResult:
    """A measure's value in one mounting.

    Parameters
    ----------
    sample, mounting : identities, unique in the whole lab (the same sample draws the same everywhere).
    value : central value, SI.
    shared_trials : trial values under shared errors only, SI, shape (M,).
    noise_trials : deviations from reading noise and what lies between the points, SI, shape (M,).
    loadings : {identity of a shared source: change of the value by one standard deviation of it}, SI.
    """

    sample: str
    mounting: str
    value: float
    shared_trials: Array
    noise_trials: Array
    loadings: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class VarianceParts:
    """What a fan's variance is made of, so that "more mountings" and "more samples" can be reckoned.

    Parameters
    ----------
    sample : variance between samples of this fan, SI².
    mounting : variance of one mounting about its sample, reading noise included, SI².
    mountings_per_sample : how many mountings each sample has.
    loadings : {shared source: sensitivity to one standard deviation}, SI.
    """

    sample: float
    mounting: float
    mountings_per_sample: tuple[int, ...]
    loadings: Mapping[str, float] = field(default_factory=dict)

    @property
    def private(self) -> float:
        """Variance of the fan's mean that no other fan shares [SI²]."""
        return float(self.after_mountings(0)[0])

    def after_mountings(self, most: int) -> Array:
        """Private variance after 0, 1, … `most` further mountings, shape (most + 1,) [SI²].

        Each further mounting goes to the sample that has the fewest.
        """
        counts = list(self.mountings_per_sample)
        heapify(counts)
        inverse = [sum(1.0 / count for count in sorted(counts))]
        for _ in range(most):
            fewest = counts[0]
            heapreplace(counts, fewest + 1)
            inverse.append(inverse[-1] - 1.0 / fewest + 1.0 / (fewest + 1))
        samples = len(counts)
        return (self.sample + self.mounting * np.array(inverse) / samples) / samples

    def after_samples(self, most: int) -> Array:
        """Private variance after 0, 1, … `most` further samples of one mounting, shape (most + 1,) [SI²]."""
        further = np.arange(most + 1)
        inverse = sum(1.0 / count for count in sorted(self.mountings_per_sample)) + further
        samples = len(self.mountings_per_sample) + further
        result: Array = (self.sample + self.mounting * inverse / samples) / samples
        return result


@dataclass(frozen=True)
class FanValue:
    """A fan's value from all its mountings.

    Parameters
    ----------
    value : mean over samples of means over mountings, SI.
    trials : trial values, SI, shape (M,).
    variance : from the linear budget, shared parts included, SI².
    own_variance : the part of `variance` that comes from reading noise alone, SI².
    loadings : {source: sensitivity}, mountings and samples among them; Σ loading² + own_variance =
        variance, SI.
    parts : the same variance by kind.
    samples, mountings : how many there are.
    """

    value: float
    trials: Array
    variance: float
    own_variance: float
    loadings: Mapping[str, float]
    parts: VarianceParts
    samples: int
    mountings: int


def combine_mountings(
    mountings: Sequence[MountingResult],
    spreads: Spreads,
    *,
    identity: str = "spread",
    scale: float | None = None,
    seed: int = SEED,
) -> FanValue:
    """A fan's value, trials, variance and loadings from its mountings.

    The pooled mounting spread already holds reading noise and day: each mounting keeps its noise trials
    and gets a draw with only the variance that is missing, max(0, V_m value² − var(noise)). The sample
    spread is always included, as the published value is about the model, not about one unit. A fan with
    three or more samples leans on its own sample spread.

    Parameters
    ----------
    mountings : at least one, all trials of one length.
    spreads : pooled spreads, relative to the value, or to `scale`.
    identity : name of the pooled spreads; their χ² draws are shared by all fans under it.
    scale : what the spreads are relative to, SI: 1.0 where they are absolute (levels in dB); None: the value.
    seed : seed of all draws.

    Raises
    ------
    BadInput : no mounting, a mounting twice, or trials of different lengths.
    """
    ordered = _checked(mountings)
    by_sample: dict[str, list[MountingResult]] = defaultdict(list)
    for each in ordered:
        by_sample[each.sample].append(each)
    weights = {each.mounting: 1.0 / (len(by_sample) * len(by_sample[each.sample])) for each in ordered}
    value = math.fsum(weights[each.mounting] * each.value for each in ordered)
    count = ordered[0].shared_trials.size
    size = value if scale is None else scale
    sample_spread = _sample_spread(list(by_sample.values()), spreads, scale)
    mounting_factor = variance_factor(spreads.mounting.dof, count, identity=f"{identity}/mounting", seed=seed)
    sample_factor = variance_factor(sample_spread.dof, count, identity=f"{identity}/sample", seed=seed)

    wanted = spreads.mounting.variance * size * size
    trials = np.zeros(count)
    loadings: dict[str, float] = defaultdict(float)
    own_variance = mounting_variance = 0.0
    for each in ordered:
        weight = weights[each.mounting]
        noise = float(each.noise_trials.var())
        missing = np.sqrt(np.maximum(0.0, wanted * mounting_factor - noise))
        draw = normal_draws(f"mounting/{each.mounting}", count, seed)
        trials += weight * (each.shared_trials + each.noise_trials + missing * draw)
        own_variance += weight * weight * noise
        mounting_variance += max(wanted, noise) / len(ordered)
        loadings[f"mounting/{each.mounting}"] += weight * math.sqrt(max(0.0, wanted - noise))
        for source, sensitivity in each.loadings.items():
            loadings[source] += weight * sensitivity
    shared = {source: loading for source, loading in loadings.items() if not source.startswith("mounting/")}
    sample_sd = sample_spread.sd * abs(size)
    for sample in by_sample:
        draw = normal_draws(f"sample/{sample}", count, seed)
        trials += (sample_sd / len(by_sample)) * np.sqrt(sample_factor) * draw
        loadings[f"sample/{sample}"] += sample_sd / len(by_sample)
    parts = VarianceParts(
        sample_sd * sample_sd,
        mounting_variance,
        tuple(len(cell) for cell in by_sample.values()),
        shared,
    )
    variance = own_variance + math.fsum(loading * loading for loading in loadings.values())
    return FanValue(
        value, trials, variance, own_variance, dict(loadings), parts, len(by_sample), len(ordered)
    )


def _checked(mountings: Sequence[MountingResult]) -> list[MountingResult]:
    """The mountings in a fixed order, so that the same ones always add up to the same bits."""
    if not mountings:
        raise BadInput("mountings of a fan", found="none", expected="at least one")
    ordered = sorted(mountings, key=lambda each: (each.sample, each.mounting))
    names = [each.mounting for each in ordered]
    if len(set(names)) != len(names):
        raise BadInput("mountings of a fan", found="one mounting twice", expected="each once")
    shape = (ordered[0].shared_trials.size,)
    for each in ordered:
        if each.shared_trials.shape != shape or each.noise_trials.shape != shape:
            raise BadInput(
                f"trials of mounting {each.mounting}",
                found=f"{each.shared_trials.shape} and {each.noise_trials.shape}",
                expected=f"{shape} in all",
            )
    return ordered


def _sample_spread(
    samples: Sequence[Sequence[MountingResult]], spreads: Spreads, scale: float | None
) -> PooledSpread:
    """The pooled sample spread, or this fan's own where it has samples enough."""
    cells = [np.array([each.value for each in cell]) for cell in samples]
    return spread_between_samples(cells, spreads, scale)


def spread_between_samples(cells: Sequence[Array], spreads: Spreads, scale: float | None) -> PooledSpread:
    """The spread between samples of one fan: the pooled one, or its own where it has samples enough.

    Parameters
    ----------
    cells : values of the mountings of each sample.
    spreads, scale : as for `combine_mountings`.
    """
    if len(cells) < SAMPLES_FOR_OWN_SPREAD:
        return spreads.sample
    if scale is not None:
        cells = [cell / scale for cell in cells]
    squares = nested_squares([cells], relative=scale is None)
    remaining = squares.between - squares.carried * spreads.mounting.variance
    return own_spread(spreads.sample, remaining, squares.between_dof)
