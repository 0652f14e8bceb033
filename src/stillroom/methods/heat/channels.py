"""The channels of one run on one clock."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from stillroom.core.arrays import Array

HOT = "hot_temperature"
AIR = "air_in_temperature"
LIQUID_IN, LIQUID_OUT, LIQUID_FLOW = "liquid_in_temperature", "liquid_out_temperature", "liquid_flow"
HEATER, HEATER_VOLTS, HEATER_AMPS = "heater_power", "heater_voltage", "heater_current"
SPEED, OPTICAL = "speed", "optical_speed"
HUMIDITY, BAROMETER = "relative_humidity", "barometric_pressure"

DRIVES = {"duty": "duty", "volts": "voltage", "speed": "set_speed"}
"""{kind of setting: the channel that records it}, in the order in which one is taken."""

LEAST_THERE = 0.9
"""A probe of the air counts where it was read in at least this share of a step's rows [1]."""


@dataclass(frozen=True)
class Channels:
    """Readings in step.

    Parameters
    ----------
    times : rising, (n,) [s]. columns : {quantity: (n,)} [SI], corrected by calibrations; NaN where nothing was read.
    moment : of time 0, ISO 8601, "" where nobody told.
    """

    times: Array
    columns: Mapping[str, Array]
    moment: str = ""

    def between(self, first: float, last: float) -> Channels:
        """The rows from one time to another, both among them."""
        start, stop = np.searchsorted(self.times, (first, np.nextafter(last, np.inf)))
        rows = slice(int(start), int(stop))
        return replace(
            self,
            times=self.times[rows],
            columns={name: values[rows] for name, values in self.columns.items()},
        )

    def get(self, name: str) -> Array | None:
        """A channel, None where it was never read."""
        values = self.columns.get(name)
        return None if values is None or not np.isfinite(values).any() else values

    @property
    def air_names(self) -> tuple[str, ...]:
        """The probes of the air going in."""
        return tuple(name for name in self.columns if is_air_probe(name))


def is_air_probe(name: str) -> bool:
    """Whether a channel is a probe of the air going in: "air_in_temperature", "air_in_temperature_2" …"""
    head, _, number = name.rpartition("_")
    return name == AIR or (head == AIR and number.isdigit())


def probes_of(names: Mapping[str, Array]) -> Iterator[str]:
    """The probes whose difference is the result: the hot one and those of the air going in."""
    return (name for name in names if name == HOT or is_air_probe(name))


def air_of(channels: Channels) -> tuple[Array, tuple[str, ...]]:
    """The air going in: the mean of its probes, row by row, and the probes that counted.

    A probe that was read in less than 0.9 of the rows is left out, so that the mean doesn't jump when it comes or goes;
    a row in which one that counts is missing has no mean.

    Returns
    -------
    (n,) [K], NaN where there is none; and the names of the probes.
    """
    there = [(name, channels.columns[name]) for name in channels.air_names]
    shares = {name: float(np.isfinite(values).mean()) if len(values) else 0.0 for name, values in there}
    least = min(LEAST_THERE, max(shares.values(), default=0.0))
    used = [(name, values) for name, values in there if shares[name] >= least > 0.0]
    if not used:
        return np.full(len(channels.times), np.nan), ()
    return np.mean([values for _, values in used], axis=0), tuple(name for name, _ in used)


def power_of(channels: Channels) -> Array | None:
    """Electric heat, P = V·I, else as a channel of watts tells it, (n,) [W]; None where neither was read."""
    volts, amps = channels.get(HEATER_VOLTS), channels.get(HEATER_AMPS)
    return volts * amps if volts is not None and amps is not None else channels.get(HEATER)
