"""The curve of a settling series, for all time constants that its readings allow, each with its weight."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.heat.autocorrelation import MOST_CORRELATED, effective_number, first_order
from stillroom.core.heat.bins import MOST_LEFT_OUT, Binned, disturbed, middle
from stillroom.core.heat.separable import Basis, Profile, Readings, narrowed, normals, profile
from stillroom.errors import NotPossible

FASTER = (4.0, 8.0, 16.0)
"""How many times faster than the slow mode the other ones settle."""

FAST_SHARE = 0.2
"""Standard deviation of a fast mode's amplitude, over the slow one's."""

HEAD = 0.1
"""Time constants after the start that are not looked at: power and fan come on."""

LATE = 0.25
"""Share of a series that is left to the fast modes in the first look."""

PARAMETERS = 3
"""Parameters without a prior: end, amplitude, time constant."""

SHORT_SERIES = 3.5
"""A fit takes some of a short series' correlation away: about this times (1 + r)/n with such a curve, as tried on
simulated runs with r of 0 to 0.95."""

FEWEST_KEPT = 10
"""Fewer means than this that are not disturbed are not fitted."""

DISTURBED = "forecast of a disturbed series"
"""How an error names what can't be fitted because too much of it is disturbed."""

SEEN = 8.0
"""A change from begin to end of fewer standard deviations of a mean than this is none to be seen."""

NO_NOISE = 1e-18
"""Variance that any mean is given at least [K²]."""

LEAST_FREEDOM = 3.0
"""Degrees of freedom that a variance is given at least."""

ROUNDS = 4
"""How often curve, correlation and what is disturbed are told anew from one another."""

SAME_R, SAME_RASTER = 0.01, 0.1
"""Changes of the correlation, and of the raster over its width, after which another round brings nothing."""

FINE = np.linspace(-4.5, 5.5, 17)
"""Raster of ln τ about its middle, in its standard uncertainties."""

COARSE = np.geomspace(1.0 / 12.0, 2.0, FINE.size)
"""First raster of τ, over the length of the series."""

LATE_ONES = np.geomspace(0.55, 4.0, 13)
"""Raster of τ, over the length of the series, by which it is asked whether it is too early."""

LEAST_SPAN = 2.0
"""Time constants that a series has to last before its end can be told."""

MAY_BE_EARLY = 1.0
"""Weight that time constants of more than half the length may have, over that of those that were found [1]."""

AROUND = np.geomspace(0.5, 2.0, FINE.size)
"""Second raster of τ, over what the first look found."""


@dataclass(frozen=True)
class TimeConstant:
    """What is known of a rig's time constant before the run.

    Parameters
    ----------
    tau, u : time constant and its standard uncertainty [s].
    """

    tau: float
    u: float


@dataclass(frozen=True)
class SettlingFit:
    """Curves for several time constants.

    Parameters
    ----------
    profile : their linear parameters: end, slow mode, fast modes [K].
    weights : of each time constant, sum 1, shape (T,).
    square : variance of a mean about the curve [K²]. r : correlation between neighbours.
    freedom : degrees of freedom of that variance. left_out : share of the means that was left out as disturbed.
    """

    profile: Profile
    weights: Array
    square: float
    r: float
    freedom: float
    left_out: float

    @property
    def tau(self) -> float:
        """The time constant, its middle on a scale of logarithms [s]."""
        return float(np.exp(self.weights @ np.log(self.profile.taus)))

    def covariance(self) -> Array:
        """Of end [K], slow amplitude [K] and ln τ, shape (3, 3)."""
        each = np.column_stack([self.profile.linear[:, :2], np.log(self.profile.taus)])
        off = each - self.weights @ each
        between = (off * self.weights[:, None]).T @ off
        between[:2, :2] += self.square * np.einsum("t,tij->ij", self.weights, self.profile.inverse[:, :2, :2])
        out: Array = between
        return out


def fitted(means: Binned, first: float, last: float, known: TimeConstant | None) -> SettlingFit:
    """Fit a series that began at a first moment and lasted to a last one [s].

    Raises
    ------
    NotPossible : no rise or fall to be seen; more than a quarter disturbed; a series that may be shorter than two time
    constants.
    """
    begun = _first_look(means, first, last)
    change = middle(means.values[:3]) - middle(means.values[-3:])
    if abs(change) < SEEN * math.sqrt(begun.square) or begun.amplitude == 0.0:
        raise NotPossible("forecast", found="no rise or fall to be seen", expected="a series that settles")
    kept = whole = means.only(means.times - first >= HEAD * begun.tau)
    basis, r, square, amplitude = modes(first, len(FASTER)), begun.r, begun.square, begun.amplitude
    taus = begun.tau * AROUND
    for _ in range(ROUNDS):
        ridge = np.array([0.0, 0.0, *[square / (FAST_SHARE * amplitude) ** 2] * len(FASTER)])
        found = profile(basis, Readings(kept.times, kept.values, kept.spans, r), taus, ridge)
        best = found.best
        amplitude = float(found.linear[best, 1])
        square = max(float(found.squares[best]) / (kept.times.size - PARAMETERS), NO_NOISE)
        weights = _weights(found, known, ridge[2:])
        used, used_r, logs = kept, r, np.log(taus[[0, -1]])
        kept, r = _calm(kept, found.left(best), whole.times.size)
        taus = _finer(taus, weights)
        moved = np.abs(np.log(taus[[0, -1]]) - logs).max()
        if kept is used and abs(r - used_r) < SAME_R and moved < SAME_RASTER * (logs[1] - logs[0]):
            break
    logs = _log_weights(found, known, ridge[2:])
    told = float(np.logaddexp.reduce(logs)) + math.log(math.log(found.taus[1] / found.taus[0]))
    _refuse_early(used, used_r, square, (first, last), known, told)
    freedom = max(effective_number(used.times.size, used_r) - PARAMETERS, LEAST_FREEDOM)
    return SettlingFit(found, weights, square, used_r, freedom, 1.0 - used.times.size / whole.times.size)


