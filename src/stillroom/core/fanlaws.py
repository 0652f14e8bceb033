"""Fan laws: dimensionless numbers of a fan, and conversion to a nominal speed and density.

The definitions used here, for an impeller of diameter D turning n times a second (variants exist):
u = πDn, A = πD²/4, φ = Q/(A u), ψ = p/(½ρu²), λ = P/(½ρ A u³), Re = u D ρ/μ.
With them the fan laws Q ∝ n, p ∝ n² ρ, P ∝ n³ ρ say that φ, ψ and λ stay as they are.

Source: common practice; the conversion is ANSI/AMCA 210-07, 7.9, with the compressibility coefficient K_p
taken as 1 (checked in `standards/ansi_amca_210_2007/compressibility.py`). All arguments broadcast.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from stillroom.core.arrays import Array
from stillroom.core.standards.limits import (
    Flag,
    Flags,
    Limit,
    require_finite,
    require_positive,
)

STANDARD_DENSITY = 1.2
"""Density of standard air [kg/m³] (ISO 5801, ISO 5802, AMCA 210 in SI)."""

DENSITY_RATIO = Limit(
    "density correction", "ρ_nominal/ρ", "1", 0.95, 1.05, Flag.DENSITY_CORRECTION, "AMCA 210, from memory"
)
SPEED_RATIO = Limit(
    "speed correction", "n_nominal/n", "1", 0.97, 1.03, Flag.SPEED_CORRECTION, "common practice"
)
LIMITS = (DENSITY_RATIO, SPEED_RATIO)


def tip_speed(speed: ArrayLike, diameter: ArrayLike) -> Array:
    """Tip speed u = πDn [m/s] from speed n [1/s] and diameter D [m], both above zero, else OutOfRange."""
    n = require_positive("speed", speed, "1/s")
    return np.pi * require_positive("diameter", diameter, "m") * n


def disc_area(diameter: ArrayLike) -> Array:
    """Area of the impeller disc A = πD²/4 [m²] from diameter D [m], above zero, else OutOfRange."""
    return np.pi / 4.0 * require_positive("diameter", diameter, "m") ** 2


def dynamic_pressure(speed: ArrayLike, diameter: ArrayLike, density: ArrayLike) -> Array:
    """Dynamic pressure of the tip speed ½ρu² [Pa] from n [1/s], D [m], ρ [kg/m³], else OutOfRange."""
    return 0.5 * require_positive("density", density, "kg/m³") * tip_speed(speed, diameter) ** 2


def flow_coefficient(flow: ArrayLike, speed: ArrayLike, diameter: ArrayLike) -> Array:
    """Flow coefficient φ = Q/(A u) [1].

    Parameters
    ----------
    flow : Q [m³/s].
    speed : n [1/s], above zero.
    diameter : D [m], above zero.

    Raises
    ------
    OutOfRange : an impossible input.
    """
    return require_finite("flow", flow, "m³/s") / (disc_area(diameter) * tip_speed(speed, diameter))


def pressure_coefficient(
    pressure: ArrayLike, speed: ArrayLike, diameter: ArrayLike, density: ArrayLike
) -> Array:
    """Pressure coefficient ψ = p/(½ρu²) [1].

    Parameters
    ----------
    pressure : p [Pa].
    speed : n [1/s], above zero.
    diameter : D [m], above zero.
    density : ρ at the fan inlet [kg/m³], above zero.

    Raises
    ------
    OutOfRange : an impossible input.
    """
    return require_finite("pressure", pressure, "Pa") / dynamic_pressure(speed, diameter, density)


def power_coefficient(power: ArrayLike, speed: ArrayLike, diameter: ArrayLike, density: ArrayLike) -> Array:
    """Power coefficient λ = P/(½ρ A u³) [1].

    Parameters
    ----------
    power : P [W].
    speed : n [1/s], above zero.
    diameter : D [m], above zero.
    density : ρ at the fan inlet [kg/m³], above zero.

    Raises
    ------
    OutOfRange : an impossible input.
    """
    through = disc_area(diameter) * tip_speed(speed, diameter)
    return require_finite("power", power, "W") / (dynamic_pressure(speed, diameter, density) * through)


def flow_from_coefficient(phi: ArrayLike, speed: ArrayLike, diameter: ArrayLike) -> Array:
    """Flow Q = φ A u [m³/s]; the inverse of `flow_coefficient`, with its units and errors."""
    return require_finite("flow coefficient", phi) * (disc_area(diameter) * tip_speed(speed, diameter))


def pressure_from_coefficient(
    psi: ArrayLike, speed: ArrayLike, diameter: ArrayLike, density: ArrayLike
) -> Array:
    """Pressure p = ψ ½ρu² [Pa]; the inverse of `pressure_coefficient`, with its units and errors."""
    return require_finite("pressure coefficient", psi) * dynamic_pressure(speed, diameter, density)


def power_from_coefficient(
    lambda_: ArrayLike, speed: ArrayLike, diameter: ArrayLike, density: ArrayLike
) -> Array:
    """Power P = λ ½ρ A u³ [W]; the inverse of `power_coefficient`, with its units and errors."""
    through = disc_area(diameter) * tip_speed(speed, diameter)
    return require_finite("power coefficient", lambda_) * (
        dynamic_pressure(speed, diameter, density) * through
    )


def reynolds(speed: ArrayLike, diameter: ArrayLike, density: ArrayLike, viscosity: ArrayLike) -> Array:
    """Reynolds number of the fan Re = u D ρ/μ [1].

    Parameters
    ----------
    speed : n [1/s].
    diameter : D [m].
    density : ρ [kg/m³].
    viscosity : μ [Pa s].
        All above zero.

    Raises
    ------
    OutOfRange : an impossible input.
    """
    rho = require_positive("density", density, "kg/m³")
    mu = require_positive("viscosity", viscosity, "Pa s")
    return tip_speed(speed, diameter) * np.asarray(diameter, dtype=np.float64) * rho / mu


def air_power(flow: ArrayLike, pressure: ArrayLike) -> Array:
    """Air power P_u = Q p [W], K_p = 1, from flow Q [m³/s] and pressure p [Pa]; else OutOfRange."""
    return require_finite("flow", flow, "m³/s") * require_finite("pressure", pressure, "Pa")


def static_efficiency(flow: ArrayLike, static_pressure: ArrayLike, power: ArrayLike) -> Array:
    """Static efficiency η_s = Q p_s/P [1]: air power over the power taken in.

    Parameters
    ----------
    flow : Q [m³/s].
    static_pressure : p_s [Pa].
    power : electrical power P [W], above zero.

    Raises
    ------
    OutOfRange : an impossible input.
    """
    return air_power(flow, static_pressure) / require_positive("power", power, "W")


@dataclass(frozen=True)
class Conversion:
    """From a point as measured to a nominal speed and density.

    Parameters
    ----------
    speed_ratio : n'/n [1].
    density_ratio : ρ'/ρ [1].
    size_ratio : D'/D [1].
    """

    speed_ratio: Array
    density_ratio: Array
    size_ratio: Array

    @property
    def flow(self) -> Array:
        """What flow is multiplied by [1]."""
        return self.speed_ratio * self.size_ratio**3

    @property
    def pressure(self) -> Array:
        """What pressure is multiplied by [1]."""
        return self.speed_ratio**2 * self.density_ratio * self.size_ratio**2

    @property
    def power(self) -> Array:
        """What power is multiplied by [1]."""
        return self.speed_ratio**3 * self.density_ratio * self.size_ratio**5

    @property
    def flags(self) -> Flags:
        """`Flag.SPEED_CORRECTION` and `Flag.DENSITY_CORRECTION` where a step leaves `LIMITS`."""
        return SPEED_RATIO.flags(self.speed_ratio) | DENSITY_RATIO.flags(self.density_ratio)


def conversion(
    speed: ArrayLike,
    density: ArrayLike,
    nominal_speed: ArrayLike,
    nominal_density: ArrayLike = STANDARD_DENSITY,
    size_ratio: ArrayLike = 1.0,
) -> Conversion:
    """Factors that bring a point of a fan to a nominal speed and density (and size).

    Parameters
    ----------
    speed : n as measured [1/s].
    density : ρ at the fan inlet as measured [kg/m³].
    nominal_speed : n' [1/s].
    nominal_density : ρ' [kg/m³].
    size_ratio : D'/D of a geometrically similar fan [1].

    Returns
    -------
    Conversion; each reading is converted with its own speed and density.

    Limits
    ------
    `LIMITS`: a wide step is flagged. Fan laws know no Reynolds effect.

    Raises
    ------
    OutOfRange : an input is not above zero.

    Source: ANSI/AMCA 210-07, 7.9, with K_p/K_p' = 1.
    """
    n = require_positive("speed", speed, "1/s")
    rho = require_positive("density", density, "kg/m³")
    return Conversion(
        require_positive("nominal speed", nominal_speed, "1/s") / n,
        require_positive("nominal density", nominal_density, "kg/m³") / rho,
        require_positive("size ratio", size_ratio),
    )
