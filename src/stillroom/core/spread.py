"""The spread between mountings and between samples, pooled over fans.

A standard deviation from two mountings of one fan is worth almost nothing; the pooled one of all fans of a
round is worth a lot. The mounting spread already holds reading noise, re-mounting and day; the sample
spread is what is left between units of one model. Both are relative to the value.

Sources: nested analysis of variance, Searle, Casella & McCulloch, Variance Components (1992), ch. 3;
prior as a scaled inverse χ², Gelman et al., Bayesian Data Analysis (3rd ed., 2013), section 3.2.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy

from stillroom.core.arrays import Array
from stillroom.core.draws import SEED, uniform_draws
from stillroom.errors import BadInput, OutOfRange

PRIOR_DOF = 4.0
"""Degrees of freedom that the laboratory's earlier experience is worth."""

FIRST_YEAR_SAMPLE_SD = 0.012
"""Relative standard deviation between samples assumed before the lab has its own [1]."""

FIRST_YEAR_MOUNTING_SD = 0.005
"""Relative standard deviation between mountings assumed before the lab has its own [1]."""

FIRST_YEAR_SAMPLE_LEVEL = 0.7
"""Standard deviation of a level between samples assumed before the lab has its own [dB]."""

FIRST_YEAR_MOUNTING_LEVEL = 0.4
"""Standard deviation of a level between mountings assumed before the lab has its own [dB]."""

FIRST_YEAR_SAMPLE_HEAT = 0.2
"""Standard deviation of a temperature difference between samples assumed before the lab has its own [K]."""

FIRST_YEAR_MOUNTING_HEAT = 0.12
"""Standard deviation of a temperature difference between mountings assumed before the lab has its own [K]."""

OWN_SPREAD_DOF = 5.0
"""Degrees of freedom with which a fan of three or more samples leans on the pooled spread."""


@dataclass(frozen=True)
class MountingValue:
    """One value measured in one mounting: the unit of replication."""

    fan: str
    sample: str
    mounting: str
    value: float


@dataclass(frozen=True)
class PooledSpread:
    """A pooled relative spread with what it rests on; kept as a dated record, frozen for a round.

    Parameters
    ----------
    sd : pooled standard deviation, prior included, relative to the value [1].
    dof : its degrees of freedom, prior included.
    prior_sd, prior_dof : what was assumed before the data [1].
    data_sd : the data's own estimate, never negative; equal to `prior_sd` where `data_dof` is 0 [1].
    data_dof : degrees of freedom that the data contributed.
    """

    sd: float
    dof: float
    prior_sd: float
    prior_dof: float
    data_sd: float
    data_dof: float

    @classmethod
    def agreed(cls, sd: float, dof: float) -> PooledSpread:
        """A spread as it was once agreed and frozen: this round's data add nothing to it.

        Raises
        ------
        BadInput : a negative spread, or degrees of freedom that are not above zero.
        """
        return with_prior(0.0, 0.0, prior_sd=sd, prior_dof=dof)

    @property
    def variance(self) -> float:
        """The pooled relative variance [1]."""
        return self.sd * self.sd


@dataclass(frozen=True)
class Spreads:
    """Both pooled spreads of one measure."""

    mounting: PooledSpread
    sample: PooledSpread


@dataclass(frozen=True)
class NestedSquares:
    """Sums of squares of values nested as fan, sample, mounting.

    Parameters
    ----------
    within, within_dof : squares of mountings about their sample's mean.
    between, between_dof : squares of sample means about their fan's mean (each sample counts once).
    carried : Σ over fans of (samples − 1) · mean(1/mountings); times the mounting variance it is the part
        of `between` that mountings alone would cause.
    """

    within: float
    within_dof: int
    between: float
    between_dof: int
    carried: float


def nested_squares(groups: Iterable[Iterable[Array]], *, relative: bool = True) -> NestedSquares:
    """Sums of squares within and between samples over fans.

    Parameters
    ----------
    groups : for each fan, for each of its samples, the values of its mountings, shape (mountings,).
    relative : divide by the fan's mean of sample means first, so that fans of any size pool.

    Raises
    ------
    BadInput : a sample without a value, or a value that is not a finite number.
    OutOfRange : a fan's mean is zero while relative values are wanted.
    """
    within = between = carried = 0.0
    within_dof = between_dof = 0
    for samples in groups:
        cells = [np.asarray(cell, dtype=np.float64) for cell in samples]
        if not cells or any(cell.size == 0 or not bool(np.isfinite(cell).all()) for cell in cells):
            raise BadInput("values of mountings", found="none, or not a number", expected="finite values")
        origin = float(cells[0][0])  # differences from a nearby constant keep all digits
        means = np.array([(cell - origin).mean() for cell in cells])
        scale = abs(origin + float(means.mean())) if relative else 1.0
        if scale == 0.0:
            raise OutOfRange("relative spread", found="a fan whose mean is 0", expected="a mean other than 0")
        counts = np.array([cell.size for cell in cells], dtype=np.float64)
        within += sum(
            float(np.square(cell - origin - mean).sum()) for cell, mean in zip(cells, means, strict=True)
        ) / (scale * scale)
        within_dof += int(counts.sum()) - len(cells)
        between += float(np.square((means - means.mean()) / scale).sum())
        between_dof += len(cells) - 1
        carried += (len(cells) - 1) * float((1.0 / counts).mean())
    return NestedSquares(within, within_dof, between, between_dof, carried)


