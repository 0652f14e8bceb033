"""An invented heat rig in a few lines: a heated block, a loop, a radiator; its truth in closed form.

Two nodes: the block takes the electric heat and gives it to the loop, the loop to the air through the radiator. At
the end of time the block stands P (1/G + 1/G_block) above the air. Nothing of the package is used for that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

LOOP, BLOCK = 5500.0, 300.0
"""Heat capacities [J/K]."""

BETWEEN = 150.0
"""Conductance from block to loop [W/K]."""

ROOM = 295.15
NOISE = 0.03


@dataclass(frozen=True)
class Setting:
    """A fan at one duty [1] and speed [1/s], for some seconds, on a radiator of so many W/K."""

    duty: float
    speed: float
    conductance: float
    seconds: int


def rise(power: float, conductance: float) -> float:
    """The block above the air at the end of time [K]."""
    return power * (1.0 / conductance + 1.0 / BETWEEN)


def run(
    settings: Sequence[Setting],
    *,
    power: float = 297.0,
    drift: float = 0.0,
    seed: int = 1,
    interval: float = 1.0,
    noise: float = NOISE,
) -> dict[str, Array]:
    """The channels of a run that starts cold, every `interval` seconds.

    Parameters
    ----------
    power : electric heat [W]. drift : of the room [K/h]. noise : standard deviation of a probe [K].
    """
    duration = sum(each.seconds for each in settings)
    times = np.arange(0.0, duration, 1.0)
    room = ROOM + drift * times / 3600.0
    each_second = [np.full(each.seconds, value) for each in settings for value in [each.conductance]]
    conductance = np.concatenate(each_second)
    block, loop = np.empty(duration), np.empty(duration)
    t_block = t_loop = ROOM
    for i in range(duration):
        block[i], loop[i] = t_block, t_loop
        across = BETWEEN * (t_block - t_loop)
        t_block += (power - across) / BLOCK
        t_loop += (across - conductance[i] * (t_loop - room[i])) / LOOP
    generator = np.random.default_rng(seed)

    def read(values: Array, sd: float) -> Array:
        return np.asarray(values + generator.normal(0.0, sd, duration))

    duty = np.concatenate([np.full(each.seconds, each.duty) for each in settings])
    speed = np.concatenate([np.full(each.seconds, each.speed) for each in settings])
    volts, ohms = 60.0, 60.0**2 / power
    columns = {
        "time": times,
        "hot_temperature": read(block, noise),
        "air_in_temperature": read(room, noise),
        "air_in_temperature_2": read(room, noise),
        "heater_voltage": read(np.full(duration, volts), 0.02),
        "heater_current": read(np.full(duration, volts / ohms), 0.002),
        "speed": read(speed, 0.05),
        "duty": duty,
    }
    step = round(interval)
    return {name: values[::step] for name, values in columns.items()}
