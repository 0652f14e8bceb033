"""What the rules are told: plain facts of runs, mountings, fans, obstacles and instruments, gathered by the lab."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Characteristic, SweepCheck
from stillroom.core.deviation import Cloud
from stillroom.core.resistance import Resistance
from stillroom.records.acts import Decision, Event
from stillroom.records.limits import Limits
from stillroom.records.products import Claim, Fan, Price, Sample


@dataclass(frozen=True, kw_only=True)
class Beside:
    """What is written beside a run, in the run table or in its file; None or "" where nothing is.

    Parameters
    ----------
    zero_before, zero_after : readings of the pressure gauge without flow [Pa]. warm_up : time at the setting
    before the first point [s]. pwm_frequency : of the control signal [Hz]. note : words.
    """

    zero_before: float | None = None
    zero_after: float | None = None
    warm_up: float | None = None
    pwm_frequency: float | None = None
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class ReadingFacts:
    """One run as it was read and reduced, of a fan or of an obstacle.

    Parameters
    ----------
    run, key, file, date, rig : its identity, key, file, date and rig. lines : of the file, one a point.
    setting, setting_word : duty [1], volts [V] or speed [1/s], None where nobody told; and in words.
    flow [m³/s], pressure [Pa], speed [1/s], power [W] : as reduced, (n,); speed, power None where not read.
    own_flow, own_pressure : standard deviations of the points' own errors (n,), SI.
    shared_flow, shared_pressure : relative standard uncertainty by what the whole run shares [1].
    nozzles : open nozzles of each point.
    read : columns as they were read, SI. marks : what the reduction says. low_reynolds : number of points.
    density : mean [kg/m³]. efficiency : best static efficiency [1] or None.
    setting_kind : "duty", "volts", "speed" or "". direction : of the flow, "up", "down" or "".
    moment : text that sorts runs by when they were made. beside : what is written beside it.
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
    nozzles: tuple[tuple[str, ...], ...]
    read: Mapping[str, Array]
    marks: tuple[str, ...]
    low_reynolds: int
    density: float
    efficiency: float | None
    setting_kind: str = ""
    direction: str = ""
    moment: str = ""
    beside: Beside = Beside()

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


@dataclass(frozen=True, kw_only=True)
class RunFacts(ReadingFacts):
    """One run of a mounting, as the mounting's curve has it.

    Parameters
    ----------
    phi, psi, reynolds : dimensionless, (n,). scatter : beyond the own errors, relative to ψ, (n,) [1].
    check : how the sweep agrees with its mounting's curve. held : points held from the fit.
    """

    phi: Array
    psi: Array
    reynolds: Array
    scatter: Array
    check: SweepCheck
    held: tuple[int, ...]


@dataclass(frozen=True)
class Gauge:
    """What is told of the gauge of a quantity: its resolution and span, SI; None where nobody told."""

    resolution: float | None = None
    span: float | None = None


