"""The liquid of a loop: density and specific heat of water and of ethylene glycol in water."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from stillroom.core.arrays import Array


class LiquidKind(Enum):
    """Which liquid a loop is filled with."""

    WATER = "water"
    GLYCOL = "glycol"


@dataclass(frozen=True)
class Liquid:
    """A liquid.

    Parameters
    ----------
    kind : water, or ethylene glycol in water. fraction : mass fraction of the glycol [1]; 0 for water.
    """

    kind: LiquidKind
    fraction: float = 0.0

    def density(self, temperature: Array | float) -> Array:
        """Density at 1 atm [kg/m³] at temperatures [K]."""
        raise NotImplementedError

    def specific_heat(self, temperature: Array | float) -> Array:
        """Specific heat capacity at constant pressure [J/(kg K)] at temperatures [K]."""
        raise NotImplementedError


WATER = Liquid(LiquidKind.WATER)
