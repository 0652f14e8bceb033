"""What one mounting gives to a table of airflow: its operating points on all loads of the table, with their errors."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Characteristic, Part, pressure_coefficients
from stillroom.core.fanlaws import disc_area
from stillroom.core.mounted import BEYOND, GRID, MountedFan
from stillroom.core.operating import NOT_UNIQUE, OperatingPoints, operating_points
from stillroom.core.room_air import STANDARD_AIR
from stillroom.measures.crossing import FELT
from stillroom.measures.found import ENDS, STRAY
from stillroom.publish.estimate.loads import ROUGH, Loads, each_cell, loads_at, middle, rough

TRIALS = 400
"""By which the errors of readings are told."""

FEW, COARSE = 200, 2
"""By how many, and on which share of the abscissas, it is told whether a load has several operating points."""


def volume(fan: MountedFan) -> float:
    """Flow over φ and speed [m³]."""
    return float(disc_area(fan.diameter)) * math.pi * fan.diameter


def head(fan: MountedFan) -> float:
    """Pressure over ψ and squared speed in standard air [Pa s²]."""
    return 0.5 * STANDARD_AIR.density * (math.pi * fan.diameter) ** 2


def reynolds(fan: MountedFan, speed: float) -> float:
    """Reynolds number in standard air at a speed [1/s]."""
    return math.pi * fan.diameter**2 * speed * STANDARD_AIR.density / STANDARD_AIR.viscosity


@dataclass(frozen=True)
class Weighed:
    """One mounting with its share in the fan's value, a bridge's ratio in it, and its sample."""

    fan: MountedFan
    weight: float
    sample: str


@dataclass(frozen=True)
class Ends:
    """Operating points of one mounting on several loads, as t.

    Parameters
    ----------
    value : of greatest flow, (loads,). low, high : ends of the range that stands for it, the value where it is unique.
    lows, highs : their trials, (loads, M). several : share of trials with three points or more, (loads,) [1].
    """

    value: Array
    low: Array
    high: Array
    lows: Array
    highs: Array
    several: Array


class MountingFlows:
    """What one mounting gives to the table; flows are t of the fan's own scales."""

    def __init__(
        self,
        each: Weighed,
        scales: tuple[float, float],
        speed: float,
        speeds: tuple[float, float],
        sources: tuple[str, ...],
    ) -> None:
        fan = each.fan
        self.weight, curve = each.weight, fan.characteristic
        phi = np.linspace(0.0, curve.reach[1] * BEYOND, GRID)
        self._t, self._head = phi * volume(fan) / scales[0], head(fan) / scales[1]
        self._phi, self._fan = phi, fan
        self.reach = curve.reach[1] * volume(fan) / scales[0]
        loads, halves = loads_at(*each_cell()), loads_at(*middle())
        self.central = [self._points(self._rows(curve, at), loads) for at in (speeds[0], speed, speeds[1])]
        own = replace(curve, sources=(), effects=curve.effects[:0], noise=curve.noise[:TRIALS])
        rows = self._rows(own, speed, Part.TOTAL)
        few = self._few(speed, FEW)
        found = [
            operating_points(self._t[::COARSE], few, self._drop(loads, i)[:, ::COARSE])
            for i in range(len(loads[0]))
        ]
        self.several = np.array([float((each.count[1:] >= 3).mean()) for each in found])
        lost = np.array([float(each.missing.mean()) for each in found])
        self.missing = self.central[1].missing | (lost > np.where(each_cell()[0] == 1.0, ENDS, STRAY))
        self.felt = self._between_sweeps(speed, loads)[2]
        half = [operating_points(self._t, rows, self._drop(halves, i)) for i in range(len(halves[0]))]
        end = float(self._t[-1])
        flows = np.array([np.where(each.missing, end, each.flow) for each in half])
        self.of_value, self.trials = flows[:, 0], flows[:, 1:]
        self.loadings = np.stack([self._effects(curve, at, halves, sources) for at in speeds])

    def _rows(self, curve: Characteristic, speed: float, part: Part = Part.CENTRAL) -> Array:
        psi = pressure_coefficients(curve, self._phi, reynolds(self._fan, speed), part=part)
        return np.asarray(psi * self._head)

    def _drop(self, loads: Loads, cell: int) -> Array:
        return np.asarray((loads[0][cell] * self._t + loads[1][cell] * self._t**2)[None, :])

    def _points(self, row: Array, loads: Loads) -> OperatingPoints:
        """Operating points of one curve on many loads, the loads as rows; a missing one lies at the curve's end."""
        drop = loads[0][:, None] * self._t + loads[1][:, None] * self._t**2
        found = operating_points(self._t, np.broadcast_to(row, drop.shape), drop)
        flow = np.where(found.missing, self._t[-1], found.flow)
        return replace(found, flow=flow, lowest=np.where(found.missing, flow, found.lowest))

    def _few(self, speed: float, trials: int) -> Array:
        """The central curve and some trials of all errors, on the coarse abscissas."""
        curve = self._fan.characteristic
        few = replace(curve, noise=curve.noise[:trials])
        rows = self._rows(few, speed, Part.TOTAL)[:, ::COARSE]
        return np.concatenate([rows[:1], rows[1 + len(curve.sources) :]])

    def ends(self, speed: float, loads: Loads) -> Ends:
        """The operating points of greatest and of least flow on each load."""
        rows, t = self._few(speed, FEW), self._t[::COARSE]
        found = [operating_points(t, rows, self._drop(loads, i)[:, ::COARSE]) for i in range(len(loads[0]))]
        chosen = np.array([np.where(each.missing, t[-1], each.flow) for each in found])
        lowest = np.array([np.where(each.missing, t[-1], each.lowest) for each in found])
        several = np.array([float((each.count[1:] >= 3).mean()) for each in found])
        value = self._points(self._rows(self._fan.characteristic, speed)[0], loads).flow
        low = np.where(several > NOT_UNIQUE, np.minimum(lowest[:, 0], value), value)
        least, most, felt = self._between_sweeps(speed, loads)
        low, high = (
            np.where(felt, np.minimum(low, least), low),
            np.where(felt, np.maximum(value, most), value),
        )
        lows = np.where((several > NOT_UNIQUE)[:, None], lowest[:, 1:], chosen[:, 1:])
        return Ends(value, low, high, np.minimum(lows, lows + (low - value)[:, None]) if felt.any() else lows,
                    chosen[:, 1:] + (high - value)[:, None], several)  # fmt: skip

    def _between_sweeps(self, speed: float, loads: Loads) -> tuple[Array, Array, NDArray[np.bool_]]:
        """Least and greatest point of the sweeps up and down on each load, and where one would notice."""
        row = self._rows(self._fan.characteristic, speed)[0]
        value = self._points(row, loads).flow
        told = self._fan.hysteresis
        if told is None:
            return value, value, np.zeros(len(value), bool)
        half = np.interp(self._phi, told.phi, np.abs(told.half), left=0.0, right=0.0) * self._head
        ends = [self._points(row + sign * half, loads).flow for sign in (-1.0, 1.0)]
        least, most = np.minimum(*ends), np.maximum(*ends)
        return least, most, most - least > FELT * value

    def _effects(self, curve: Characteristic, speed: float, loads: Loads, sources: tuple[str, ...]) -> Array:
        """Change of t by +1 standard deviation of each source at the rough strengths, (ROUGH, k)."""
        rows = self._rows(replace(curve, noise=curve.noise[:0]), speed, Part.TOTAL)
        changes = np.zeros((ROUGH, len(sources)))
        where = [sources.index(name) for name in curve.sources]
        for place, cell in enumerate(rough()):
            found = operating_points(self._t, rows, self._drop(loads, int(cell)))
            flow = np.where(found.missing, self._t[-1], found.flow)
            changes[place, where] = flow[1:] - flow[0]
        return changes
