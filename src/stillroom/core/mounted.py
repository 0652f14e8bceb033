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
from stillroom.core.room_air import STANDARD_AIR, Air
from stillroom.core.row_speeds import BEYOND as TRIED
from stillroom.core.row_speeds import SHORT_OF_FULL, RowSpeeds
from stillroom.core.speeds import SettingSpeeds, setting_named
from stillroom.errors import NotPossible

GRID = 440
BEYOND = 1.25
"""How far past the greatest φ read the curve is followed, so that free delivery has a root."""


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
class Hysteresis:
    """Where sweeps up and down differ: half of the difference in ψ at abscissas φ, (m,); 0 where they agree."""

    phi: Array
    half: Array


@dataclass(frozen=True)
class MountedFan:
    """One mounting of a sample, reduced.

    Parameters
    ----------
    characteristic : ψ(φ) with its errors. diameter : the reference diameter D [m].
    speeds : least and greatest speed tested [1/s].
    full_speed : n(φ) = c₀ + c₁φ + c₂φ² [1/s] of the sweeps at the greatest setting, None where they were dropped.
    power : electrical power at 1.2 kg/m³ by `power_design` [W], None where it was not read.
    settings : the speed at each duty or voltage tested, one for each kind.
    hysteresis : where sweeps up and down at one setting differ, None where they don't, or weren't told apart.
    """

    characteristic: Characteristic
    diameter: float
    speeds: tuple[float, float]
    full_speed: Polynomial | None
    power: Polynomial | None
    power_terms: int = 0
    settings: tuple[SettingSpeeds, ...] = ()
    hysteresis: Hysteresis | None = None

    def curve(
        self,
        speed: float | RowSpeeds | None,
        part: Part,
        sources: tuple[str, ...],
        *,
        duty: float | None = None,
        volts: float | None = None,
        air: Air = STANDARD_AIR,
        places: int = GRID,
    ) -> Curve:
        """Pressure against flow at a speed, duty or voltage, or at full setting where none is given.

        Parameters
        ----------
        speed : [1/s], or one of its own in each row. part, sources : as in `Characteristic.rows`. duty : [1].
        volts : [V].
        air : pressure and power go with its density at the same speed; its viscosity moves the Reynolds number.
        places : at how many abscissas; fewer than the usual ones where nothing is read between them.

        Raises
        ------
        NotPossible : what is asked lies outside what was tested, or its sweep was dropped.
        """
        phi = np.linspace(0.0, self.characteristic.reach[1] * BEYOND, places)
        return self._curve(phi, self._speeds(speed, duty, volts, phi, part, sources), part, sources, air)

    def at_flow(
        self, flow: float, part: Part, sources: tuple[str, ...], *, speed: float, air: Air = STANDARD_AIR
    ) -> Curve:
        """Pressure at one flow, at the speed that has it at each abscissa: n = Q/(φ A π D).

        Parameters
        ----------
        flow : of one fan, above zero [m³/s]. speed : at which ψ(φ) is taken, by its Reynolds number [1/s].
        """
        phi = np.linspace(0.0, self.characteristic.reach[1] * BEYOND, GRID)[1:]
        rows = 1 if part is Part.CENTRAL else 1 + len(sources) + self.characteristic.trials
        n = np.broadcast_to(
            flow / (phi * float(disc_area(self.diameter)) * np.pi * self.diameter), (rows, len(phi))
        )
        reynolds = np.pi * self.diameter * speed * self.diameter * air.density / air.viscosity
        return self._curve(phi, n, part, sources, air, float(reynolds))

    def _curve(
        self,
        phi: Array,
        n: Array,
        part: Part,
        sources: tuple[str, ...],
        air: Air,
        reynolds: float | None = None,
    ) -> Curve:
        area = float(disc_area(self.diameter))
        tip = np.asarray(np.pi * self.diameter * n)
        if reynolds is None:
            reynolds = float(np.median(tip[0]) * self.diameter * air.density / air.viscosity)
        psi = pressure_coefficients(self.characteristic, phi, reynolds, part=part, sources=sources)
        flow = phi * area * tip
        dynamic = np.square(tip, out=tip)  # in place: new rows by the million cost as much as their numbers
        dynamic *= 0.5 * air.density
        half = None
        if self.hysteresis is not None:
            told = self.hysteresis
            half = dynamic * np.interp(phi, told.phi, np.abs(told.half), left=0.0, right=0.0)
        dynamic *= psi
        return Curve(phi, flow, dynamic, n, self, air, half, reynolds)

    def setting_words(self, duty: float | None, volts: float | None) -> str:
        """What must be said of the speed at a duty or voltage: "" where that setting was tested."""
        kind, value = ("duty", duty) if duty is not None else ("volts", volts)
        return "" if value is None else self._tested(kind, value).words(value)

    def _tested(self, kind: str, value: float) -> SettingSpeeds:
        for each in self.settings:
            if each.kind == kind:
                return each
        raise NotPossible(
            setting_named(kind, value),
            found=f"no sweep with a {'duty' if kind == 'duty' else 'voltage'} and a speed",
            expected="sweeps at some, or a comparison at a given speed",
        )

    def _speeds(
        self,
        speed: float | RowSpeeds | None,
        duty: float | None,
        volts: float | None,
        phi: Array,
        part: Part,
        sources: tuple[str, ...],
    ) -> Array:
        trials, seed = self.characteristic.trials, self.characteristic.seed
        for kind, value in (("duty", duty), ("volts", volts)):
            if value is not None:
                return self._tested(kind, value).speeds(value, phi, part, sources, trials, seed)
        if speed is None:
            return self._full(phi, part, sources, seed)
        if isinstance(speed, RowSpeeds):
            return self._in_rows(speed, phi, part, sources, seed)
        low, high = self.speeds
        if not low * 0.995 <= speed <= high * 1.005:
            raise NotPossible(
                f"speed {speed * 60:,.0f} rpm",
                found=f"tested from {low * 60:,.0f} to {high * 60:,.0f} rpm",
                expected="a speed within these",
            )
        rows = 1 if part is Part.CENTRAL else 1 + len(sources) + trials
        return np.broadcast_to(np.float64(speed), (rows, len(phi)))

    def _full(self, phi: Array, part: Part, sources: tuple[str, ...], seed: int) -> Array:
        if self.full_speed is None:
            raise NotPossible("speed at full setting", found="no sweep at full setting that can be used",
                              expected="one, or a comparison at a given speed")  # fmt: skip
        rows = self.full_speed.rows(part, sources, seed)
        return np.asarray(rows @ np.stack([np.ones_like(phi), phi, phi**2]))

    def _in_rows(
        self, speed: RowSpeeds, phi: Array, part: Part, sources: tuple[str, ...], seed: int
    ) -> Array:
        """A speed in each row; those at full setting, and none faster than full setting where that was tested."""
        told, full = speed.rows(sources)
        if not full[0]:
            self._within(speed.central)
        rows = np.repeat(told[:, None], len(phi), axis=1)
        if speed.greatest_is_full and (self.full_speed is not None or full[0]):
            top = self._full(phi, part, sources, seed)
            if self.is_heard_short(speed):
                self._within(speed.central)
                return np.minimum(rows, top)
            return np.where(full[:, None], top, np.minimum(rows, top))
        if full[0]:
            self._within(speed.central)
        return np.minimum(rows, self.speeds[1] * (1.0 + TRIED))

    def is_heard_short(self, speed: RowSpeeds) -> bool:
        """Whether the rows at full setting turn at a greatest speed heard that is not this fan's full speed.

        Nothing but the fastest reading tells the quiet room's full speed where no settings were told there.
        """
        if self.full_speed is None or speed.heard is None or not speed.greatest_is_full:
            return False
        phi = np.linspace(0.0, self.characteristic.reach[1], GRID)
        full = np.polynomial.polynomial.polyval(phi, self.full_speed.central)
        return bool(np.median(full) > speed.heard * (1.0 + SHORT_OF_FULL))

    def _within(self, speed: float) -> None:
        low, high = self.speeds
        if not low * (1.0 - TRIED) <= speed <= high * (1.0 + TRIED):
            raise NotPossible(
                f"speed {speed * 60:,.0f} rpm",
                found=f"airflow tested from {low * 60:,.0f} to {high * 60:,.0f} rpm",
                expected="sweeps at a speed near it",
            )

    def row_words(self, speed: RowSpeeds) -> str:
        """What must be said of a speed in each row: "" where the central one lies within those tested."""
        low, high = self.speeds
        if speed.full[0] and speed.greatest_is_full and not self.is_heard_short(speed):
            return ""
        if low * 0.995 <= speed.central <= high * 1.005:
            return ""
        return f"modelled: airflow tested from {low * 60:,.0f} to {high * 60:,.0f} rpm"


