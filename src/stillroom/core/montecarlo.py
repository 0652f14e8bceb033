"""Propagation of distributions by trials (JCGM 101), in blocks that stay in the cache.

A model gets draws with mean 0 and variance 1 and scales them itself, so that it may use them as it likes: an
offset, a gain, a bore. What is shared between points is drawn once and is the same for all of them; what
belongs to a point has an identity of its own. A result does not depend on the number of workers or on the
order in which points are taken.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from enum import Enum
from itertools import pairwise

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.draws import SEED, Stream
from stillroom.core.intervals import coverage_interval, coverage_ranks
from stillroom.errors import NotPossible, OutOfRange

TRIALS_AT_ONCE = 32768
"""Trials that a model is given at a time: the intermediate arrays of a formula then stay in the cache."""


class Distribution(Enum):
    """How the draws of a source are spread; always with mean 0 and variance 1."""

    NORMAL = "normal"
    RECTANGULAR = "rectangular"


@dataclass(frozen=True)
class Source:
    """One source of error.

    Parameters
    ----------
    identity : its name, if it is shared by all points; or one name for each point.
    distribution : how its draws are spread.
    """

    identity: str | Sequence[str]
    distribution: Distribution = Distribution.NORMAL

    @property
    def shared(self) -> bool:
        """Whether all points have the same draws of it."""
        return isinstance(self.identity, str)

    def next(self, stream: Stream, trials: int) -> Array:
        """Its next draws from a stream, shape (1, trials)."""
        if self.distribution is Distribution.NORMAL:
            return stream.normal(trials)[np.newaxis]
        return stream.rectangular(trials)[np.newaxis]


Model = Callable[[slice, Mapping[str, Array]], Mapping[str, Array]]
"""model(points, draws) → {quantity: trials}.

`points` says which points are asked for; draws of a shared source have the shape (1, b), those of a source
with a name for each point (points, b); each quantity must broadcast to (points, b).
"""


@dataclass(frozen=True)
class Propagated:
    """One quantity after propagation.

    Parameters
    ----------
    mean : average of the trials (JCGM 101, 7.6), shape (points,), unit of the quantity.
    u : standard deviation of the trials (7.6), same shape and unit.
    low, high : ends of the probabilistically symmetric coverage interval (7.7), same shape and unit.
    """

    mean: Array
    u: Array
    low: Array
    high: Array


def propagate(
    model: Model,
    points: int,
    sources: Mapping[str, Source],
    trials: int,
    *,
    probability: float = 0.95,
    seed: int = SEED,
    executor: Executor | None = None,
    parts: int = 1,
) -> dict[str, Propagated]:
    """Distributions of the quantities of a model at many points, from trials of its sources of error.

    Parameters
    ----------
    model : see `Model`; it is called with one point and up to `TRIALS_AT_ONCE` trials at a time.
    points : number of points.
    sources : the sources of error under the names by which the model asks for them.
    trials : number M of trials.
    probability : coverage probability of the intervals [1].
    seed : seed of the laboratory.
    executor : where to work; None: here. For processes the model must be one that can be pickled.
    parts : into how many tasks the points are divided for an executor; the result is the same for any number.

    Returns
    -------
    {quantity: Propagated}. A task holds the shared draws (M per shared source) and the trials of one point.

    Raises
    ------
    OutOfRange : too few trials for the probability; a source with names for another number of points.
    NotPossible : there are no points, or a trial of a quantity is not a finite number.

    Source: JCGM 101:2008, clause 7.
    """
    coverage_ranks(trials, probability)
    if points < 1:
        raise NotPossible("propagation", found="no points", expected="one point or more")
    for name, each in sources.items():
        if not each.shared and len(each.identity) != points:
            raise OutOfRange(
                f"source {name!r}",
                found=f"{len(each.identity)} identities",
                expected=f"one for each of {points} points",
            )
    if executor is None:
        summaries = _part(model, range(points), sources, trials, probability, seed)
    else:
        edges = [points * i // parts for i in range(parts + 1)]
        tasks = [
            executor.submit(_part, model, range(low, high), sources, trials, probability, seed)
            for low, high in pairwise(edges)
        ]
        summaries = [each for task in tasks for each in task.result()]
    return {name: Propagated(*np.array([each[name] for each in summaries]).T.copy()) for name in summaries[0]}


_Summary = tuple[float, float, float, float]


def _part(
    model: Model,
    points: range,
    sources: Mapping[str, Source],
    trials: int,
    probability: float,
    seed: int,
) -> list[dict[str, _Summary]]:
    """Some of the points, one after the other."""
    shared = {
        name: each.next(Stream(each.identity, 0, seed), trials)
        for name, each in sources.items()
        if isinstance(each.identity, str)
    }
    _keep_freed_memory()
    room: dict[str, Array] = {}
    summaries = []
    for point in points:
        own = {
            name: Stream(each.identity[point], 0, seed) for name, each in sources.items() if not each.shared
        }
        for start in range(0, trials, TRIALS_AT_ONCE):
            part = slice(start, min(start + TRIALS_AT_ONCE, trials))
            draws = {name: each[:, part] for name, each in shared.items()}
            draws |= {name: sources[name].next(each, part.stop - start) for name, each in own.items()}
            for name, values in model(slice(point, point + 1), draws).items():
                if name not in room:
                    room[name] = np.empty(trials)
                room[name][part] = values
        summaries.append({name: _summary(name, row, probability) for name, row in room.items()})
    return summaries


def _keep_freed_memory() -> None:
    """Let the C library keep what is freed for the next array, instead of handing it back each time.

    glibc learns from the largest block that was freed how much to keep; without this, fetching the same
    memory again and again takes a fifth of the time. Elsewhere it does nothing.
    """
    np.empty(2_000_000)


def _summary(name: str, row: Array, probability: float) -> _Summary:
    """Mean, standard deviation and interval of the trials; what `row` holds is lost."""
    mean = float(row.mean())  # JCGM 101, (16)
    if not np.isfinite(mean):
        raise NotPossible(f"trials of {name}", found="a value that is not finite", expected="finite trials")
    low, high = coverage_interval(row, probability)
    row -= mean
    row *= row
    return mean, float(np.sqrt(row.sum() / (row.size - 1))), float(low), float(high)  # (17)
