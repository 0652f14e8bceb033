"""The air of a room: standard air, or air at an altitude and a temperature."""

from __future__ import annotations

import math
from dataclasses import dataclass

from stillroom.core.fanlaws import STANDARD_DENSITY
from stillroom.core.standards import moist_air_cipm_2007 as cipm
from stillroom.core.standards.ansi_amca_210_2007.air import viscosity

STANDARD_VISCOSITY = 1.819e-5
"""Dynamic viscosity of air at 20 °C [Pa s], ANSI/AMCA 210-07, equation 7.6."""

STANDARD_TEMPERATURE = 293.15
"""Temperature of a room where none is told [K]."""

HUMIDITY = 0.5
"""Relative humidity taken for a room [1] (our choice): 20 °C at sea level then have 1.199 kg/m³."""

# ISO 2533:1975, standard atmosphere, its primary constants
SEA_LEVEL_PRESSURE = 101_325.0  # Pa
SEA_LEVEL_TEMPERATURE = 288.15  # K
LAPSE = 0.0065  # K/m, fall of temperature with geopotential altitude up to 11 km
GRAVITY = 9.80665  # m/s²
GAS_CONSTANT = 287.05287  # J/(kg K)
EARTH_RADIUS = 6_356_766.0  # m


@dataclass(frozen=True)
class Air:
    """Air by the two properties that a fan and an obstacle feel: density [kg/m³], dynamic viscosity [Pa s]."""

    density: float
    viscosity: float


STANDARD_AIR = Air(STANDARD_DENSITY, STANDARD_VISCOSITY)
"""The air to which all curves are brought."""


def barometric_pressure(altitude: float) -> float:
    """Barometric pressure of the standard atmosphere.

    Parameters
    ----------
    altitude : geometric altitude above the sea [m].

    Returns
    -------
    Pressure [Pa]. Weather moves the true one by some 3 %.

    Limits
    ------
    The troposphere, −2 to 11 km.

    Source: ISO 2533:1975 (the ICAO and the US 1976 atmospheres agree with it below 32 km).
    """
    geopotential = EARTH_RADIUS * altitude / (EARTH_RADIUS + altitude)
    share = 1.0 - LAPSE * geopotential / SEA_LEVEL_TEMPERATURE
    return SEA_LEVEL_PRESSURE * math.pow(share, GRAVITY / (GAS_CONSTANT * LAPSE))


def room_air(altitude: float | None, temperature: float | None) -> Air:
    """The air of a room at an altitude and a temperature, half saturated with vapour.

    Parameters
    ----------
    altitude : above the sea [m]; sea level where None.
    temperature : of the air in the room [K]; 20 °C where None.

    Returns
    -------
    Standard air where neither is told; else density by CIPM-2007 and viscosity by ANSI/AMCA 210-07, 7.6.

    Limits
    ------
    The air formula was published for 15 to 27 °C and 600 to 1100 hPa; outside it is followed on, where its
    error is still far below the weather's.
    """
    if altitude is None and temperature is None:
        return STANDARD_AIR
    kelvin = STANDARD_TEMPERATURE if temperature is None else temperature
    pressure = barometric_pressure(altitude or 0.0)
    return Air(float(cipm.density(kelvin, pressure, HUMIDITY)), float(viscosity(kelvin)))
