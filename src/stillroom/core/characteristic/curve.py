"""The characteristic of one mounting: one curve ψ(φ) for all its speeds, with its errors kept by kind."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.characteristic.basis import Basis
from stillroom.core.draws import normal_draws
from stillroom.errors import UnknownThing

REYNOLDS_PARAMETERS = 2


class Part(Enum):
    """Which errors the trials of a characteristic carry."""

    TOTAL = "total"
    SHARED = "shared"
    CENTRAL = "central"


@dataclass(frozen=True)
class Estimate:
    """A value, its standard deviation, and their quotient t."""

    value: float
    sd: float

    @property
    def t(self) -> float:
        """Value over standard deviation [1]."""
        return self.value / self.sd


@dataclass(frozen=True)
class HeldPoint:
    """A point that the other sweeps contradict and that no curve was fitted to.

    Parameters
    ----------
    index : its place in the readings. sweep : its sweep.
    pressure_ratio : read ψ over the ψ that the others predict at its φ; None where they predict none.
    flow_ratio : read φ over the φ at which the others have its ψ; None where there is no such φ or several.
    """

    index: int
    sweep: int
    pressure_ratio: float | None
    flow_ratio: float | None


@dataclass(frozen=True)
class SweepCheck:
    """How one sweep agrees with the curve of all.

    Parameters
    ----------
    sweep : its number. points : how many points it has.
    collapse : root mean square of its residuals, relative to ψ, or to a tenth of the
        largest ψ where ψ is less [1].
    pressure_offset : relative offset of its pressures [1].
    speed_drift : relative change of the true speed from its first to its last reading that the speed read
        does not show [1].
    flow_offset : relative offset of its flows [1].
    pressure_zero : shift of its ψ, the same at each point [1].
    pressure_scale, flow_scale : the factors on ψ and φ that bring the common curve onto this sweep, fitted
        together; they name a wrong unit. None where the sweep has too few points for it.
    dropped : whether the sweep was left out of the fit, because it contradicts the others.
    """

    sweep: int
    points: int
    collapse: float
    pressure_offset: Estimate
    speed_drift: Estimate
    flow_offset: Estimate
    pressure_zero: Estimate
    pressure_scale: Estimate | None
    flow_scale: Estimate | None
    dropped: bool

    @property
    def worst(self) -> tuple[str, Estimate]:
        """The test that this sweep fails most clearly, by name."""
        tests = ("pressure_offset", "speed_drift", "flow_offset", "pressure_zero")
        name = max(tests, key=lambda each: abs(getattr(self, each).t))
        found: Estimate = getattr(self, name)
        return name, found


@dataclass(frozen=True)
class Characteristic:
    """ψ = s^c_p · f(φ s^−c_q), s = Re/Re_ref, with f a cubic B-spline of K coefficients.

    Pressure and flow both grow with a small power of the Reynolds number. Coefficients stand in one vector:
    the K of the spline, then c_p and c_q. Errors are kept apart by kind, so that a mean over mountings can take
    the shared part once: total = central + shared + noise.

    Parameters
    ----------
    identity : of the mounting.
    sources : identities of the shared sources, k of them.
    seed : seed of the draws.
    reach : least and greatest φ that was read and used [1].
    reynolds_reach : least and greatest Reynolds number of the points used [1].
    low, high : ends of the spline in φ [1].
    reynolds_reference : Re_ref.
    central : central coefficients, shape (K + 2,).
    effects : how +1 standard deviation of each shared source moves them, shape (k, K + 2).
    noise : trials of what is the mounting's own (reading errors, the curve between the points), (M, K + 2).
    sweeps : one check per sweep.
    held : the points that were held.
    residuals : ψ read less ψ of the curve at the φ read, for all points, shape (n,) [1].
    extra_scatter : scatter beyond the own errors, relative to ψ, for all points, shape (n,) [1].
    """

    identity: str
    sources: tuple[str, ...]
    seed: int
    reach: tuple[float, float]
    reynolds_reach: tuple[float, float]
    low: float
    high: float
    reynolds_reference: float
    central: Array
    effects: Array
    noise: Array
    sweeps: tuple[SweepCheck, ...]
    held: tuple[HeldPoint, ...]
    residuals: Array
    extra_scatter: Array

    @property
    def basis(self) -> Basis:
        """The B-spline basis of f."""
        return Basis(self.low, self.high, len(self.central) - REYNOLDS_PARAMETERS - 3)

    @property
    def knots(self) -> Array:
        """The knots of f, three beyond each end."""
        return self.basis.knots

    @property
    def trials(self) -> int:
        """Number of trials M."""
        return len(self.noise)

    @property
    def shared(self) -> Array:
        """Trials of the shared part, shape (M, K + 2): the draws of each source times its effect."""
        trials = np.zeros_like(self.noise)
        for source, effect in zip(self.sources, self.effects, strict=True):
            trials += np.multiply.outer(normal_draws(source, self.trials, self.seed), effect)
        return trials

    def rows(self, part: Part = Part.TOTAL, sources: tuple[str, ...] | None = None) -> Array:
        """Coefficients as a row stack: central, central moved by each source, then the trials.

        Parameters
        ----------
        part : which errors the trials carry; with `Part.CENTRAL` there is the central row alone.
        sources : the sources that the rows 1 … k stand for, in this order (this curve's own where None). A
            source that this curve doesn't know leaves the central row unmoved.

        Raises
        ------
        UnknownThing : `sources` leaves out one of this curve's own.
        """
        if part is Part.CENTRAL:
            return self.central[None, :]
        moved = self.central + align(self.effects, self.sources, sources)
        trials = self.central + self.shared
        if part is Part.TOTAL:
            trials += self.noise
        return np.concatenate([self.central[None, :], moved, trials])


def align(effects: Array, own: tuple[str, ...], wanted: tuple[str, ...] | None) -> Array:
    """Effects by source in another order of sources, zero for those that are not one's own, (k, …)."""
    if wanted is None or wanted == own:
        return effects
    missing = set(own) - set(wanted)
    if missing:
        raise UnknownThing(
            "shared source", found=f"no place for {sorted(missing)[0]}", expected="all sources"
        )
    aligned = np.zeros((len(wanted), *effects.shape[1:]))
    for source, effect in zip(own, effects, strict=True):
        aligned[wanted.index(source)] = effect
    return aligned


def reynolds_lack(reynolds: Array | float, reference: float) -> Array:
    """r = ln(Re_ref/Re): positive where the Reynolds number falls short of the reference."""
    return np.asarray(np.log(reference / np.asarray(reynolds, dtype=np.float64)))


def pressure_coefficients(
    characteristic: Characteristic,
    flow_coefficient: Array,
    reynolds: Array | float,
    *,
    part: Part = Part.TOTAL,
    sources: tuple[str, ...] | None = None,
) -> Array:
    """Pressure coefficients ψ of a characteristic as a row stack.

    Parameters
    ----------
    characteristic : a fitted curve.
    flow_coefficient : φ [1], shape (g,).
    reynolds : Reynolds number [1], one for all or shape (g,).
    part : which errors the trials carry.
    sources : order of the shared sources in the rows; see `Characteristic.rows`.

    Returns
    -------
    Array (1 + k + M, g), or (1, g) for `Part.CENTRAL`: central, central moved by +1 standard deviation of
    each source, trials.

    Limits
    ------
    Beyond the spline the curve goes on as its tangent; outside `reach` and `reynolds_reach` it is a guess
    with an interval, and the caller says so.
    """
    rows = characteristic.rows(part, sources)
    pressure, flow = rows[:, -2:-1], rows[:, -1:]
    r = reynolds_lack(reynolds, characteristic.reynolds_reference)
    stretched = flow_coefficient * np.exp(characteristic.central[-1] * r)
    basis, coefficients = characteristic.basis, rows[:, :-REYNOLDS_PARAMETERS]
    curve: Array = coefficients @ basis.values(stretched).T
    if np.any(r != 0):
        slope = basis.slopes(stretched) @ coefficients[0]
        curve += (flow - flow[0]) * (slope * r * stretched)
        curve *= np.exp(-pressure * r)
    return curve


def collapsed(
    characteristic: Characteristic, flow_coefficient: Array, pressure_coefficient: Array, reynolds: Array
) -> tuple[Array, Array]:
    """Points of any sweep brought to the reference Reynolds number, as a collapse plot shows them.

    Parameters
    ----------
    characteristic : whose Reynolds effect is taken off.
    flow_coefficient, pressure_coefficient, reynolds : of the points [1], shape (n,).

    Returns
    -------
    (φ s^−c_q, ψ s^−c_p), s = Re/Re_ref: where the central curve at `reynolds_reference` would have them.
    """
    lack = reynolds_lack(reynolds, characteristic.reynolds_reference)
    by_pressure, by_flow = characteristic.central[-REYNOLDS_PARAMETERS:]
    return flow_coefficient * np.exp(by_flow * lack), pressure_coefficient * np.exp(by_pressure * lack)
