"""Which heat runs lie off the law of resistance against airflow, and what they speak against."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.heat.flow_law import FlowLaw, Label


class Against(Enum):
    """What runs that lie off speak against."""

    HEAT_RUN = "this heat run"
    HEAT_RIG = "the heat rig"
    AIRFLOW = "the airflow of this fan"
    EITHER = "heat or airflow"


@dataclass(frozen=True)
class Disagreement:
    """A group of runs that lies off the law.

    Parameters
    ----------
    against : what it speaks against. name : the fan or heat mounting; "from DATE" for all runs since.
    shift, u, z : R measured over predicted − 1, its standard uncertainty, and their quotient [1].
    points : of the law, by number.
    """

    against: Against
    name: str
    shift: float
    u: float
    z: float
    points: tuple[int, ...]


LEAST_SHIFT = 0.01
"""A smaller shift is not worth a word [1]: about 0.1 K of 12 K."""

FALSE_ALARMS = 0.03
"""Probability that a law of which nothing is wrong gives any finding of one kind, over all its groups [1]."""

TOLD = 2.0
"""Of two mountings that contradict each other, one lies this many standard uncertainties off the law, the other not."""

LEAST_FANS = 3
"""So many fans on either side of a date tell of the rig."""


def disagreements(law: FlowLaw, collapsing: Mapping[str, bool]) -> tuple[Disagreement, ...]:
    """Which runs lie off the law, and what they speak against.

    All fans off alike from a date on speak against the heat rig. One heat mounting off, where others of its fan
    aren't, speaks against that run. A fan that is off in all its heat mountings speaks against its airflow where its
    airflow sweeps contradict each other; where they collapse onto one curve, against the heat rig with that fan on
    it; and where nobody knows, against either.

    Parameters
    ----------
    law : fitted.
    collapsing : by fan, whether its airflow sweeps agree with each other; a fan that is missing: unknown.
    """
    runs = _runs(law)
    found = _since(runs)
    if found is not None:
        runs = [each if each.day < found[0] else each.less(found[1].shift) for each in runs]
    fans = sorted({each.fan for each in runs})
    single = [each for fan in fans for each in _odd_runs([run for run in runs if run.fan == fan], len(runs))]
    odd = {each.name for each in single}
    whole = [
        each
        for fan in fans
        if (
            each := _odd_fan(
                [run for run in runs if run.fan == fan and run.heat not in odd], len(fans), collapsing
            )
        )
    ]
    return (*([found[1]] if found else []), *single, *whole)


@dataclass(frozen=True)
class _Run:
    """One heat mounting: its mean of ln(R/predicted), u by its readings, u shared by its fan, and its points."""

    fan: str
    heat: str
    day: str
    off: float
    u: float
    u_fan: float
    points: tuple[int, ...]

    def less(self, shift: float) -> _Run:
        return _Run(self.fan, self.heat, self.day, self.off - shift, self.u, self.u_fan, self.points)


MOUNTING = 0.008
"""Spread of heat mountings of one fan, relative to ΔT [1]: 0.12 K of some 15 K, the spread expected before the data."""


def _runs(law: FlowLaw) -> list[_Run]:
    ratio = np.log(law.resistances / law.predicted)
    read = np.hypot(law.u_own / law.resistances, 1e-4)
    by_fan = law.u_predicted / law.predicted
    return [
        _Run(
            label.fan,
            label.heat,
            label.day,
            float(np.average(ratio[at], weights=read[at] ** -2.0)),
            float(np.hypot(MOUNTING, np.sum(read[at] ** -2.0) ** -0.5)),
            float(by_fan[at].mean()),
            tuple(int(i) for i in at),
        )
        for label, at in _groups(law.labels, lambda each: each.heat)
    ]


def _groups(labels: tuple[Label, ...], name: Callable[[Label], str]) -> list[tuple[Label, NDArray[np.int64]]]:
    names = [name(each) for each in labels]
    return [
        (labels[names.index(one)], np.flatnonzero(np.array(names) == one)) for one in dict.fromkeys(names)
    ]


def _threshold(groups: int) -> float:
    """|z| that one of so many groups exceeds by chance with the probability of a false alarm [1]."""
    return NormalDist().inv_cdf(1.0 - FALSE_ALARMS / (2.0 * max(1, groups)))


def _since(runs: list[_Run]) -> tuple[str, Disagreement] | None:
    """A step of all fans from a date on; the date and the finding."""
    best: tuple[str, Disagreement] | None = None
    days = sorted({each.day for each in runs})
    for day in days[1:]:
        before, after = ([each for each in runs if (each.day >= day) is late] for late in (False, True))
        if min(len({each.fan for each in side}) for side in (before, after)) < LEAST_FANS:
            continue
        (one, u_one), (two, u_two) = (_mean_of_fans(side) for side in (before, after))
        u = float(np.hypot(u_one, u_two))
        z = (two - one) / u
        if best is None or abs(z) > abs(best[1].z):
            points = tuple(i for each in after for i in each.points)
            best = day, Disagreement(Against.HEAT_RIG, f"from {day}", two - one, u, z, points)
    if best is None or abs(best[1].z) < _threshold(len(days) - 1) or abs(best[1].shift) < LEAST_SHIFT:
        return None
    return best


def _mean_of_fans(runs: list[_Run]) -> tuple[float, float]:
    """Mean over fans and its u; of fans far off, no more than a median lets through."""
    fans = sorted({each.fan for each in runs})
    off: Array = np.array([np.mean([each.off for each in runs if each.fan == fan]) for fan in fans])
    u = np.array(
        [np.mean([np.hypot(each.u, each.u_fan) for each in runs if each.fan == fan]) for fan in fans]
    )
    middle = float(np.median(off))
    near = np.abs(off - middle) <= 3.0 * u
    weights = np.where(near, u**-2.0, 0.0)
    return float(np.average(off, weights=weights)), float(weights.sum() ** -0.5)


def _odd_runs(runs: list[_Run], groups: int) -> list[Disagreement]:
    """The one heat mounting of a fan that lies off from two or more others that agree; of two that contradict each
    other, the one that the law speaks against as well.
    """
    if len(runs) == 2:
        return _odd_of_two(runs, groups)
    if len(runs) < 3:
        return []
    middle = float(np.median([each.off for each in runs]))
    worst = max(runs, key=lambda each: abs(each.off - middle))
    others = [each for each in runs if each is not worst]
    mean = float(np.mean([each.off for each in others]))
    u = float(np.hypot(worst.u, np.sqrt(np.sum([each.u**2 for each in others])) / len(others)))
    shift = worst.off - mean
    if abs(shift) < LEAST_SHIFT or abs(shift) / u < _threshold(groups):
        return []
    return [Disagreement(Against.HEAT_RUN, worst.heat, shift, u, shift / u, worst.points)]


def _odd_of_two(runs: list[_Run], groups: int) -> list[Disagreement]:
    other, worst = sorted(runs, key=lambda each: abs(each.off))
    shift, u = worst.off - other.off, float(np.hypot(worst.u, other.u))
    away, near = (each.off / float(np.hypot(each.u, each.u_fan)) for each in (worst, other))
    if (
        abs(shift) < LEAST_SHIFT
        or abs(shift) / u < _threshold(groups)
        or abs(away) < TOLD
        or abs(near) > TOLD
    ):
        return []
    return [Disagreement(Against.HEAT_RUN, worst.heat, shift, u, shift / u, worst.points)]


def _odd_fan(runs: list[_Run], fans: int, collapsing: Mapping[str, bool]) -> Disagreement | None:
    """A fan that is off in all its heat mountings that agree with each other."""
    if not runs:
        return None
    shift = float(np.mean([each.off for each in runs]))
    by_runs = float(np.sqrt(np.sum([each.u**2 for each in runs]))) / len(runs)
    u = float(np.hypot(by_runs, np.mean([each.u_fan for each in runs])))
    if abs(shift) < LEAST_SHIFT or abs(shift) / u < _threshold(fans):
        return None
    points = tuple(i for each in runs for i in each.points)
    if len(runs) == 1:
        sound = collapsing.get(runs[0].fan)
        against = Against.HEAT_RUN if sound else Against.AIRFLOW if sound is False else Against.EITHER
        return Disagreement(against, runs[0].heat, shift, u, shift / u, points)
    return Disagreement(_of_fan(collapsing.get(runs[0].fan)), runs[0].fan, shift, u, shift / u, points)


def _of_fan(collapsing: bool | None) -> Against:
    if collapsing is None:
        return Against.EITHER
    return Against.HEAT_RIG if collapsing else Against.AIRFLOW
