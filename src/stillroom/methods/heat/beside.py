"""What was read beside the rise: the air, the liquid and its heat, the fan's own power, the room."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.heat.balance import Value, balance, liquid_heat
from stillroom.core.heat.liquid import Liquid
from stillroom.errors import StillroomError
from stillroom.methods.heat.channels import (
    BAROMETER,
    HUMIDITY,
    LIQUID_FLOW,
    LIQUID_IN,
    LIQUID_OUT,
    Channels,
    air_of,
)

FLOW_U = 0.02
"""Relative standard uncertainty of a flow meter of which nothing is told [1] (common practice)."""

PROBE_U = 0.05
"""Standard uncertainty of a probe of the liquid, after zeroing [K] (common practice)."""

POWER_U = 0.005
PUMP_U = 0.2
"""Relative standard uncertainty of the electric heat, and of the pump's [1] (common practice)."""


@dataclass(frozen=True)
class Beside:
    """Fields of a step by name, and marks."""

    fields: dict[str, Any] = field(default_factory=dict)
    marks: tuple[str, ...] = ()


def beside_of(
    channels: Channels, window: slice, liquid: Liquid | None, power: float, pump_power: float | None
) -> Beside:
    """All that stands beside the rise in a step's window."""

    def mean(name: str) -> float | None:
        values = channels.get(name)
        return None if values is None else _mean(values[window])

    spread, drift = _air(channels, window)
    volts, amps = mean("voltage"), mean("current")
    fan_power = mean("power")
    if fan_power is None and volts is not None and amps is not None:
        fan_power = volts * amps
    found: dict[str, Any] = {
        "air_spread": spread,
        "air_drift": drift,
        "liquid_flow": mean(LIQUID_FLOW),
        "pump_heat": pump_power or 0.0,
        "fan_power": fan_power,
        "humidity": mean(HUMIDITY),
        "barometer": mean(BAROMETER),
    }
    heat, marks = _balance(mean, liquid, power, pump_power)
    return Beside(found | heat, marks)


def _balance(
    mean: Any, liquid: Liquid | None, power: float, pump: float | None
) -> tuple[dict[str, Any], tuple[str, ...]]:
    flow, t_in, t_out = mean(LIQUID_FLOW), mean(LIQUID_IN), mean(LIQUID_OUT)
    if flow is None or t_in is None or t_out is None or not np.isfinite(power):
        return {}, ()
    if liquid is None:
        return {}, ("coolant not told: no heat balance",)
    try:
        heat = liquid_heat(Value(flow, FLOW_U * flow), Value(t_in, PROBE_U), Value(t_out, PROBE_U), liquid)
        found = balance(heat, Value(power, POWER_U * power), Value(pump or 0.0, PUMP_U * (pump or 0.0)))
    except StillroomError as error:
        return {}, (f"no heat balance: {error.sentence()}",)
    return {"balance": found.ratio, "u_balance": found.u}, ()


def _air(channels: Channels, window: slice) -> tuple[float | None, float]:
    """Greatest difference between the means of the air's probes (None with one), and the change of their mean [K]."""
    air, names = air_of(channels)
    means = [m for name in names if (m := _mean(channels.columns[name][window])) is not None]
    spread = max(means) - min(means) if len(means) > 1 else None
    inside, times = air[window], channels.times[window]
    there = np.isfinite(inside)
    if np.count_nonzero(there) < 2:
        return spread, 0.0
    t = times[there] - times[there].mean()
    slope = float(t @ inside[there]) / float(t @ t)
    return spread, slope * float(times[-1] - times[0])


def _mean(values: Array) -> float | None:
    inside = values[np.isfinite(values)]
    return float(inside.mean()) if len(inside) else None
