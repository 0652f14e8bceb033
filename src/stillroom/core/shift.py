"""Bridging the eras of a rig by a difference: of levels in dB, of temperature differences in K.

As `core/bridging`, but what a change of the rig adds is the same for all fans in the unit of the values: a
microphone’s place moves all levels by as many dB, a loop’s thermal resistance all temperature differences at one
power by as many K.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import scipy

from stillroom.core.arrays import Array
from stillroom.core.bridging import connected, era_parts
from stillroom.errors import BadInput

VERSION = 1
"""Raised when the same runs would give another difference."""

NORMAL_95 = 1.959963984540054


@dataclass(frozen=True)
class ShiftRun:
    """One mounting as it serves a bridge.

    Parameters
    ----------
    sample, era, mounting : of which sample, in which era, its name.
    value : at a speed that all runs of its sample have in common. u : standard uncertainty by readings alone.
    loadings : {shared source: change of the value by one standard deviation of it}; all in the unit of the value.
    """

    sample: str
    era: int
    mounting: str
    value: float
    u: float
    loadings: Mapping[str, float]


@dataclass(frozen=True)
class Shift:
    """What is added to values of one era to bring them to the target era.

    Parameters
    ----------
    identity : of the bridge’s own error, shared by all values that it brings over.
    change : what is added. u, dof : its standard uncertainty by mountings and readings, and degrees of freedom.
    loadings : {shared source: change of the difference by one standard deviation of it}.
    before, after, samples : mountings of the era and of the target era that it rests on, and their samples.
    agree : whether the samples’ differences agree within the spread of mountings.
    """

    identity: str
    change: float
    u: float
    dof: float
    loadings: Mapping[str, float]
    before: tuple[str, ...]
    after: tuple[str, ...]
    samples: tuple[str, ...]
    agree: bool

    @property
    def reach(self) -> float:
        """Half-width of the 95 % interval of the difference by mountings and readings."""
        return float(scipy.special.stdtrit(self.dof, 0.975)) * self.u

    @property
    def interval(self) -> tuple[float, float]:
        """The 95 % interval of the difference."""
        return self.change - self.reach, self.change + self.reach

    def carry(
        self, central: Array, sources: tuple[str, ...], effects: Array
    ) -> tuple[Array, tuple[str, ...], Array]:
        """A curve as the target era would have read it.

        Its own error goes by a normal draw, as wide as Student’s t makes its 95 % interval.

        Parameters
        ----------
        central : (g,). sources : k identities. effects : change by one standard deviation of each, (k, g).

        Returns
        -------
        The same three, moved, with the sources of the bridge among them.
        """
        moved = {name: np.array(row, dtype=np.float64) for name, row in zip(sources, effects, strict=True)}
        added = {**self.loadings, self.identity: self.reach / NORMAL_95}
        for name, loading in added.items():
            moved[name] = moved.get(name, np.zeros_like(central)) + loading
        return central + self.change, tuple(moved), np.array(list(moved.values()))


def shifts_to(target: int, runs: Sequence[ShiftRun], mounting_sd: float, name: str) -> dict[int, Shift]:
    """The bridges to a target era from every era that samples in common lead to, {era: bridge}.

    Parameters
    ----------
    target : the era to which values are brought.
    runs : mountings, of any samples and eras.
    mounting_sd : spread between mountings as the lab knows it, in the unit of the values.
    name : of the rig and the measure; with the eras it is the identity of the bridge’s error.

    Raises
    ------
    BadInput : a spread that is not above zero.
    """
    if not mounting_sd > 0.0:
        raise BadInput(f"bridge of {name}", found="a spread of 0 or less", expected="above 0")
    used = connected(target, runs)
    found = era_parts(target, used, np.array([each.value for each in used]), mounting_sd)
    spread = np.maximum(found.variance, [each.u**2 for each in used])
    return {
        era: Shift(
            identity=f"bridge/{name}/{era}>{target}",
            change=change,
            u=float(np.sqrt(np.square(weights) @ spread)),
            dof=found.dof,
            loadings=_loadings(weights, used),
            before=tuple(each.mounting for each in used if each.era == era),
            after=tuple(each.mounting for each in used if each.era == target),
            samples=tuple(sorted({each.sample for each in used})),
            agree=found.agree,
        )
        for era, (weights, change) in found.parts.items()
    }


def _loadings(weights: Array, runs: Sequence[ShiftRun]) -> dict[str, float]:
    """What one standard deviation of each shared source moves the difference by."""
    loadings: dict[str, float] = {}
    for weight, each in zip(weights, runs, strict=True):
        for source, loading in each.loadings.items():
            loadings[source] = loadings.get(source, 0.0) + float(weight) * loading
    return loadings
