"""Effectiveness of a cross-flow exchanger, and the least that a radiator can be warmer than the air."""

from __future__ import annotations

from stillroom.core.arrays import Array

AIR_SPECIFIC_HEAT = 1006.0
"""Specific heat of dry air at 25 °C and 1 atm [J/(kg K)]; moist air has a little more (up to 1 % at 25 °C, 50 %)."""


def cross_flow_effectiveness(ntu: Array | float, capacity_ratio: Array | float) -> Array:
    """Effectiveness of a cross-flow exchanger with both streams unmixed [1]."""
    raise NotImplementedError


def least_rise(power: float, flow: float, density: float, specific_heat: float = AIR_SPECIFIC_HEAT) -> float:
    """The least by which the liquid is warmer than the air going in: P/C_air [K]."""
    raise NotImplementedError