def _refuse_early(
    means: Binned,
    r: float,
    square: float,
    length: tuple[float, float],
    known: TimeConstant | None,
    told: float,
) -> None:
    """Refuse a series in which what settled may be a fast mode, while the slow one has only begun.

    Time constants of half the length to four times the length are asked, each with fast modes in proportion to its own
    slow one; `told` is the logarithm of what those that were found have of weight.

    Raises
    ------
    NotPossible : time constants of more than half the length have more weight than those that were found.
    """
    first, last = length
    taus = (last - first) * LATE_ONES
    basis, ridge = modes(first, len(FASTER)), np.zeros((taus.size, 2 + len(FASTER)))
    ridge[:, 2:] = square / (FAST_SHARE * float(np.ptp(means.values))) ** 2
    equations = normals(basis, Readings(means.times, means.values, means.spans, r), taus)
    for _ in range(2):
        found = equations.solved(ridge)
        slow = np.maximum(np.abs(found.linear[:, 1]), math.sqrt(square))
        ridge[:, 2:] = (square / (FAST_SHARE * slow) ** 2)[:, None]
    found = equations.solved(ridge)
    logs = _log_weights(found, known, ridge[:, 2:])
    late = float(np.logaddexp.reduce(logs)) + math.log(math.log(taus[1] / taus[0]))
    if late - told > math.log(MAY_BE_EARLY):
        tau = float(taus[np.argmax(logs)])
        raise NotPossible(
            "forecast",
            found=f"a series that may be only {(last - first) / tau:.1f} time constants long",
            expected=f"at least {LEAST_SPAN:g} time constants",
        )


def modes(first: float, faster: int) -> Basis:
    """Columns of the end, the slow mode, and some of the faster ones, of a series that began at a moment [s]."""

    def columns(times: Array, taus: Array) -> Array:
        slow = np.exp((first - times) / taus[:, None])
        out = np.empty((*slow.shape, 2 + faster))
        out[..., 0], out[..., 1] = 1.0, slow
        mode = np.square(slow)
        for which in range(faster):  # squared again and again: 4, 8, 16 times as fast
            mode = np.square(mode)
            out[..., 2 + which] = mode
        return out

    return columns


@dataclass(frozen=True)
class _Begun:
    """What a first look tells: time constant [s], correlation, variance [K²] and slow amplitude [K]."""

    tau: float
    r: float
    square: float
    amplitude: float


def _first_look(means: Binned, first: float, last: float) -> _Begun:
    """One exponential through the later part, where faster modes have gone."""
    kept = late = means.only(means.times - first >= LATE * (last - first))
    taus = (last - first) * COARSE
    for _ in range(2):
        readings = Readings(kept.times, kept.values, kept.spans)
        found = narrowed(modes(first, 0), readings, taus, np.zeros(2), 1)
        best = found.best
        square = max(float(found.squares[best]) / (kept.times.size - PARAMETERS), NO_NOISE)
        used = kept
        kept, r = _calm(kept, found.left(best), late.times.size)
        if kept is used:
            break
    return _Begun(float(found.taus[best]), r, square, float(found.linear[best, 1]))


def _calm(kept: Binned, left: Array, of: int) -> tuple[Binned, float]:
    """The means that are not disturbed, and the correlation between neighbours of them.

    Raises
    ------
    NotPossible : more than a quarter of the series (of so many means) is disturbed.
    """
    calm = ~disturbed(left)
    still = kept if calm.all() else kept.only(calm)
    if still.times.size < max(FEWEST_KEPT, (1.0 - MOST_LEFT_OUT) * of):
        raise NotPossible(
            DISTURBED,
            found=f"{of - still.times.size} of {of} means off any curve that settles",
            expected="a series of which at least three quarters are undisturbed",
        )
    r = first_order(still.raster(left[calm]))
    return still, min(r + SHORT_SERIES * (1.0 + r) / still.times.size, MOST_CORRELATED)


def _log_weights(found: Profile, known: TimeConstant | None, ridge: Array) -> Array:
    """Logarithm of how likely each time constant is, with what is known of it, whatever the noise.

    Parameters
    ----------
    ridge : weights of the fast modes' priors, shape (3,) or (T, 3).
    """
    freedom = max(found.values.size - PARAMETERS - len(FASTER), 1)
    squares = np.maximum(found.squares, NO_NOISE * freedom)
    logs = -0.5 * (freedom * np.log(squares) + found.log_determinant - np.log(ridge).sum(axis=-1))
    if known is not None:
        logs = logs - 0.5 * np.square((found.taus - known.tau) / known.u)
    out: Array = logs
    return out


def _weights(found: Profile, known: TimeConstant | None, ridge: Array) -> Array:
    """How likely each time constant is; sum 1."""
    logs = _log_weights(found, known, ridge)
    weights = np.exp(logs - logs.max())
    out: Array = weights / weights.sum()
    return out


def _finer(taus: Array, weights: Array) -> Array:
    """A raster about the likely time constants, as wide as they are."""
    logs = np.log(taus)
    middle = float(weights @ logs)
    spread = float(np.sqrt(weights @ np.square(logs - middle)))
    out: Array = np.exp(middle + max(spread, 0.35 * float(logs[1] - logs[0])) * FINE)
    return out