def with_prior(squares: float, dof: float, *, prior_sd: float, prior_dof: float = PRIOR_DOF) -> PooledSpread:
    """Pool a sum of squares with a prior: V = (ν₀ s₀² + SS)/(ν₀ + df).

    Raises
    ------
    BadInput : a negative sum of squares, or degrees of freedom that leave nothing to divide by.
    """
    if not (squares >= 0.0 and dof >= 0.0 and prior_sd >= 0.0 and prior_dof >= 0.0 and prior_dof + dof > 0.0):
        raise BadInput(
            "pooled spread",
            found=f"squares {squares}, dof {dof}, prior {prior_sd} with {prior_dof} dof",
            expected="none negative, and more than 0 degrees of freedom in all",
        )
    variance = (prior_dof * prior_sd**2 + squares) / (prior_dof + dof)
    data_sd = math.sqrt(squares / dof) if dof > 0.0 else prior_sd
    return PooledSpread(math.sqrt(variance), prior_dof + dof, prior_sd, prior_dof, data_sd, dof)


def pooled_spreads(
    values: Iterable[MountingValue],
    *,
    prior_sample_sd: float = FIRST_YEAR_SAMPLE_SD,
    prior_mounting_sd: float = FIRST_YEAR_MOUNTING_SD,
    prior_dof: float = PRIOR_DOF,
    relative: bool = True,
) -> Spreads:
    """Pooled spreads between mountings and between samples, relative to the value or absolute.

    The mounting part is taken out of the squares between samples by expectation: sample means vary by
    σ_s² + σ_m²/m, so Σ(x̄ᵢ − x̄)² expects (a − 1)(σ_s² + σ_m² mean(1/mᵢ)). What remains is cut at zero.

    Parameters
    ----------
    values : one per mounting, any order; sample names need to be unique within a fan only.
    prior_sample_sd, prior_mounting_sd : the lab's last values, relative [1], or in the values' unit.
    prior_dof : what they are worth.
    relative : to the fan's mean; False: spreads are absolute, in the values' unit (for levels: dB, with
        `FIRST_YEAR_SAMPLE_LEVEL` and `FIRST_YEAR_MOUNTING_LEVEL` as priors).

    Raises
    ------
    BadInput, OutOfRange : as `nested_squares` and `with_prior`.
    """
    squares = nested_squares(_grouped(values).values(), relative=relative)
    mounting = with_prior(squares.within, squares.within_dof, prior_sd=prior_mounting_sd, prior_dof=prior_dof)
    between = max(0.0, squares.between - squares.carried * mounting.variance)
    sample = with_prior(between, squares.between_dof, prior_sd=prior_sample_sd, prior_dof=prior_dof)
    return Spreads(mounting, sample)


def _grouped(values: Iterable[MountingValue]) -> Mapping[str, list[Array]]:
    """Values of mountings by fan, in a fixed order of samples and mountings."""
    cells: dict[str, dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
    for each in sorted(values, key=lambda one: (one.fan, one.sample, one.mounting)):
        cells[each.fan][each.sample].append(each.value)
    return {fan: [np.array(cell) for cell in samples.values()] for fan, samples in cells.items()}


@lru_cache(maxsize=32)  # every fan of a round asks for the same few
def variance_factor(dof: float, trials: int, *, identity: str, seed: int = SEED) -> Array:
    """How far off a pooled variance may be, per trial: ν/χ²_ν, shape (trials,), read-only.

    One identity stands for one pooled spread, so all fans that borrow it share the draw. A normal draw
    scaled by the root of this factor follows Student's t with ν degrees of freedom.

    Raises
    ------
    BadInput : degrees of freedom that are not above zero.
    """
    if not dof > 0.0:
        raise BadInput("degrees of freedom of a spread", found=str(dof), expected="more than 0")
    probability = 0.5 + uniform_draws(identity, trials, seed) / math.sqrt(12.0)
    factor: Array = dof / np.asarray(scipy.special.chdtri(dof, probability), dtype=np.float64)
    factor.setflags(write=False)
    return factor


def own_spread(pooled: PooledSpread, squares: float, dof: int) -> PooledSpread:
    """The spread of one fan that has three or more samples, leaning on the pooled one with 5 degrees.

    Parameters
    ----------
    pooled : the spread over all fans.
    squares : this fan's own relative squares between samples, mounting part taken out [1].
    dof : its own degrees of freedom (samples − 1).
    """
    return with_prior(max(0.0, squares), dof, prior_sd=pooled.sd, prior_dof=OWN_SPREAD_DOF)