@dataclass(frozen=True, kw_only=True)
class MountingFacts:
    """One mounting of a sample.

    Parameters
    ----------
    name, fan, sample, obstacle, rig : of the mounting. date : of it, "" where nobody told.
    judged : the key that findings judge. registered : whether the sample has a record.
    runs : its sweeps that no decision excludes, in the order of their settings.
    curve : its characteristic; None where it could not be had, `failed` then says why.
    diameter [m]. bores : {nozzle: bore} of the rig's bank [m].
    unfitted : the readings, where there is no curve. gauges : by quantity. era : of its rig, from 1.
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
    unfitted: tuple[ReadingFacts, ...] = ()
    gauges: Mapping[str, Gauge] = field(default_factory=dict)
    era: int = 1

    @property
    def subject(self) -> str:
        """As a finding names it."""
        return f"mounting:{self.name}"

    @property
    def readings(self) -> Sequence[ReadingFacts]:
        """Its sweeps, with a curve or without."""
        return self.runs or self.unfitted

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


def per_pascal(runs: tuple[RunFacts, ...]) -> Array:
    """ψ of one pascal at each point of the cloud of the same sweeps [1/Pa]: 2/(ρu²) of its sweep."""
    parts = []
    for each in runs:
        large = int(np.argmax(np.abs(each.pressure)))
        one = each.psi[large] / each.pressure[large]
        speed = each.speed if each.speed is not None else np.ones_like(each.psi)
        parts.append(np.delete(one * (speed[large] / np.maximum(speed, 1e-9)) ** 2, each.held))
    return np.concatenate(parts)


@dataclass(frozen=True)
class ClaimFacts:
    """A claim with the verdict that was come to.

    Parameters
    ----------
    claim : as printed. quantity : dimension of its unit, or "".
    why : what its printed condition lacks, so that it can't be checked, or "".
    outside : whether it lies outside. falls_short : whether on the side where whoever buys gets less.
    ratio : measured over claimed [1], None of a level. difference : of a level, measured less claimed [dB].
    z : the score [1]. All None where it can't be checked.
    samples : that were measured. judged : what was measured, by which a decision stands or lapses, or "".
    """

    claim: Claim
    quantity: str = ""
    why: str = ""
    outside: bool = False
    falls_short: bool = False
    ratio: float | None = None
    difference: float | None = None
    z: float | None = None
    samples: int = 0
    judged: str = ""


@dataclass(frozen=True, kw_only=True)
class ObstacleFacts:
    """One obstacle with its own runs.

    Parameters
    ----------
    name, version, rig, words : of it; `words` are its description and notes. tile : side of its opening [m].
    judged : the key that findings judge. date : told date of its latest run, or "".
    runs : its readings. resistance : None where it could not be had, `failed` then says why.
    bores, gauges : as of a mounting. dusty : an entry in the log that calls it dusty, or "".
    """

    name: str
    version: str
    rig: str
    words: str
    tile: float | None
    judged: str
    date: str
    runs: tuple[ReadingFacts, ...]
    resistance: Resistance | None
    failed: str
    density: float
    viscosity: float
    bores: Mapping[str, float]
    gauges: Mapping[str, Gauge] = field(default_factory=dict)
    dusty: str = ""

    @property
    def subject(self) -> str:
        """As a finding names it."""
        return f"obstacle:{self.name}"


@dataclass(frozen=True)
class Published:
    """A value that was kept: the obstacle that it goes through, in words what of, and its marks."""

    through: str
    words: str
    marks: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class FanFacts:
    """A fan with all its mountings.

    Parameters
    ----------
    name : the fan's. record : what is told of it, or None. mountings : in the order of their dates.
    prices : of it.
    repeatability : agreed relative standard deviation between mountings, or None where none is agreed.
    samples : records of its samples, by name. log : all events on the rigs used, the first first.
    obstacles : that it is compared through. published : its values that were kept.
    contends : whether it contends for the lead in a comparison that was kept.
    exclusions : decisions that exclude runs or mountings of it.
    """

    name: str
    record: Fan | None
    mountings: tuple[MountingFacts, ...]
    prices: tuple[Price, ...]
    repeatability: float | None
    limits: Limits = Limits()
    samples: Mapping[str, Sample] = field(default_factory=dict)
    log: tuple[Event, ...] = ()
    obstacles: tuple[ObstacleFacts, ...] = ()
    published: tuple[Published, ...] = ()
    contends: bool = False
    exclusions: tuple[Decision, ...] = ()


@dataclass(frozen=True)
class InstrumentFacts:
    """An instrument as one or more runs used it under one calibration.

    Parameters
    ----------
    name : the instrument's. calibration : its name, "" where there is none. due : date, or "".
    last : told date of the last run that used it, or "". accuracy : whether an accuracy is told.
    mountings, fans : what hangs on it after it was due (all, where there is no calibration).
    obstacles : likewise.
    """

    name: str
    calibration: str
    due: str
    last: str
    accuracy: bool
    mountings: tuple[str, ...]
    fans: tuple[str, ...]
    obstacles: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class RigFacts:
    """A rig with what hangs on its leak tests.

    Parameters
    ----------
    name : the rig's. tests : leak tests in the log, (date, leak [m³/s] or None), the first first.
    uses : (told date, mounting, fan, key) of the mountings measured through its nozzles.
    smallest : the smallest flow that was published from it [m³/s], None where none was.
    """

    name: str
    tests: tuple[tuple[str, float | None], ...]
    uses: tuple[tuple[str, str, str, str], ...]
    smallest: float | None = None
