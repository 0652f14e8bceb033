"""The heat rig's probes and meters with their hidden errors, and its own part of the rigs' description."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.demo.calendar import Calendar
from stillroom.demo.draws import Draws
from stillroom.demo.heat.loop import PUMP, SET_FLOW
from stillroom.demo.heat.plan import FANS, NOMINAL_POWER, RIG
from stillroom.demo.heat.wander import correlated, normals

Array = NDArray[np.float64]

AIRS = ("air_in_temperature", "air_in_temperature_2", "air_in_temperature_3")
PROBES = ("hot_temperature", "liquid_in_temperature", "liquid_out_temperature", *AIRS)
OFFSET_SD, BATH_SD = 0.15, 0.008
"""Spread of the probes' offsets, and how evenly warm the bath is [K]."""
NOISE, MEMORY = 0.03, 9.0
"""Of a thermocouple's reading: standard deviation [K], and the time after which it has forgotten [s]."""
LAYERS = 0.04
"""How much the air differs from probe to probe before the radiator [K]."""


@dataclass(frozen=True)
class Meters:
    """The rig's hidden errors: probes' offsets [K], and gains of the meters by quantity.

    `layers` is what the air at each air probe is warmer than on average [K].
    """

    seed: int
    offsets: dict[str, float]
    gains: dict[str, float]
    layers: dict[str, float]

    def temperature(self, probe: str, true: Array, occasion: str, interval: float) -> Array:
        """What a probe shows [K]."""
        noise = NOISE * correlated(self.seed, f"{probe} {occasion}", len(true), interval, MEMORY)
        return true + self.offsets[probe] + noise

    def read(self, quantity: str, true: Array, occasion: str) -> Array:
        """What a meter shows, before rounding."""
        noise = 1 + _NOISES[quantity] * normals(self.seed, f"{quantity} {occasion}", len(true))
        return np.asarray(true * self.gains[quantity] * noise)


_GAINS = {"heater_voltage": 7e-4, "heater_current": 1.2e-3, "liquid_flow": 8e-3, "speed": 2e-4, "voltage": 1e-3,
          "current": 4e-3}  # fmt: skip
"""Relative standard uncertainty of the meters, by quantity."""
_NOISES = {"heater_voltage": 4e-4, "heater_current": 4e-4, "liquid_flow": 4e-3, "speed": 8e-4, "voltage": 5e-4,
           "current": 5e-3}  # fmt: skip
"""Relative standard deviation of one reading."""
_TYPES = {
    "heater_voltage": ("heater-volts", "± 0.12 % of reading"),
    "heater_current": ("heater-amps", "± 0.2 % of reading"),
    "liquid_flow": ("flow-meter", "± 1.5 % of reading"),
    "speed": ("tachometer-heat", "± 0.05 % of reading"),
    "voltage": ("fan-volts-heat", "± 0.2 % of reading"),
    "current": ("fan-amps-heat", "± 0.7 % of reading"),
}
_NAMES = {
    "hot_temperature": "tc-hot",
    "liquid_in_temperature": "tc-liquid-in",
    "liquid_out_temperature": "tc-liquid-out",
    "air_in_temperature": "tc-air-1",
    "air_in_temperature_2": "tc-air-2",
    "air_in_temperature_3": "tc-air-3",
}


def build_meters(seed: int) -> Meters:
    """Draw the rig's hidden errors."""
    raw = {probe: Draws(seed, f"layer {probe}").normal(LAYERS) for probe in AIRS}
    mean = sum(raw.values()) / len(raw)
    return Meters(
        seed,
        {probe: Draws(seed, f"offset {probe}").normal(OFFSET_SD) for probe in PROBES},
        {quantity: Draws(seed, f"heat gain {quantity}").near_one(sd) for quantity, sd in _GAINS.items()},
        {probe: value - mean for probe, value in raw.items()},
    )


def rig_lines(calendar: Calendar, radiator: str, done: int, due: int) -> Iterator[str]:
    """The heat rig in the laboratory's own words: `heat.toml`.

    `done` is how many days before the round things were calibrated, `due` how long that holds.
    """
    yield f"[rig.{RIG}]"
    yield 'kind = "heat"'
    yield f'nominal_power = "{NOMINAL_POWER:g} W"'
    yield f'radiator = "{radiator}"'
    yield f"fans = {FANS}"
    yield 'coolant = "water"'
    yield f'coolant_flow = "{SET_FLOW * 60e3:g} l/min"'
    yield f'pump_power = "{PUMP:g} W"'
    yield ""
    yield f"[rig.{RIG}.roles]"
    for quantity, (name, _) in _TYPES.items():
        yield f'{quantity} = "{name}"'
    for probe, name in _NAMES.items():
        yield f'{probe} = "{name}"'
    yield ""
    for number, (quantity, (name, accuracy)) in enumerate(_TYPES.items()):
        yield f"[instrument.{name}]"
        yield f'quantity = "{quantity}"'
        yield f'accuracy = "{accuracy}"'
        yield ""
        yield f"[instrument.{name}.calibration]"
        yield f'date = "{calendar.before(done)}"'
        yield f'due = "{calendar.before(done - due)}"'
        yield f'certificate = "H-{calendar.first.year - 1}-{41 + number}"'
        yield ""
    for probe, name in _NAMES.items():
        yield f"[instrument.{name}]"
        yield f'quantity = "{probe}"'
        yield 'accuracy = "± 0.5 K"'
        yield 'resolution = "0.01 K"'
        yield ""
