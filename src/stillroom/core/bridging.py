"""Bridging the eras of a rig: by what ratio the same sample reads otherwise since the rig was changed.

The logarithm of each value is taken as its sample's own plus its era's; the era's parts, relative to the target
era, come by least squares from all mountings of samples that were measured in several eras. With two eras and
one sample that is the ratio of the two means; with more samples their pooled mean; an era without a sample in
common with the target is reached through those between.

How sure it is: the scatter of mountings about that fit, pooled with the lab's spread between mountings (worth
four degrees of freedom), and by Student's t. What readings alone allow is never undercut. Errors shared within
an era (an instrument, a nozzle) go along by their identity: what is the same before and after cancels, and a
value that was brought over carries the new era's instruments instead of the old one's.

Limits of validity: the change acts as one factor on all fans under the measure and condition of the bridge.
Sources: two-way layout with unequal numbers, Searle, Casella & McCulloch, Variance Components (1992), ch. 4
(from memory); check standards as the link between periods: NIST/SEMATECH e-Handbook, 2.2.2 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol, TypeVar

import numpy as np
import scipy

from stillroom.core.arrays import Array
from stillroom.core.combine import MountingResult
from stillroom.core.draws import SEED, normal_draws
from stillroom.core.spread import PRIOR_DOF, variance_factor, with_prior
from stillroom.errors import BadInput

VERSION = 1
"""Raised when the same runs would give another bridge."""

DISAGREE = 0.01
"""Probability under which the ratios of several samples are said to disagree [1]."""

MOST_RUNS = 10


@dataclass(frozen=True)
class BridgeRun:
    """One mounting as it serves a bridge: of which sample, in which era, with its value."""

    sample: str
    era: int
    result: MountingResult

    @property
    def mounting(self) -> str:
        """Its name."""
        return self.result.mounting


@dataclass(frozen=True)
class Bridge:
    """What brings values of one era to the target era.

    Parameters
    ----------
    identity : of the bridge's own error, shared by all values that it brings over.
    ratio : by which a value of the era is multiplied [1].
    u, dof : its relative standard uncertainty by mountings and readings [1], and the degrees of freedom.
    shared : trials of the ratio under shared errors only, relative to it, shape (M,) [1].
    loadings : {shared source: relative change of the ratio by one standard deviation of it} [1].
    before, after, samples : mountings of the era and of the target era that it rests on, and their samples.
    agree : whether the samples' ratios agree within the spread of mountings.
    """

    identity: str
    ratio: float
    u: float
    dof: float
    shared: Array
    loadings: Mapping[str, float]
    before: tuple[str, ...]
    after: tuple[str, ...]
    samples: tuple[str, ...]
    agree: bool

    @property
    def interval(self) -> tuple[float, float]:
        """The 95 % interval of the ratio by mountings and readings [1]."""
        reach = float(scipy.special.stdtrit(self.dof, 0.975)) * self.u
        return self.ratio * math.exp(-reach), self.ratio * math.exp(reach)

    def own_trials(self, seed: int = SEED) -> Array:
        """Trials of the bridge's own error as a factor about 1, shape (M,): the same for all that it carries."""
        count = self.shared.size
        wider = np.sqrt(variance_factor(self.dof, count, identity=f"{self.identity}/spread", seed=seed))
        factor: Array = np.exp(self.u * wider * normal_draws(self.identity, count, seed))
        return factor

    def carry(self, result: MountingResult, seed: int = SEED) -> MountingResult:
        """A mounting's value as the target era would have read it, with the bridge's errors."""
        value = result.value * self.ratio
        loadings = {name: loading * self.ratio for name, loading in result.loadings.items()}
        for name, relative in self.loadings.items():
            loadings[name] = loadings.get(name, 0.0) + value * relative
        loadings[self.identity] = value * self.u
        return replace(
            result,
            value=value,
            shared_trials=result.shared_trials * self.ratio * self.shared * self.own_trials(seed),
            noise_trials=result.noise_trials * self.ratio,
            loadings=loadings,
        )


def bridges_to(target: int, runs: Sequence[BridgeRun], mounting_sd: float, name: str) -> dict[int, Bridge]:
    """The bridges to a target era from every era that samples in common lead to, {era: bridge}.

    Parameters
    ----------
    target : the era to which values are brought.
    runs : mountings, of any samples and eras; values above 0.
    mounting_sd : relative spread between mountings as the lab knows it [1].
    name : of the rig and the measure; with the eras it is the identity of the bridge's error.

    Raises
    ------
    BadInput : a value or a spread that is not above zero.
    """
    if not mounting_sd > 0.0 or any(not each.result.value > 0.0 for each in runs):
        raise BadInput(f"bridge of {name}", found="a value or a spread of 0 or less", expected="above 0")
    used = connected(target, runs)
    found = era_parts(target, used, np.log([each.result.value for each in used]), mounting_sd)
    noise = np.array([float(each.result.noise_trials.var()) / each.result.value**2 for each in used])
    return {
        era: _bridge(
            f"bridge/{name}/{era}>{target}",
            weights,
            change,
            used,
            np.maximum(found.variance, noise),
            found.dof,
            (era, target),
            agree=found.agree,
        )
        for era, (weights, change) in found.parts.items()
    }


