"""What is physically possible or plausible on a fan bench, as data: checked when a file is read.

The limits are wide: they catch a wrong unit, a swapped column or a broken sensor, not a bad reading.
Common practice of fan benches; the barometric limits span the air pressure of inhabited places.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from stillroom.readers.words.numbers import Array
from stillroom.vocabulary import AIR_PROBES, air_probe, from_si


@dataclass(frozen=True)
class Bound:
    """The lowest and highest value that is believed, in SI, and why."""

    low: float
    high: float
    why: str


BOUNDS: dict[str, Bound] = {
    "barometric_pressure": Bound(50e3, 115e3, "an absolute air pressure"),
    "relative_humidity": Bound(0.0, 1.0, "a relative humidity"),
    "temperature": Bound(233.15, 358.15, "the temperature of air on a bench"),
    "wet_bulb_temperature": Bound(233.15, 358.15, "the temperature of air on a bench"),
    "speed": Bound(0.0, 1000.0, "a speed without sign"),
    "optical_speed": Bound(0.0, 1000.0, "a speed without sign"),
    "duty": Bound(0.0, 1.0, "a duty"),
    "nozzle_pressure": Bound(-5.0, 50e3, "a nozzle's differential pressure, zero noise included"),
    "static_pressure": Bound(-50e3, 50e3, "a fan's static pressure"),
    "resistance_pressure": Bound(-5.0, 50e3, "a pressure drop, zero noise included"),
    "density": Bound(0.4, 2.0, "the density of air"),
    "sound_level": Bound(-20.0, 150.0, "a sound level"),
    "fast_level": Bound(-20.0, 150.0, "a sound level"),
    "c_level": Bound(-20.0, 150.0, "a sound level"),
    "background_level": Bound(-20.0, 150.0, "a sound level"),
    "band_level": Bound(-200.0, 150.0, "the level of a band; an empty bin of a spectrum has a very low one"),
    "frequency": Bound(0.0, 200e3, "a frequency of sound"),
    "distance": Bound(0.01, 50.0, "the distance of a microphone"),
    "hot_temperature": Bound(253.15, 473.15, "the temperature of a heated block"),
    "liquid_in_temperature": Bound(253.15, 393.15, "the temperature of a liquid in a loop"),
    "liquid_out_temperature": Bound(253.15, 393.15, "the temperature of a liquid in a loop"),
    "air_out_temperature": Bound(253.15, 393.15, "the temperature of air behind a radiator"),
    **{
        air_probe(n): Bound(253.15, 343.15, "the temperature of a room's air")
        for n in range(1, AIR_PROBES + 1)
    },
    "heater_voltage": Bound(-1.0, 600.0, "the voltage of a heater"),
    "heater_current": Bound(-0.5, 100.0, "the current of a heater"),
    "heater_power": Bound(-5.0, 20e3, "the power of a heater"),
    "liquid_flow": Bound(-1e-5, 1e-2, "the flow of a liquid in a loop"),
}

_LIKE_DEGREES_C = (-40.0, 85.0)
_LIKE_HECTOPASCAL = (500.0, 1150.0)


def first_outside(quantity: str, values: Array) -> int:
    """The index of the first value outside its bounds, or -1."""
    bound = BOUNDS.get(quantity)
    if bound is None or (
        values.min(initial=bound.low) >= bound.low and values.max(initial=bound.low) <= bound.high
    ):
        return -1
    outside = np.flatnonzero((values < bound.low) | (values > bound.high))
    return int(outside[0]) if outside.size else -1


def expected_words(quantity: str, symbol: str) -> str:
    """The bounds of a quantity in a unit, in words."""
    bound = BOUNDS[quantity]
    low, high = from_si(bound.low, symbol), from_si(bound.high, symbol)
    return f"{low:.6g} to {high:.6g} {symbol}, as {bound.why}"


SHARES = ("duty", "relative_humidity")


def looks_like_share(quantity: str, values: Array, symbol: str) -> bool:
    """Whether values in per cent look like shares of one: none is above 1 %, and not all are nought.

    Of humidities one is enough: no room is so dry, and cells of a sheet may be shown as per cent here and there.
    """
    if quantity not in SHARES or symbol != "%":
        return False
    lowest = float(values[values > 0].min(initial=1.0)) if quantity == "relative_humidity" else 1.0
    return 0 < min(float(values.max(initial=0.0)), lowest) <= 0.01 * (1 + 1e-12)


def looks_swapped(columns: Mapping[str, Array], units: Mapping[str, str]) -> bool:
    """Whether the barometer's column holds temperatures and the temperature's column air pressures."""
    if "barometric_pressure" not in columns or "temperature" not in columns:
        return False
    if first_outside("temperature", columns["temperature"]) < 0:
        return False
    pressure = from_si(float(np.median(columns["barometric_pressure"])), units["barometric_pressure"])
    temperature = from_si(float(np.median(columns["temperature"])), units["temperature"])
    scale = 1.0 if temperature < 5e3 else 0.01
    return (
        _LIKE_DEGREES_C[0] <= pressure <= _LIKE_DEGREES_C[1]
        and _LIKE_HECTOPASCAL[0] <= temperature * scale <= _LIKE_HECTOPASCAL[1]
    )
