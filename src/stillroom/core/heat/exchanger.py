"""Effectiveness of a cross-flow exchanger, and the least that a radiator can be warmer than the air."""

from __future__ import annotations

import math

import numpy as np
import scipy

from stillroom.core.arrays import Array
from stillroom.errors import OutOfRange

AIR_SPECIFIC_HEAT = 1006.0
"""Specific heat of dry air at 25 °C and 1 atm [J/(kg K)]; moist air has up to 1 % more at 25 °C and 50 %."""


def cross_flow_effectiveness(ntu: Array | float, capacity_ratio: Array | float) -> Array:
    """Effectiveness of a cross-flow exchanger with both streams unmixed, by its exact series.

    Parameters
    ----------
    ntu : number of transfer units UA/C_min, 0 or more [1].
    capacity_ratio : C_min/C_max, 0 to 1 [1].

    Returns
    -------
    Effectiveness, of their broadcast shape [1], to rounding.

    Limits
    ------
    One pass, uniform streams. The closed form in textbooks, 1 − exp((exp(−C NTU^0.78) − 1) NTU^0.22/C), is an
    approximation and up to some 1 % higher.

    Raises
    ------
    OutOfRange : a negative number of transfer units, or a ratio outside 0 to 1.

    Source: Mason, Proc. 2nd US National Congress of Applied Mechanics (1955), 801; in the form of Baclić, J. Heat
    Transfer 100 (1978), 746: ε = 1/(C NTU) Σ P(n + 1, NTU) P(n + 1, C NTU) with the regularised incomplete gamma
    function P (from memory; checked against an independent implementation and by integration).
    """
    n, ratio = np.broadcast_arrays(
        np.asarray(ntu, dtype=np.float64), np.asarray(capacity_ratio, dtype=np.float64)
    )
    if not (np.all(n >= 0.0) and np.all((ratio >= 0.0) & (ratio <= 1.0))):
        raise OutOfRange(
            "cross-flow exchanger", found="NTU or C_min/C_max outside", expected="NTU ≥ 0, C 0 to 1"
        )
    weak = n * ratio
    terms = int(
        weak.max(initial=0.0) + 12.0 * math.sqrt(weak.max(initial=0.0)) + 40.0
    )  # P(n + 1, x) is 0 beyond
    order = np.arange(1.0, terms + 1.0).reshape(-1, *(1,) * n.ndim)
    series = (scipy.special.gammainc(order, n) * scipy.special.gammainc(order, weak)).sum(axis=0)
    small = weak < 1e-9
    return np.asarray(np.where(small, -np.expm1(-n), series / np.where(small, 1.0, weak)))


def least_rise(power: float, flow: float, density: float, specific_heat: float = AIR_SPECIFIC_HEAT) -> float:
    """The least by which a liquid is warmer than the air that goes in: P/C_air.

    Air can't leave a radiator hotter than the hottest liquid, so all the heat warms it by no more than ΔT.

    Parameters
    ----------
    power : heat given off [W].
    flow, density : of the air [m³/s], [kg/m³].
    specific_heat : [J/(kg K)].

    Returns
    -------
    Temperature difference [K].

    Raises
    ------
    OutOfRange : a flow, density or specific heat that is not above zero.
    """
    capacity = density * specific_heat * flow
    if not capacity > 0.0:
        raise OutOfRange(
            "air through a radiator", found=f"{flow:g} m³/s of {density:g} kg/m³", expected="above 0"
        )
    return power / capacity