class InEra(Protocol):
    """A mounting as it serves a bridge."""

    @property
    def sample(self) -> str:
        """Its sample."""

    @property
    def era(self) -> int:
        """The number of its era."""

    @property
    def mounting(self) -> str:
        """Its name."""


@dataclass(frozen=True)
class EraParts:
    """What each era adds to the values of the same samples, against the target era.

    Parameters
    ----------
    parts : {era: (weights of the runs (n,), what brings it to the target)}.
    variance, dof : of one run about the fit, pooled with the lab's own spread. agree : whether samples agree.
    """

    parts: Mapping[int, tuple[Array, float]]
    variance: float
    dof: float
    agree: bool


def era_parts(target: int, used: Sequence[InEra], values: Array, mounting_sd: float) -> EraParts:
    """Least squares of values = sample's own + era's own, over runs of `connected`.

    Parameters
    ----------
    target : the era to which values are brought.
    used : mountings of samples that link eras with the target.
    values : of the runs, (n,), in a form in which a change of era adds.
    mounting_sd : spread between mountings, in the same form.
    """
    eras = sorted({each.era for each in used} - {target})
    samples = sorted({each.sample for each in used})
    design = np.zeros((len(used), len(samples) + len(eras)))
    for row, each in enumerate(used):
        design[row, samples.index(each.sample)] = 1.0
        if each.era != target:
            design[row, len(samples) + eras.index(each.era)] = 1.0
    solve = np.linalg.pinv(design)
    fitted = solve @ values
    squares = float(np.square(values - design @ fitted).sum())
    dof = len(used) - len(samples) - len(eras)
    pooled = with_prior(squares if dof else 0.0, dof, prior_sd=mounting_sd)
    agree = dof == 0 or float(scipy.special.fdtrc(dof, PRIOR_DOF, squares / dof / mounting_sd**2)) >= DISAGREE
    parts = {
        era: (-solve[len(samples) + place], float(-fitted[len(samples) + place]))
        for place, era in enumerate(eras)
    }
    return EraParts(parts, pooled.variance, pooled.dof, agree)


Run = TypeVar("Run", bound=InEra)


def connected(target: int, runs: Sequence[Run]) -> list[Run]:
    """The runs of samples that link eras with the target, in a fixed order."""
    reached, samples = {target}, set[str]()
    while True:
        found = {each.sample for each in runs if each.era in reached}
        eras = {each.era for each in runs if each.sample in found}
        if found == samples and eras <= reached:
            break
        samples, reached = found, reached | eras
    several = {each for each in samples if len({run.era for run in runs if run.sample == each}) > 1}
    linking = [each for each in runs if each.sample in several]
    return sorted(linking, key=lambda each: (each.era, each.sample, each.mounting))


def _bridge(
    identity: str,
    weights: Array,
    log_ratio: float,
    runs: Sequence[BridgeRun],
    spread: Array,
    dof: float,
    eras: tuple[int, int],
    *,
    agree: bool,
) -> Bridge:
    """One bridge from the weights with which the logarithms of the runs make it up."""
    results = [each.result for each in runs]
    shared = np.ones_like(results[0].shared_trials)
    loadings: dict[str, float] = {}
    for weight, each in zip(weights, results, strict=True):
        shared += weight * (each.shared_trials / each.value - 1.0)
        for source, loading in each.loadings.items():
            loadings[source] = loadings.get(source, 0.0) + float(weight) * loading / each.value
    before, after = (tuple(run.result.mounting for run in runs if run.era == era) for era in eras)
    return Bridge(
        identity=identity,
        ratio=math.exp(log_ratio),
        u=math.sqrt(float(np.square(weights) @ spread)),
        dof=dof,
        shared=shared,
        loadings=loadings,
        before=before,
        after=after,
        samples=tuple(sorted({each.sample for each in runs})),
        agree=agree,
    )


def runs_wanted(before: int, mounting_sd: float, goal: float) -> int:
    """How many mountings of a sample in the new era make a bridge as sure as wanted; at least two, at most ten.

    Parameters
    ----------
    before : mountings of the sample in the old era.
    mounting_sd : relative spread between mountings [1].
    goal : half-width of the bridge's 95 % interval, relative [1].
    """
    reach = float(scipy.special.stdtrit(PRIOR_DOF + before, 0.975)) * mounting_sd
    for count in range(2, MOST_RUNS):
        if reach * math.sqrt(1.0 / max(1, before) + 1.0 / count) <= goal:
            return count
    return MOST_RUNS
