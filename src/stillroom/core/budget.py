"""The linear uncertainty budget: first-order propagation with contributions by source (JCGM 100).

Source: JCGM 100:2008 (GUM with minor corrections), clauses 5 and annex G.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
import scipy
from numpy.typing import ArrayLike

from stillroom.core.arrays import Array
from stillroom.errors import NotPossible, OutOfRange

Correlations = Mapping[tuple[str, str], float]
"""Correlation coefficients [1] by pairs of sources; a pair that is not named is uncorrelated."""


@dataclass(frozen=True)
class Input:
    """One input of a measurement.

    Parameters
    ----------
    value : estimate, any unit, scalar or one for each point.
    u : its standard uncertainty, same unit; not below zero; broadcasts against `value`.
    dof : degrees of freedom of u (infinite if u is taken as known).
    """

    value: ArrayLike
    u: ArrayLike
    dof: float = np.inf


@dataclass(frozen=True)
class Budget:
    """A result with its uncertainty, split by source.

    Parameters
    ----------
    value : the result, any shape and unit.
    contributions : c_i u(x_i) of each source with its sign, same shape and unit.
    dof : degrees of freedom of each source.
    correlations : between sources.
    """

    value: Array
    contributions: Mapping[str, Array]
    dof: Mapping[str, float]
    correlations: Correlations = field(default_factory=dict)

    @property
    def u(self) -> Array:
        """Combined standard uncertainty, shape and unit of the value (JCGM 100, (10) and (16))."""
        return np.sqrt(covariance(self, self))

    @property
    def effective_dof(self) -> Array:
        """Effective degrees of freedom by Welch-Satterthwaite, shape of the value (JCGM 100, (G.2b)).

        Infinite where every contribution with finite degrees of freedom is zero.

        Raises
        ------
        NotPossible : a source with finite degrees of freedom is correlated with another one; the formula
            holds for independent sources only.
        """
        names = {name for pair, r in self.correlations.items() if r != 0.0 for name in pair}
        if bad := sorted(name for name in names if np.isfinite(self.dof[name])):
            raise NotPossible(
                "effective degrees of freedom",
                found=f"{', '.join(bad)} correlated and with finite degrees of freedom",
                expected="independent sources",
            )
        below = sum((each**4 / self.dof[name] for name, each in self.contributions.items()), np.zeros(()))
        with np.errstate(divide="ignore"):
            return np.where(below == 0.0, np.inf, self.u**4 / np.where(below == 0.0, 1.0, below))

    def coverage_factor(self, probability: float = 0.95) -> Array:
        """Coverage factor k from Student's t, shape of the value (JCGM 100, G.3 and G.4.1).

        Effective degrees of freedom are cut to whole ones, as in JCGM 100, H.1.6.

        Parameters
        ----------
        probability : coverage probability [1], strictly between 0 and 1.

        Raises
        ------
        OutOfRange : the probability; NotPossible : as for `effective_dof`.
        """
        if not 0.0 < probability < 1.0:
            raise OutOfRange("coverage probability", found=f"{probability}", expected="between 0 and 1")
        return np.asarray(
            scipy.special.stdtrit(np.floor(self.effective_dof + 1e-9), (1.0 + probability) / 2.0)
        )

    def expanded(self, probability: float = 0.95) -> Array:
        """Expanded uncertainty U = k u, shape and unit of the value; parameter and errors as for k."""
        return self.coverage_factor(probability) * self.u


def covariance(first: Budget, second: Budget) -> Array:
    """Covariance of two results from the sources that they share by name, and those correlated with them.

    Parameters
    ----------
    first, second : budgets whose values broadcast against each other.

    Returns
    -------
    u(y₁, y₂) in the product of their units; of a result with itself, its variance.

    Raises
    ------
    NotPossible : the two name different correlations for one pair of sources.

    Source: JCGM 100:2008, (13) and (16); for two results, JCGM 102 in its linear form.
    """
    both = {_ordered(pair): r for pair, r in first.correlations.items()}
    for pair, r in second.correlations.items():
        if both.setdefault(_ordered(pair), r) != r:
            raise NotPossible(f"covariance with {pair}", found="two correlations", expected="one")
    a, b = first.contributions, second.contributions
    zero = np.zeros(np.broadcast_shapes(first.value.shape, second.value.shape))
    total: Array = sum((a[name] * b[name] for name in a if name in b), zero)
    for (one, two), r in both.items():
        for left, right in ((one, two), (two, one)):
            if left in a and right in b:
                total = total + r * a[left] * b[right]
    return np.maximum(total, 0.0) if first is second else total


def linear_budget(
    function: Callable[[Mapping[str, Array]], Array],
    inputs: Mapping[str, Input],
    correlations: Correlations | None = None,
    *,
    stacked: bool = True,
) -> Budget:
    """The budget of a function of uncertain inputs, each moved by its own standard uncertainty.

    Parameters
    ----------
    function : {source: values} → result. With `stacked` it is called once: each source comes with an axis of
        rows in front, and so must the result: row 0 as read, then two rows for each source.
    inputs : the sources by name. Their shapes broadcast against each other.
    correlations : between the sources.
    stacked : False for a function that does not broadcast: it is then called row by row.

    Returns
    -------
    Budget.

    Limits
    ------
    First order; a function that is strongly curved within ± u, or whose limits lie within ± u, needs trials.

    Raises
    ------
    OutOfRange : a negative uncertainty, degrees of freedom below 1, an unknown name or an impossible matrix
        among the correlations. NotPossible : the function gives a result that is not finite.

    Source: JCGM 100:2008, 5.1.3, NOTE 2: Z_i = ½{f(x_i + u) - f(x_i - u)}.
    """
    links = dict(correlations or {})
    _check(inputs, links)
    rows = _rows(inputs)
    if stacked:
        out = np.asarray(function(rows), dtype=np.float64)
    else:
        count = 2 * len(inputs) + 1
        each_row = ({name: stack[i] for name, stack in rows.items()} for i in range(count))
        out = np.stack([np.asarray(function(row), dtype=np.float64) for row in each_row])
    if not np.isfinite(out).all():
        raise NotPossible("budget", found="a result that is not finite", expected="finite results")
    moved = (out[1::2] - out[2::2]) / 2.0  # 5.1.3, NOTE 2
    contributions = dict(zip(inputs, moved, strict=True))
    return Budget(out[0], contributions, {name: each.dof for name, each in inputs.items()}, links)


def _rows(inputs: Mapping[str, Input]) -> dict[str, Array]:
    """Every input with the axis of rows in front: as read, then each in turn up and down by its u."""
    shapes = {name: np.broadcast_shapes(np.shape(x.value), np.shape(x.u)) for name, x in inputs.items()}
    deepest = max(map(len, shapes.values()))
    rows: dict[str, Array] = {}
    for i, (name, each) in enumerate(inputs.items()):
        value = np.broadcast_to(np.asarray(each.value, dtype=np.float64), shapes[name])
        value = value.reshape((1,) * (deepest - value.ndim) + value.shape)
        stack = np.repeat(value[np.newaxis], 2 * len(inputs) + 1, axis=0)
        stack[2 * i + 1] += each.u
        stack[2 * i + 2] -= each.u
        rows[name] = stack
    return rows


def _ordered(pair: tuple[str, str]) -> tuple[str, str]:
    return (min(pair), max(pair))


def _check(inputs: Mapping[str, Input], links: Correlations) -> None:
    if not inputs:
        raise NotPossible("budget", found="no inputs", expected="one or more")
    for name, each in inputs.items():
        u = np.asarray(each.u, dtype=np.float64)
        if not (np.isfinite(u).all() and (u >= 0.0).all()):
            raise OutOfRange(f"uncertainty of {name!r}", found=f"{u.min():g}", expected="finite, not below 0")
        if not each.dof >= 1.0:
            raise OutOfRange(f"degrees of freedom of {name!r}", found=f"{each.dof:g}", expected="1 or more")
    order = {name: i for i, name in enumerate(inputs)}
    matrix = np.eye(len(inputs))
    for pair, r in links.items():
        if pair[0] == pair[1] or not set(pair) <= set(order):
            raise OutOfRange(
                f"correlation of {pair}", found="that pair", expected="two of " + ", ".join(order)
            )
        matrix[order[pair[0]], order[pair[1]]] = matrix[order[pair[1]], order[pair[0]]] = r
    if links and not np.linalg.eigvalsh(matrix).min() > -1e-9:
        raise OutOfRange("correlations", found="a matrix that no errors can have", expected="a possible one")
