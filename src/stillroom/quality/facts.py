"""What the rules are told: plain facts of runs, mountings, fans and instruments, gathered by the lab."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Characteristic, SweepCheck
from stillroom.core.deviation import Cloud
from stillroom.records.acts import Event
from stillroom.records.products import Claim, Fan, Price


@dataclass(frozen=True)
class RunFacts:
    """One run of a mounting.

    Parameters
    ----------
    run, key, file, date, rig : its identity, key, file, date and rig. lines : of the file, one a point.
    setting, setting_word : duty [1], volts [V] or speed [1/s], None where nobody told; and in words.
    flow [m³/s], pressure [Pa], speed [1/s], power [W] : as reduced, (n,); speed, power None where not read.
    own_flow, own_pressure : standard deviations of the points' own errors (n,), SI.
    shared_flow, shared_pressure : relative standard uncertainty by what the whole run shares [1].
    phi, psi, reynolds : dimensionless, (n,). scatter : beyond the own errors, relative to ψ, (n,) [1].
    nozzles : open nozzles of each point.
    read : columns as they were read, SI. marks : what the reduction says. low_reynolds : number of points.
    density : mean [kg/m³]. efficiency : best static efficiency [1] or None.
    check : how the sweep agrees with its mounting's curve. held : points held from the fit.
    """

    run: str
    key: str
    file: str
    date: str
    rig: str
    lines: tuple[int, ...]
    setting: float | None
    setting_word: str
    flow: Array
    pressure: Array
    speed: Array | None
    power: Array | None
    own_flow: Array
    own_pressure: Array
    shared_flow: float
    shared_pressure: float
    phi: Array
    psi: Array
    reynolds: Array
    scatter: Array
    nozzles: tuple[tuple[str, ...], ...]
    read: Mapping[str, Array]
    marks: tuple[str, ...]
    low_reynolds: int
    density: float
    efficiency: float | None
    check: SweepCheck
    held: tuple[int, ...]

    @property
    def subject(self) -> str:
        """As a finding names it."""
        return f"run:{self.run}"

    @property
    def words(self) -> str:
        """As people name it."""
        return f"the sweep at {self.setting_word}" if self.setting_word else f"the sweep in {self.file}"

    @cached_property
    def mean_speed(self) -> float | None:
        """Mean speed [1/s], or None where it was not read."""
        return None if self.speed is None else float(np.mean(self.speed))


@dataclass(frozen=True)
class MountingFacts:
    """One mounting of a sample.

    Parameters
    ----------
    name, fan, sample, obstacle, rig : of the mounting. date : of it, "" where nobody told.
    judged : the key that findings judge. registered : whether the sample has a record.
    runs : its sweeps that no decision excludes.
    curve : its characteristic; None where it could not be had, `failed` then says why.
    diameter [m]. bores : {nozzle: bore} of the rig's bank [m].
    """

    name: str
    fan: str
    sample: str
    obstacle: str
    rig: str
    date: str
    judged: str
    registered: bool
    runs: tuple[RunFacts, ...]
    curve: Characteristic | None
    failed: str
    diameter: float
    bores: Mapping[str, float]

    @property
    def subject(self) -> str:
        """As a finding names it."""
        return f"mounting:{self.name}"

    @property
    def sound_runs(self) -> tuple[RunFacts, ...]:
        """The sweeps that the fit uses."""
        return tuple(each for each in self.runs if not each.check.dropped)

    @cached_property
    def speeds(self) -> dict[float, float]:
        """{setting: mean speed [1/s]} where both are known."""
        return {
            each.setting: each.mean_speed
            for each in self.runs
            if each.setting is not None and each.mean_speed
        }


def cloud_of(runs: tuple[RunFacts, ...]) -> Cloud:
    """The points of sweeps, in dimensionless form, held ones left out."""

    def all_of(name: str) -> Array:
        return np.concatenate([np.delete(getattr(each, name), each.held) for each in runs])

    flow, pressure, phi, psi = (all_of(name) for name in ("flow", "pressure", "phi", "psi"))
    per_flow = np.divide(phi, flow, out=np.zeros_like(phi), where=flow != 0.0)
    per_pressure = np.divide(psi, pressure, out=np.zeros_like(psi), where=pressure != 0.0)
    own_pressure = np.hypot(all_of("own_pressure") * per_pressure, all_of("scatter") * np.abs(psi))
    return Cloud(phi, psi, all_of("reynolds"), all_of("own_flow") * per_flow, own_pressure)


@dataclass(frozen=True)
class FanFacts:
    """A fan with all its mountings.

    Parameters
    ----------
    name : the fan's. record : what is told of it, or None. mountings : in the order of their dates.
    claims, prices : of it. events : that change results, on the rigs used.
    repeatability : agreed relative standard deviation between mountings, or None where none is agreed.
    """

    name: str
    record: Fan | None
    mountings: tuple[MountingFacts, ...]
    claims: tuple[Claim, ...]
    prices: tuple[Price, ...]
    events: tuple[Event, ...]
    repeatability: float | None


@dataclass(frozen=True)
class InstrumentFacts:
    """An instrument as one or more runs used it under one calibration.

    Parameters
    ----------
    name : the instrument's. calibration : its name, "" where there is none. due : date, or "".
    last : told date of the last run that used it, or "". accuracy : whether an accuracy is told.
    mountings, fans : what hangs on it after it was due (all, where there is no calibration).
    """

    name: str
    calibration: str
    due: str
    last: str
    accuracy: bool
    mountings: tuple[str, ...]
    fans: tuple[str, ...]
