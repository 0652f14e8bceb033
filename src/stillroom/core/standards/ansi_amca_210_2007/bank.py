"""Flow through a bank of nozzles after ANSI/AMCA 210-07 (ANSI/ASHRAE 51-07), section 7.

Shapes. Readings share one shape, usually (points,), (rows, points) or (points, trials). What belongs to a
nozzle has an axis of nozzles before it: `bore[i]` and `open_[i]` must broadcast against the readings. So
with readings of (rows, points), bores are (k,) or, moved row by row, (k, rows, 1); `open_` is (k, points).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from stillroom.core.arrays import Array
from stillroom.core.polynomial import polynomial
from stillroom.core.standards.ansi_amca_210_2007.nozzles import (
    NOZZLE_PRESSURE,
    REYNOLDS,
    REYNOLDS_USED,
    LengthRatio,
    coefficient_uncertainty,
    expansibility,
)
from stillroom.core.standards.limits import (
    Flag,
    Flags,
    require_finite,
    require_not_negative,
    require_positive,
)
from stillroom.errors import OutOfRange


@dataclass(frozen=True)
class NozzleFlow:
    """What a bank of k nozzles passes.

    Parameters
    ----------
    flow : Q₅ at the density before the nozzles [m³/s], shape of the readings.
    reynolds : Re of each nozzle [1], shape (k, readings …); 0 in a closed nozzle.
    coefficient : C of each nozzle [1], same shape; NaN, and marked so in `flags`, where the nozzle is closed
        or nothing flows.
    flags : `Flag` of each nozzle, same shape.
    """

    flow: Array
    reynolds: Array
    coefficient: Array
    flags: Flags


def nozzle_bank_flow(
    nozzle_pressure: ArrayLike,
    upstream_pressure: ArrayLike,
    density: ArrayLike,
    viscosity: ArrayLike,
    bore: ArrayLike,
    open_: ArrayLike,
    length_ratio: LengthRatio | Sequence[LengthRatio],
    *,
    coefficient_shift: ArrayLike = 0.0,
    signed: bool = False,
) -> NozzleFlow:
    """Flow through the open nozzles of a bank, with the Reynolds number and coefficient of each.

    Parameters
    ----------
    nozzle_pressure : Δp over the bank [Pa].
    upstream_pressure : absolute pressure before the nozzles p₅ [Pa].
    density : air density before the nozzles ρ₅ [kg/m³].
    viscosity : dynamic viscosity there μ₅ [Pa s].
        These four broadcast against each other to the shape of the readings.
    bore : throat diameters [m], (k, …), see the shapes at the head of this file.
    open_ : which nozzles are open, (k, …) booleans. With none open the flow is 0 and Δp is not looked at.
    length_ratio : L/D, one for all nozzles or one for each.
    coefficient_shift : error of the discharge coefficients in standard uncertainties [1], shared by all
        nozzles (one formula); broadcasts against the readings.
    signed : for trials. A draw may take a small Δp below zero: with True it then passes the same flow
        backwards, with False (readings) it raises.

    Returns
    -------
    NozzleFlow.

    Limits
    ------
    `LIMITS`; results outside carry flags.

    Raises
    ------
    OutOfRange : an impossible input, also a negative Δp over an open nozzle unless `signed`.

    Source: ANSI/AMCA 210-07, equations 7.14 and 7.18 to 7.22; C is solved for, not stepped towards.
    """
    bank = _Bank.of(
        nozzle_pressure,
        upstream_pressure,
        density,
        viscosity,
        bore,
        open_,
        length_ratio,
        coefficient_shift,
        signed,
    )
    shape = (len(bank.bores), *bank.shape)
    reynolds, coefficient, flow = np.zeros(shape), np.full(shape, np.nan), np.zeros(bank.shape)
    flags = np.zeros(shape, dtype=np.uint16)
    for i in range(len(bank.bores)):
        C, Re = bank.coefficient(i)
        opened = np.broadcast_to(bank.opened[i], bank.shape)
        passing = opened & (bank.pressure != 0.0)
        reynolds[i] = np.where(passing, Re, 0.0)
        coefficient[i] = np.where(passing, C, np.nan)
        flow += np.where(passing, bank.flow_of(i, C, Re), 0.0)
        marks = REYNOLDS.flags(Re) | REYNOLDS_USED.flags(Re) | NOZZLE_PRESSURE.flags(bank.pressure)
        flags[i] = np.where(
            passing, marks, np.where(opened, Flag.NO_FLOW | Flag.NOZZLE_PRESSURE_LOW, Flag.NOZZLE_CLOSED)
        )
    return NozzleFlow(flow, reynolds, coefficient, flags)


def nozzle_bank_rate(
    nozzle_pressure: ArrayLike,
    upstream_pressure: ArrayLike,
    density: ArrayLike,
    viscosity: ArrayLike,
    bore: ArrayLike,
    open_: ArrayLike,
    length_ratio: LengthRatio | Sequence[LengthRatio],
    *,
    coefficient_shift: ArrayLike = 0.0,
) -> Array:
    """The flow of `nozzle_bank_flow(…, signed=True)` alone: for trials, where nobody looks at each nozzle.

    Parameters
    ----------
    nozzle_pressure, upstream_pressure, density, viscosity, bore, open_, length_ratio, coefficient_shift : as
        there, with the same shapes and errors.

    Returns
    -------
    Q₅ at the density before the nozzles [m³/s], shape of the readings.

    Source: ANSI/AMCA 210-07, equations 7.14 and 7.18 to 7.22.
    """
    bank = _Bank.of(
        nozzle_pressure,
        upstream_pressure,
        density,
        viscosity,
        bore,
        open_,
        length_ratio,
        coefficient_shift,
        True,
    )
    flow = np.zeros(bank.shape)
    for i in range(len(bank.bores)):
        if bank.opened[i].any():
            C, Re = bank.coefficient(i)
            part = bank.flow_of(i, C, Re)
            flow += part if bank.opened[i].all() else np.where(bank.opened[i], part, 0.0)
    return flow


def flow_at_density(flow: ArrayLike, density: ArrayLike, other_density: ArrayLike) -> Array:
    """The same mass flow as a volume flow at another density, such as that at the fan inlet: Q = Q₅ ρ₅/ρ₁.

    Parameters
    ----------
    flow : volume flow Q₅ [m³/s].
    density : density at which it is given ρ₅ [kg/m³].
    other_density : density at which it is wanted ρ₁ [kg/m³].
        All broadcast against each other.

    Returns
    -------
    Q₁ [m³/s], of the broadcast shape.

    Raises
    ------
    OutOfRange : a density is not above zero.

    Source: ANSI/AMCA 210-07, 7.3, as transcribed in public implementations.
    """
    rho_5 = require_positive("density", density, "kg/m³")
    rho_1 = require_positive("density", other_density, "kg/m³")
    return np.asarray(flow, dtype=np.float64) * (rho_5 / rho_1)


@dataclass(frozen=True)
class _Bank:
    """Checked readings of a bank, and what is the same for all its nozzles."""

    shape: tuple[int, ...]  # of the readings
    pressure: Array  # Δp, 0 where no nozzle is open
    velocity: Array  # Y √(2Δp/ρ₅) [m/s], with the sign of Δp
    reach: Array  # Re/(C d) = Y √(2Δp ρ₅)/μ₅ [1/m]
    bores: Array
    opened: NDArray[np.bool_]
    ratios: tuple[LengthRatio, ...]
    shift: Array  # of the coefficients, in standard uncertainties

    @classmethod
    def of(
        cls,
        nozzle_pressure: ArrayLike,
        upstream_pressure: ArrayLike,
        density: ArrayLike,
        viscosity: ArrayLike,
        bore: ArrayLike,
        open_: ArrayLike,
        length_ratio: LengthRatio | Sequence[LengthRatio],
        coefficient_shift: ArrayLike,
        signed: bool,
    ) -> _Bank:
        bores = require_positive("nozzle bore", bore, "m")
        opened = np.asarray(open_, dtype=np.bool_)
        ratios = (
            (length_ratio,) * len(bores) if isinstance(length_ratio, LengthRatio) else tuple(length_ratio)
        )
        if not len(bores) == len(opened) == len(ratios):
            raise OutOfRange(
                "nozzle bank",
                found=f"{len(bores)} bores, {len(opened)} open or closed, {len(ratios)} length ratios",
                expected="one of each for every nozzle",
            )
        p_5, rho, mu = np.asarray(upstream_pressure), np.asarray(density), np.asarray(viscosity)
        dp = np.asarray(nozzle_pressure, dtype=np.float64)
        looked_at = opened.any(axis=0)
        if not looked_at.all():
            dp = np.where(looked_at, dp, 0.0)
        check = require_finite if signed else require_not_negative
        check("nozzle differential pressure", dp, "Pa")
        require_positive("air density before the nozzles", rho, "kg/m³")
        require_positive("viscosity of the air", mu, "Pa s")
        speed = expansibility(dp, p_5) * np.sqrt(2.0 * np.abs(dp) / rho)  # of 7.18 and 7.22, without C
        shift = require_finite("shift of the coefficients", coefficient_shift)
        shape = np.broadcast_shapes(speed.shape, mu.shape, shift.shape, bores[0].shape, opened[0].shape)
        return cls(shape, dp, np.copysign(speed, dp), speed * (rho / mu), bores, opened, ratios, shift)

    def coefficient(self, i: int) -> tuple[Array, Array]:
        """C and Re of nozzle i, as if it were open."""
        return solve_coefficient(self.bores[i] * self.reach, self.ratios[i])

    def flow_of(self, i: int, C: Array, Re: Array) -> Array:
        """The part of the flow that nozzle i passes, as if it were open [m³/s]."""
        area = np.pi / 4.0 * self.bores[i] ** 2
        factor = self.shift * coefficient_uncertainty(Re)
        factor += 1.0
        factor *= C
        flow: Array = factor * area
        flow *= self.velocity
        return flow  # 7.22


def solve_coefficient(ideal_reynolds: ArrayLike, length_ratio: LengthRatio) -> tuple[Array, Array]:
    """Discharge coefficient where the flow, and so the Reynolds number, is not known yet.

    Solves Re = K C(Re) for x = 1/√Re: from the first terms of its series in 1/√K, then by Newton's rule.

    Parameters
    ----------
    ideal_reynolds : K = d Y √(2Δp ρ)/μ, the Reynolds number with C = 1 [1], any shape, not below zero.
    length_ratio : L/D of the nozzle.

    Returns
    -------
    (C, Re) [1], both of the shape of K; C is within 1e-11 of the exact solution, for every K.

    Source: ANSI/AMCA 210-07, equations 7.18 to 7.20.
    """
    a, b, c = length_ratio.value
    K = np.asarray(ideal_reynolds, dtype=np.float64)
    lowest = a - b * b / (4.0 * c)  # C where the printed equation turns upwards; held below
    turning = length_ratio.turning_reynolds / lowest
    smallest = float(K.min()) if K.size else turning
    k = K if smallest >= turning else np.maximum(K, turning)
    y = 1.0 / np.sqrt(a * k)
    B, G = b / a, c / a
    fourth = 7.0 * (33.0 * B**4 - 72.0 * B * B * G + 16.0 * G * G) / 128.0
    x = polynomial(y, fourth, B * (B * B - 1.5 * G), 0.625 * B * B - 0.5 * G, 0.5 * B, 1.0)
    x *= y
    for _ in range(1 if smallest > _ONE_STEP_IS_ENOUGH else 3):
        k_x = k * x
        miss = k_x * x
        miss *= polynomial(x, c, -b, a)  # Re/K = C by 7.19, 7.20: 1 = K x² C
        miss -= 1.0
        k_x *= polynomial(x, 4.0 * c, -3.0 * b, 2.0 * a)
        x -= miss / k_x
    C = polynomial(x, c, -b, a)
    if smallest < turning:
        C = np.where(k > K, lowest, C)
    return C, K * C


_ONE_STEP_IS_ENOUGH = 12_000.0
"""From this K up one step of Newton's rule leaves an error below 1e-11 in C; a test holds it."""