@dataclass(frozen=True)
class Curve:
    """Pressure against flow at one speed or setting.

    Parameters
    ----------
    phi : abscissas (g,). flow [m³/s], pressure [Pa], speed [1/s] : (rows, g), of all fans together.
    fan : the mounting that it belongs to. air : in which it runs.
    half : half of what sweeps up and down differ by [Pa], (rows, g), None where they agree.
    reynolds : Reynolds number at which ψ was taken [1].
    beside : equal fans side by side, whose flows `flow` sums. stages : 2 for push-pull, else 1.
    """

    phi: Array
    flow: Array
    pressure: Array
    speed: Array
    fan: MountedFan
    air: Air = STANDARD_AIR
    half: Array | None = None
    reynolds: float = 0.0
    beside: int = 1
    stages: int = 1

    @property
    def to_flow(self) -> Array:
        """The factor from φ to flow at each abscissa, (rows, g)."""
        return np.asarray(self.beside * disc_area(self.fan.diameter) * np.pi * self.fan.diameter * self.speed)

    def at(self, values: Array, phi: Array) -> Array:
        """Values on the curve (rows, g) at each row's own φ (rows,), on straight lines, (rows,)."""
        place = np.clip(np.searchsorted(self.phi, phi) - 1, 0, len(self.phi) - 2)
        rows = np.arange(len(phi))
        share = (phi - self.phi[place]) / (self.phi[place + 1] - self.phi[place])
        return np.asarray(values[rows, place] * (1 - share) + values[rows, place + 1] * share)

    def flow_at(self, phi: Array) -> Array:
        """Flow of each row at its own φ, (rows,) → (rows,) [m³/s]."""
        area = self.beside * float(disc_area(self.fan.diameter))
        return np.asarray(phi * area * np.pi * self.fan.diameter * self.at(self.speed, phi))

    def power(self, part: Part, sources: tuple[str, ...]) -> Array:
        """Electrical power of all fans on the curve, (rows, g) [W].

        Raises
        ------
        NotPossible : volts and amps were not read.
        """
        phi = np.broadcast_to(self.phi, self.speed.shape)
        return self._power(self.speed, phi, part, sources)

    def power_at(self, phi: Array, part: Part, sources: tuple[str, ...]) -> Array:
        """Electrical power of all fans of each row at its own φ, (rows,) [W]; errors as `power`."""
        return self._power(self.at(self.speed, phi)[:, None], phi[:, None], part, sources)[:, 0]

    def _power(self, speed: Array, phi: Array, part: Part, sources: tuple[str, ...]) -> Array:
        fan = self.fan
        if fan.power is None:
            raise NotPossible(
                "electrical power",
                found="neither power nor both volts and amps among the readings",
                expected="columns of volts and amps, or amps where the voltage is the setting",
            )
        rows = fan.power.rows(part, sources, fan.characteristic.seed)
        design = power_design(speed, phi, self.air.density / STANDARD_DENSITY, fan.speeds[1])
        one = np.einsum("rk,krg->rg", rows, np.stack(design[: fan.power_terms]))
        return np.asarray(self.beside * self.stages * one)


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

    @property
    def sources(self) -> tuple[str, ...]:
        """Identities of its shared sources."""
        return self.resistance.sources

    @property
    def reach(self) -> float:
        """Greatest flow read [m³/s]."""
        return self.resistance.reach[1]

    def drop(self, flow: Array, part: Part, sources: tuple[str, ...], air: Air = STANDARD_AIR) -> Array:
        """Pressure drop in an air, (rows, g) [Pa], at flow [m³/s] of (g,) or (rows, g)."""
        law = self.resistance.law
        rows = scaled(
            law,
            self.resistance.rows(part, sources),
            air.density / self.density,
            air.viscosity / self.viscosity,
        )
        return pressure_drop(law, rows, flow)
