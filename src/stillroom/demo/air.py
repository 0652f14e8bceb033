"""The air of the invented laboratory and the flow through its nozzles, forwards: from flow to reading.

Written on its own, from the same published formulas as the calculation rooms but sharing no code with
them, so that a slip on one side shows as a difference. Density: CIPM-2007 (Picard et al., Metrologia 45
(2008) 149). Viscosity, nozzle coefficient, expansibility: AMCA 210-07, clause 7, as transcribed in public
implementations that cite its equation numbers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

STANDARD_DENSITY = 1.2
"""Density that results are converted to [kg/m³] (ISO 5801, AMCA 210)."""
STANDARD_VISCOSITY = 1.819e-5
"""Viscosity at 20 °C by the formula of AMCA 210 [Pa·s]."""
HEAT_RATIO = 1.4


@dataclass(frozen=True)
class Air:
    """The state of the air in front of the fan.

    Parameters
    ----------
    pressure : absolute [Pa].
    temperature : [K].
    humidity : relative, 0 to 1.
    """

    pressure: float
    temperature: float
    humidity: float

    @property
    def density(self) -> float:
        """Density of moist air [kg/m³]; CIPM-2007, 400 µmol/mol carbon dioxide; 600–1100 hPa, 15–27 °C."""
        T, p = self.temperature, self.pressure
        t = T - 273.15
        saturation = math.exp(1.2378847e-5 * T * T - 1.9121316e-2 * T + 33.93711047 - 6.3431645e3 / T)
        enhancement = 1.00062 + 3.14e-8 * p + 5.6e-7 * t * t
        x = self.humidity * enhancement * saturation / p
        first = 1.58123e-6 - 2.9331e-8 * t + 1.1043e-10 * t * t
        second = (5.707e-6 - 2.051e-8 * t) * x + (1.9898e-4 - 2.376e-6 * t) * x * x
        Z = 1.0 - p / T * (first + second) + (p / T) ** 2 * (1.83e-11 - 0.765e-8 * x * x)
        return p * 28.96546e-3 / (Z * 8.314472 * T) * (1.0 - x * (1.0 - 18.01528 / 28.96546))

    @property
    def viscosity(self) -> float:
        """Dynamic viscosity [Pa·s]; AMCA 210, (17.23 + 0.048 t)·10⁻⁶."""
        return (17.23 + 0.048 * (self.temperature - 273.15)) * 1e-6

    def at(self, gauge_pressure: float) -> float:
        """Density [kg/m³] of this air brought to another pressure [Pa above it], temperature unchanged."""
        return self.density * (self.pressure + gauge_pressure) / self.pressure


@dataclass(frozen=True)
class Nozzle:
    """One nozzle of the bank.

    Parameters
    ----------
    name : as the exports list it.
    bore : throat diameter [m].
    length_ratio : throat length over diameter, 0.5 or 0.6.
    excess : what this bank's coefficient has over the formula's, as a factor.
    """

    name: str
    bore: float
    length_ratio: float = 0.6
    excess: float = 1.0

    @property
    def area(self) -> float:
        """Throat area [m²]."""
        return math.pi * self.bore**2 / 4

    def effective_area(self, velocity: float, density: float, viscosity: float) -> float:
        """Coefficient × area [m²] at the ideal throat velocity `velocity` = Y √(2Δp/ρ) [m/s].

        The coefficient depends on the Reynolds number, which holds the coefficient itself: iterated.
        """
        linear, constant = {0.6: (7.006, 134.6), 0.5: (6.688, 131.5)}[self.length_ratio]
        coefficient = 0.95
        for _ in range(8):
            reynolds = density * coefficient * velocity * self.bore / viscosity
            coefficient = 0.9986 - linear / math.sqrt(reynolds) + constant / reynolds
        return coefficient * self.excess * self.area


def expansibility(pressure: float, drop: float) -> float:
    """Expansion factor Y of a nozzle fed from a large chamber; isentropic, γ = 1.4, β = 0.

    Parameters
    ----------
    pressure : absolute, before the nozzle [Pa].
    drop : across the nozzle [Pa].
    """
    if drop == 0.0:
        return 1.0
    r, g = 1.0 - drop / pressure, HEAT_RATIO
    return math.sqrt(g / (g - 1) * r ** (2 / g) * (1 - r ** ((g - 1) / g)) / (1 - r))


def mass_flow(drop: float, nozzles: tuple[Nozzle, ...], air: Air, gauge: float) -> float:
    """Mass flow [kg/s] through open nozzles.

    Parameters
    ----------
    drop : pressure across them [Pa].
    nozzles : those that are open.
    air : the room's air.
    gauge : pressure before the nozzles [Pa above the room].
    """
    density = air.at(gauge)
    velocity = expansibility(air.pressure + gauge, drop) * math.sqrt(2 * drop / density)
    return density * velocity * sum(n.effective_area(velocity, density, air.viscosity) for n in nozzles)


def nozzle_drop(flow: float, nozzles: tuple[Nozzle, ...], air: Air, gauge: float) -> float:
    """Pressure [Pa] across the open nozzles when `flow` [m³/s of room air] goes through them.

    The inverse of `mass_flow`; found by the secant rule on √Δp, which is nearly proportional to the flow.
    """
    wanted = flow * air.density
    area = sum(nozzle.area for nozzle in nozzles)
    root = wanted / (0.95 * area * math.sqrt(2 * air.density))
    for _ in range(12):
        step = wanted / mass_flow(root * root, nozzles, air, gauge)
        root *= step
        if abs(step - 1.0) < 1e-12:
            break
    return root * root


def inlet_flow(drop: float, nozzles: tuple[Nozzle, ...], air: Air, gauge: float) -> float:
    """Volume flow of room air [m³/s] that a pressure across the nozzles stands for."""
    return mass_flow(drop, nozzles, air, gauge) / air.density
