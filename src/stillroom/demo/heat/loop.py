"""The heat rig's loop in closed form: from airflow to the temperature of the block, settled and settling.

A block with a heater gives its heat to a liquid, the liquid to a radiator, the radiator to the air. Two nodes
store heat: the block, and the liquid with the radiator. The radiator: UA = n/(1/(34 (Q/60)^0.52) + 0.004) W/K for n
tiles at Q [m³/h] each; effectiveness of a cross-flow exchanger with both sides unmixed by the usual approximate
formula, ε = 1 − exp(NTU^0.22 (exp(−Cr NTU^0.78) − 1)/Cr), some tenths of a per cent high.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.demo.air import Air
from stillroom.demo.fan import Fan, Obstacle

Array = NDArray[np.float64]

AIR_HEAT, WATER_HEAT, WATER_DENSITY = 1006.0, 4180.0, 996.5
"""Specific heat of air and of water [J/(kg K)]; density of water at 27 °C [kg/m³]."""
SET_FLOW = 1.5e-3 / 60
"""Of the liquid [m³/s]."""
BLOCK_CAPACITY, LIQUID_CAPACITY = 900.0, 4300.0
"""Heat that a kelvin stores in the block, and in liquid and radiator [J/K]."""
BLOCK = 0.0105
"""Resistance from the block to the liquid at the set flow [K/W]."""
BLOCK_POWER = 0.8
"""It falls with the liquid's flow to this power."""
PASTE = 0.0012
"""What the block's resistance lost when its paste was renewed [K/W]."""
PUMP, LOSS = 4.0, 0.10
"""Heat that the pump gives to the liquid [W]; what the block loses to the room [W/K]."""
USUAL_AIR = Air(98_500.0, 273.15 + 22.2, 0.45)
"""The laboratory's air on a usual day: results are stated in it."""
_COARSE = 60


@dataclass(frozen=True)
class Loop:
    """The loop on one occasion.

    Parameters
    ----------
    radiator : one tile of it. tiles : so many, each with its own fan. flow : of the liquid [m³/s].
    extra : what the block's resistance is over the usual one [K/W].
    """

    radiator: Obstacle
    tiles: int
    flow: float = SET_FLOW
    extra: float = 0.0

    @property
    def block(self) -> float:
        """Resistance from block to liquid [K/W]."""
        return BLOCK * math.pow(SET_FLOW / self.flow, BLOCK_POWER) + self.extra

    @property
    def liquid_rate(self) -> float:
        """Heat capacity of the liquid's flow [W/K]."""
        return self.flow * WATER_DENSITY * WATER_HEAT

    def conductance(self, air_flow: float, density: float) -> float:
        """Of the radiator, liquid in over air in [W/K], at an airflow per tile [m³/s] and the air's density."""
        hour = air_flow * 3600
        ua = self.tiles / (1 / (34 * math.pow(hour / 60, 0.52)) + 0.004)
        rates = (self.tiles * air_flow * density * AIR_HEAT, self.liquid_rate)
        least, ratio = min(rates), min(rates) / max(rates)
        units = ua / least
        inner = (math.exp(-ratio * math.pow(units, 0.78)) - 1) / ratio
        return least * (1 - math.exp(math.pow(units, 0.22) * inner))

    def rise(self, power: float, air_flow: float, density: float) -> float:
        """The block over the air, settled [K], at a heater's power [W]."""
        return self._over(power, self.conductance(air_flow, density))

    def tau(self, conductance: float) -> float:
        """The slow time constant [s] with a radiator of this conductance."""
        return -1.0 / float(np.max(np.linalg.eigvals(self._rates(conductance)).real))

    def settle(
        self, start: tuple[float, float], power: Array, air: Array, conductance: Array, interval: float
    ) -> tuple[Array, Array]:
        """Block and liquid (into the radiator) as they follow heater and air [K].

        Parameters
        ----------
        start : both at first [K]. power : of the heater [W], (n,). air : before the radiator [K], (n,).
        conductance : of the radiator in each row, constant within a setting [W/K], (n,).
        """
        block, liquid = start
        blocks, liquids = [0.0] * len(power), [0.0] * len(power)
        held, moves = 0.0, (1.0, 0.0, 0.0, 1.0)
        rows = zip(power.tolist(), air.tolist(), conductance.tolist(), strict=True)
        for i, (watts, t_air, k) in enumerate(rows):
            if k != held:
                held, moves = k, _exponential(self._rates(k) * interval)
            blocks[i], liquids[i] = block, liquid
            over = self._over(watts, k)
            end_block, end_liquid = t_air + over, t_air + (watts - LOSS * over + PUMP) / k
            d_block, d_liquid = block - end_block, liquid - end_liquid
            block = end_block + moves[0] * d_block + moves[1] * d_liquid
            liquid = end_liquid + moves[2] * d_block + moves[3] * d_liquid
        return np.asarray(blocks), np.asarray(liquids)

    def _over(self, power: float, conductance: float) -> float:
        """The block over the air, settled [K]."""
        path = 1 / conductance + self.block
        return (power * path + PUMP / conductance) / (1 + LOSS * path)

    def _rates(self, conductance: float) -> Array:
        """How fast block and liquid follow what drives them [1/s]."""
        link = 1 / self.block
        return np.array(
            [
                [-(link + LOSS) / BLOCK_CAPACITY, link / BLOCK_CAPACITY],
                [link / LIQUID_CAPACITY, -(link + conductance) / LIQUID_CAPACITY],
            ]
        )


def _exponential(matrix: Array) -> tuple[float, float, float, float]:
    """exp of a 2 × 2 matrix with two real eigenvalues, by Sylvester's formula, row by row."""
    values = np.linalg.eigvals(matrix).real
    a, b = float(values[0]), float(values[1])
    one = np.eye(2)
    found = (math.exp(a) * (matrix - b * one) - math.exp(b) * (matrix - a * one)) / (a - b)
    return tuple(float(each) for each in found.ravel())  # type: ignore[return-value]


def operating(
    fan: Fan, obstacle: Obstacle, free_speed: float, air: Air, *, held: bool = False
) -> tuple[float, float]:
    """Where a fan works on a tile of the radiator: (flow [m³/s], speed [1/s]).

    Parameters
    ----------
    free_speed : at free delivery [1/s]; the speed itself where it is `held`.
    """

    def speed(q: float) -> float:
        return free_speed if held else fan.loaded_speed(free_speed, q)

    def surplus(q: float) -> float:
        n = speed(q)
        return fan.pressure(q, n, air.density) - obstacle.drop(fan.flow(q, n), air)

    low = next(q for q in (1 - i / _COARSE for i in range(1, _COARSE)) if surplus(q) > 0)
    high = low + 1 / _COARSE
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if surplus(middle) > 0 else (low, middle)
    n = speed(low)
    return fan.flow(low, n), n
