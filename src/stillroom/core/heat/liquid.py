"""The liquid of a loop: density and specific heat of water and of ethylene glycol in water."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np

from stillroom.core.arrays import Array
from stillroom.errors import OutOfRange

CELSIUS = 273.15
"""0 °C [K]."""


class LiquidKind(Enum):
    """Which liquid a loop is filled with."""

    WATER = "water"
    GLYCOL = "glycol"


WATER_RANGE = (273.15, 372.65)
"""Temperatures for which the formulas of water hold at 1 atm [K]."""

GLYCOL_HIGHEST, GLYCOL_MOST = 373.15, 0.60
"""Greatest temperature [K] and mass fraction [1] of the polynomials of glycol; the least is its freezing point."""

U_SPECIFIC_HEAT = {LiquidKind.WATER: 0.001, LiquidKind.GLYCOL: 0.01}
"""Relative standard uncertainty of the specific heat [1]: of water as IAPWS-95 states it, of a mixture from memory
(differences between tables, and inhibitors, which no table has)."""

U_DENSITY = {LiquidKind.WATER: 0.0001, LiquidKind.GLYCOL: 0.005}
"""Relative standard uncertainty of the density [1]: dissolved air and hardness; of a mixture from memory."""


@dataclass(frozen=True)
class Liquid:
    """A liquid.

    Parameters
    ----------
    kind : water, or ethylene glycol in water. fraction : mass fraction of the glycol [1]; 0 for water.

    Raises
    ------
    OutOfRange : a fraction that no formula covers; water with a fraction, glycol without one.
    """

    kind: LiquidKind
    fraction: float = 0.0

    def __post_init__(self) -> None:
        glycol = self.kind is LiquidKind.GLYCOL
        if not (0.0 < self.fraction <= GLYCOL_MOST if glycol else self.fraction == 0.0):
            raise OutOfRange(
                f"mass fraction of glycol in {self.kind.value}",
                found=f"{self.fraction:.0%}",
                expected=f"above 0 and up to {GLYCOL_MOST:.0%}" if glycol else "0 %",
            )

    @property
    def words(self) -> str:
        """Its name: "water", "glycol 30 %"."""
        return (
            self.kind.value
            if self.kind is LiquidKind.WATER
            else f"{self.kind.value} {self.fraction:.0%}".replace("%", " %")
        )

    @property
    def u_specific_heat(self) -> float:
        """Relative standard uncertainty of its specific heat [1]."""
        return U_SPECIFIC_HEAT[self.kind]

    @property
    def u_density(self) -> float:
        """Relative standard uncertainty of its density [1]."""
        return U_DENSITY[self.kind]

    @property
    def freezing(self) -> float:
        """Temperature at which it begins to freeze [K]."""
        if self.kind is LiquidKind.WATER:
            return CELSIUS
        return float(np.polynomial.polynomial.polyval(self.fraction - _X_BASE, _FREEZING))

    def density(self, temperature: Array | float) -> Array:
        """Density at 1 atm.

        Parameters
        ----------
        temperature : any shape [K].

        Returns
        -------
        Density of the same shape [kg/m³]. Water within 2e-5 of IAPWS-95.

        Raises
        ------
        OutOfRange : below freezing, or above 99.5 °C (water), 100 °C (glycol).

        Source: water: Kell, J. Chem. Eng. Data 20 (1975), 97, equation 16 (from memory, checked against
        IAPWS-95). Glycol: Melinder, Properties of secondary working fluids for indirect systems (IIR, 2010), as
        transcribed in CoolProp ("MEG").
        """
        kelvin = self._checked(temperature)
        if self.kind is LiquidKind.GLYCOL:
            return _melinder(kelvin, self.fraction, _GLYCOL_DENSITY)
        t = kelvin - CELSIUS
        return np.asarray(np.polynomial.polynomial.polyval(t, _KELL) / (1.0 + _KELL_BELOW * t))

    def specific_heat(self, temperature: Array | float) -> Array:
        """Specific heat capacity at constant pressure, at 1 atm.

        Parameters
        ----------
        temperature : any shape [K].

        Returns
        -------
        Specific heat of the same shape [J/(kg K)]. Water within 2e-5 of IAPWS-95.

        Raises
        ------
        OutOfRange : as for the density.

        Source: water: a polynomial fitted to IAPWS-95 as computed by CoolProp. Glycol: as for the density.
        """
        kelvin = self._checked(temperature)
        if self.kind is LiquidKind.GLYCOL:
            return _melinder(kelvin, self.fraction, _GLYCOL_HEAT)
        scaled = (kelvin - CELSIUS - 50.0) / 50.0
        return np.asarray(np.polynomial.polynomial.polyval(scaled, _WATER_HEAT))

    def _checked(self, temperature: Array | float) -> Array:
        kelvin = np.asarray(temperature, dtype=np.float64)
        low, high = self.freezing, WATER_RANGE[1] if self.kind is LiquidKind.WATER else GLYCOL_HIGHEST
        outside = ~((kelvin >= low) & (kelvin <= high))
        if np.any(outside):
            raise OutOfRange(
                f"temperature of {self.words}",
                found=f"{float(kelvin[outside].flat[0]) - CELSIUS:.1f} °C",
                expected=f"{low - CELSIUS:.1f} to {high - CELSIUS:.1f} °C",
            )
        return kelvin


WATER = Liquid(LiquidKind.WATER)

_KELL = (999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12)
_KELL_BELOW = 16.879850e-3
# by powers of (t − 50 °C)/50 °C, 0.01 to 99.5 °C
_WATER_HEAT = (4181.3325, 14.1828, 20.9072, -7.7032, 9.9253, -5.2728, 5.3498, -3.0830)

# Melinder (2010): powers of (x − x_base) along a row, of (T − T_base) from row to row
_T_BASE, _X_BASE = 304.878, 0.308462
_FREEZING = (257.9, -80.80, -133.4, -72.93, 100.6, 11.40)
_GLYCOL_DENSITY = (
    (1034.0, 131.1, 0.749, -106.2, -96.23, 489.1),
    (-0.4781, -0.6876, 0.7855, 1.229, -7.211, 0.0),
    (-2.692e-3, 4.805e-3, -3.995e-3, -1.153e-2, 0.0, 0.0),
    (4.725e-6, 1.690e-6, 4.982e-5, 0.0, 0.0, 0.0),
)
_GLYCOL_HEAT = (
    (3737.0, -1799.0, -993.3, 2610.0, 1537.0, -16180.0),
    (2.930, 10.46, 3.516, -1.189, -42.72, 0.0),
    (-4.675e-3, -4.147e-2, 5.109e-2, -1.643e-1, 0.0, 0.0),
    (-1.389e-5, 1.847e-5, -7.138e-4, 0.0, 0.0, 0.0),
)


def _melinder(kelvin: Array, fraction: float, table: tuple[tuple[float, ...], ...]) -> Array:
    by_temperature = [np.polynomial.polynomial.polyval(fraction - _X_BASE, row) for row in table]
    return np.asarray(np.polynomial.polynomial.polyval(kelvin - _T_BASE, by_temperature))
