"""Heat put in against the heat that the liquid carries."""

from __future__ import annotations

from dataclasses import dataclass

from stillroom.core.heat.liquid import Liquid


@dataclass(frozen=True)
class Value:
    """A value with its standard uncertainty."""

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
    """Heat that a liquid gives up between two probes [W].

    Parameters
    ----------
    flow : [m³/s], metered at the cooler side. t_in : where it is hot, t_out : where it is cooled [K].
    u_rise : standard uncertainty of the difference, where the probes share errors [K]; None: theirs are independent.
    """
    raise NotImplementedError


def balance(liquid: Value, electric: Value, pump: Value) -> Balance:
    """Heat by the liquid against electric heat and pump heat [W]."""
    raise NotImplementedError
