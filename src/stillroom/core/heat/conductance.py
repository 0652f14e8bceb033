"""Temperature difference at nominal power, and conductance."""

from __future__ import annotations


def delta_at_nominal(delta: float, power: float, nominal: float) -> float:
    """Temperature difference brought to nominal power, as it grows with power [K]."""
    raise NotImplementedError


def conductance(power: float, delta: float) -> float:
    """Conductance G = P/ΔT [W/K]."""
    raise NotImplementedError
