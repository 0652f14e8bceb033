"""Heat put in against the heat that the liquid carries."""

from __future__ import annotations

import math
from dataclasses import dataclass

from stillroom.core.heat.liquid import Liquid
from stillroom.errors import NotPossible


@dataclass(frozen=True)
class Value:
    """A value with its standard uncertainty, in the unit of the quantity."""

    value: float
    u: float


@dataclass(frozen=True)
class Balance:
    """Heat carried by the liquid over heat put in.

    Parameters
    ----------
    ratio, u : liquid over (electric + pump), and its standard uncertainty [1]. liquid, put_in : the two [W].
    """

    ratio: float
    u: float
    liquid: float
    put_in: float


def liquid_heat(
    flow: Value, t_in: Value, t_out: Value, liquid: Liquid, *, u_rise: float | None = None
) -> Value:
    """Heat that a liquid gives up between two probes, ρ c Q (T_in − T_out).

    Parameters
    ----------
    flow : [m³/s].
    t_in, t_out : where it goes into the radiator, and where it comes out [K].
    liquid : what it is; its properties are taken at the mean of the two temperatures.
    u_rise : standard uncertainty of the difference, where the probes share errors [K]; None: theirs are independent.

    Returns
    -------
    Heat and its standard uncertainty [W], first order (JCGM 100:2008, 5.1.2), properties included.

    Raises
    ------
    OutOfRange : a temperature beyond the liquid's formulas.
    """
    middle = 0.5 * (t_in.value + t_out.value)
    capacity = float(liquid.density(middle) * liquid.specific_heat(middle)) * flow.value
    rise = t_in.value - t_out.value
    u_difference = math.hypot(t_in.u, t_out.u) if u_rise is None else u_rise
    relative = math.hypot(liquid.u_density, liquid.u_specific_heat)
    by_flow = capacity / flow.value * rise * flow.u if flow.value else 0.0
    u = math.hypot(by_flow, capacity * u_difference, capacity * rise * relative)
    return Value(capacity * rise, u)


def balance(liquid: Value, electric: Value, pump: Value) -> Balance:
    """Heat by the liquid against electric heat and the heat of the pump.

    Parameters
    ----------
    liquid : as by `liquid_heat` [W].
    electric : heat load [W].
    pump : the part of its power that the pump leaves in the liquid between heater and radiator [W].

    Raises
    ------
    NotPossible : no heat is put in.
    """
    put_in = electric.value + pump.value
    if not put_in > 0.0:
        raise NotPossible("heat balance", found=f"{put_in:g} W put in", expected="a heat load")
    ratio = liquid.value / put_in
    u = math.hypot(liquid.u, ratio * electric.u, ratio * pump.u) / put_in
    return Balance(ratio, u, liquid.value, put_in)
