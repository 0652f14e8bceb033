"""A mounted fan as a whole: its characteristic, its speed at full setting, and the power that it takes.

Everything is a row stack (rows first): row 0 central, rows 1 … k moved by +1 standard deviation of each
shared source, then the trials.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Characteristic, Part, pressure_coefficients
from stillroom.core.characteristic.curve import align
from stillroom.core.draws import SEED, normal_draws
from stillroom.core.fanlaws import STANDARD_DENSITY, disc_area
from stillroom.core.resistance import Resistance, pressure_drop, scaled
from stillroom.errors import NotPossible

GRID = 440
BEYOND = 1.25
"""How far past the greatest φ read the curve is followed, so that free delivery has a root."""

STANDARD_VISCOSITY = 1.819e-5
"""Dynamic viscosity of air at 20 °C [Pa s], ANSI/AMCA 210-07, equation 7.6."""


@dataclass(frozen=True)
class Polynomial:
    """Linear coefficients with their errors by kind, as in a characteristic.

    Parameters
    ----------
    central : (K,). effects : (k, K) of the k `sources`. noise : (M, K), the mounting's own part.
    """

    central: Array
    effects: Array
    noise: Array
    sources: tuple[str, ...]

    def padded(self, terms: int) -> Polynomial:
        """The same polynomial with zeros for the terms that were not fitted."""
        missing = terms - len(self.central)
        return Polynomial(
            np.pad(self.central, (0, missing)),
            np.pad(self.effects, ((0, 0), (0, missing))),
            np.pad(self.noise, ((0, 0), (0, missing))),
            self.sources,
        )

    def rows(self, part: Part, sources: tuple[str, ...], seed: int = SEED) -> Array:
        """Coefficients as a row stack (1 + k + M, K)."""
        moved = self.central + align(self.effects, self.sources, sources)
        trials = np.repeat(self.central[None, :], len(self.noise), axis=0)
        for source, effect in zip(self.sources, self.effects, strict=True):
            trials += np.multiply.outer(normal_draws(source, len(self.noise), seed), effect)
        if part is Part.TOTAL:
            trials += self.noise
        return np.concatenate([self.central[None, :], moved, trials])


def fit_polynomial(
    design: Array,
    values: Array,
    *,
    shared: Array,
    own: Array,
    draws: Array,
    sources: tuple[str, ...],
) -> Polynomial:
    """Least squares of values on a design, with shared effects and own noise carried through.

    Parameters
    ----------
    design : (n, K).
    values : (n,).
    shared : effect of each source on the values, (k, n).
    own : standard deviation of each value's own error, (n,); raised to what the residuals show.
    draws : standard normal draws of the own errors, (n, M).
    sources : identities of the k shared sources.
    """
    linear = np.linalg.pinv(design)
    central = linear @ values
    freedom = max(1, len(values) - design.shape[1])
    scatter = float(np.sqrt(np.sum((values - design @ central) ** 2) / freedom))
    noise = (linear @ (draws * np.maximum(own, scatter)[:, None])).T
    return Polynomial(central, (linear @ shared.T).T, noise, sources)


@dataclass(frozen=True)
class MountedFan:
    """One mounting of a sample, reduced.

    Parameters
    ----------
    characteristic : ψ(φ) with its errors. diameter : the reference diameter D [m].
    speeds : least and greatest speed tested [1/s].
    full_speed : n(φ) = c₀ + c₁φ + c₂φ² [1/s] of the sweep at the greatest setting, None where it was dropped.
    power : electrical power at 1.2 kg/m³ by `power_design` [W], None where it was not read.
    """

    characteristic: Characteristic
    diameter: float
    speeds: tuple[float, float]
    full_speed: Polynomial | None
    power: Polynomial | None
    power_terms: int = 0

    def curve(self, speed: float | None, part: Part, sources: tuple[str, ...]) -> Curve:
        """Pressure against flow at a speed, or at full setting where `speed` is None.

        Raises
        ------
        NotPossible : the speed lies outside those tested, or the sweep at full setting was dropped.
        """
        phi = np.linspace(0.0, self.characteristic.reach[1] * BEYOND, GRID)
        n = self._speeds(speed, phi, part, sources)
        area = float(disc_area(self.diameter))
        tip = np.pi * self.diameter * n
        reynolds = np.median(tip[0]) * self.diameter * STANDARD_DENSITY / STANDARD_VISCOSITY
        psi = pressure_coefficients(self.characteristic, phi, float(reynolds), part=part, sources=sources)
        return Curve(phi, phi * area * tip, psi * (0.5 * STANDARD_DENSITY) * tip**2, n, self)

    def _speeds(self, speed: float | None, phi: Array, part: Part, sources: tuple[str, ...]) -> Array:
        if speed is None:
            if self.full_speed is None:
                raise NotPossible("speed at full setting", found="no sweep at full setting that can be used",
                                  expected="one, or a comparison at a given speed")  # fmt: skip
            rows = self.full_speed.rows(part, sources, self.characteristic.seed)
            return np.asarray(rows @ np.stack([np.ones_like(phi), phi, phi**2]))
        low, high = self.speeds
        if not low * 0.995 <= speed <= high * 1.005:
            raise NotPossible(
                f"speed {speed * 60:.0f} rpm",
                found=f"tested from {low * 60:.0f} to {high * 60:.0f} rpm",
                expected="a speed within these",
            )
        count = 1 + len(sources) + self.characteristic.trials
        return np.full((count, len(phi)), speed)


@dataclass(frozen=True)
class Curve:
    """Pressure against flow at one speed or setting, at 1.2 kg/m³.

    Parameters
    ----------
    phi : abscissas (g,). flow [m³/s], pressure [Pa], speed [1/s] : (rows, g).
    fan : the mounting that it belongs to.
    """

    phi: Array
    flow: Array
    pressure: Array
    speed: Array
    fan: MountedFan

    @property
    def to_flow(self) -> Array:
        """The factor from φ to flow at each abscissa, (rows, g)."""
        return np.asarray(disc_area(self.fan.diameter) * np.pi * self.fan.diameter * self.speed)

    def flow_at(self, phi: Array) -> Array:
        """Flow of each row at its own φ, (rows,) → (rows,) [m³/s]."""
        area = float(disc_area(self.fan.diameter))
        place = np.clip(np.searchsorted(self.phi, phi) - 1, 0, len(self.phi) - 2)
        rows = np.arange(len(phi))
        share = (phi - self.phi[place]) / (self.phi[place + 1] - self.phi[place])
        speed = self.speed[rows, place] * (1 - share) + self.speed[rows, place + 1] * share
        return np.asarray(phi * area * np.pi * self.fan.diameter * speed)

    def power(self, part: Part, sources: tuple[str, ...]) -> Array:
        """Electrical power on the curve, (rows, g) [W].

        Raises
        ------
        NotPossible : volts and amps were not read.
        """
        fan = self.fan
        if fan.power is None:
            raise NotPossible("electrical power", found="no volts and amps", expected="both in the export")
        rows = fan.power.rows(part, sources, fan.characteristic.seed)
        design = power_design(self.speed, np.broadcast_to(self.phi, self.speed.shape), 1.0, fan.speeds[1])
        return np.asarray(np.einsum("rk,krg->rg", rows, np.stack(design[: fan.power_terms])))


def power_design(speed: Array, phi: Array, density_ratio: Array | float, reference: float) -> list[Array]:
    """Terms of electrical power: n³, n³φ, n³φ² (air, with density), n (friction), 1 (electronics).

    With one speed only the first three can be told apart; with two, four; then all. Common practice.
    """
    n = speed / reference
    cube = n**3 * density_ratio
    return [cube, cube * phi, cube * phi**2, n, np.ones_like(n)]


@dataclass(frozen=True)
class MeasuredObstacle:
    """An obstacle's resistance with the air in which it was measured.

    Parameters
    ----------
    resistance : fitted to the readings as they were. density [kg/m³], viscosity [Pa s] : of the air then.
    """

    resistance: Resistance
    density: float
    viscosity: float

    def drop(self, flow: Array, part: Part, sources: tuple[str, ...]) -> Array:
        """Pressure drop at 1.2 kg/m³ and 20 °C, (rows, g) [Pa], at flow [m³/s] of (g,) or (rows, g)."""
        law = self.resistance.law
        rows = scaled(
            law,
            self.resistance.rows(part, sources),
            STANDARD_DENSITY / self.density,
            STANDARD_VISCOSITY / self.viscosity,
        )
        return pressure_drop(law, rows, flow)
