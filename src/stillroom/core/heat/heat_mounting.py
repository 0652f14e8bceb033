"""One mounting on a heat rig as a whole: its steps, and temperature difference against speed."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Any

from stillroom.core.heat.heat_curve import HeatCurve, HeatPoint


class StepHow(Enum):
    """How the temperature difference of a step is known."""

    STEADY = "measured"
    FORECAST = "forecast"
    NOT_STEADY = "not steady"


@dataclass(frozen=True)
class HeatStep:
    """A fan at one setting on a heat rig.

    Parameters
    ----------
    number : its place among the steps of the mounting, from 1.
    first, last : begin and end [s] on the clock of the mounting. moment : ISO date and time of its begin.
    setting_kind, setting : "duty", "volts", "speed" or "" [SI].
    noise : A-weighted level that a set list told for this setting [dB]; None where it told none.
    speed, u_speed : shaft speed and its standard uncertainty [1/s]; None where it was not read.
    speed_sd : standard deviation of the means of 30 s of the speed in the window, robust [1/s]; None where not read.
    tachometer, optical : means of both in the window [1/s]; None where they were not read.
    hot, air : temperatures of the hot probe and of the air going in, mean of its probes [K].
    delta : hot − air as measured: the mean in the steady window, else of the last of the step [K].
    delta_nominal : at nominal power; of a step that was forecast, its final value [K].
    u_own : standard uncertainty of `delta_nominal` by the readings and the forecast, without what is shared [K].
    power, power_sd, nominal : electric heat load, its standard deviation in the window, the nominal one [W].
    conductance : power over temperature difference [W/K].
    how : measured steady, forecast, or neither; then `delta_nominal` is no result.
    steadiness, forecast : what the tests of it said, as plain words and numbers.
    tau : time constant [s]. span : length of the step in time constants [1]; None where none is known.
    air_spread : greatest difference between probes of the air going in [K]; None with one probe.
    air_drift : change of the air going in over the window [K].
    liquid_flow : [m³/s]. balance, u_balance : heat by the liquid over heat put in [1]. pump_heat : [W].
    fan_power : electric power that the fan took [W]. humidity : [1]. barometer : [Pa].
    marks : what must be said beside it. left_out : share of its readings that were left out [1].
    """

    number: int
    first: float
    last: float
    moment: str
    setting_kind: str
    setting: float | None
    noise: float | None
    speed: float | None
    u_speed: float | None
    hot: float
    air: float
    delta: float
    delta_nominal: float
    u_own: float
    power: float
    power_sd: float
    nominal: float
    conductance: float
    how: StepHow
    steadiness: Mapping[str, Any] | None = None
    forecast: Mapping[str, Any] | None = None
    tau: float | None = None
    span: float | None = None
    air_spread: float | None = None
    air_drift: float = 0.0
    liquid_flow: float | None = None
    balance: float | None = None
    u_balance: float | None = None
    pump_heat: float = 0.0
    fan_power: float | None = None
    humidity: float | None = None
    barometer: float | None = None
    marks: tuple[str, ...] = ()
    left_out: float = 0.0
    speed_sd: float | None = None
    tachometer: float | None = None
    optical: float | None = None

    @property
    def is_result(self) -> bool:
        """Whether it tells a temperature difference, measured or forecast."""
        return self.how is not StepHow.NOT_STEADY

    @property
    def to_come(self) -> float | None:
        """By its forecast, how far its slow mode still was from its end as the step ended [K]; None without one."""
        told = self.forecast or {}
        amplitude, tau, start, end = (told.get(name) for name in ("amplitude", "tau", "start", "end"))
        if amplitude is None or not tau or start is None or end is None:
            return None
        return abs(float(amplitude)) * math.exp(-(end - start) / tau)

    @property
    def why_not(self) -> str:
        """Why it is not steady and has no forecast, of a step that is no result; else ""."""
        said = (each for each in self.marks if each.startswith(_NOT_STEADY))
        return next((each.removeprefix(_NOT_STEADY) for each in said), "")


_NOT_STEADY = f"{StepHow.NOT_STEADY.value}: "


def not_steady_mark(why: str) -> str:
    """The mark of a step that is no result, with the reason that `HeatStep.why_not` tells again."""
    return f"{_NOT_STEADY}{why}"


SOME_FORECAST = "some steps are forecast"
"""What a mounting says of itself, whatever is taken from it."""


@dataclass(frozen=True)
class HeatMounting:
    """One mounting's heat, reduced.

    Parameters
    ----------
    steps : in order of time.
    curve : temperature difference against speed; None where no step with a speed is a result.
    nominal : power to which differences are brought [W]. fans : how many blow on the radiator.
    clocks : of each logger its name, offset, u [s] and how it was aligned.
    sources : {identity of a shared source: standard uncertainty of ΔT by it [K]}.
    marks : what must be said beside the numbers.
    """

    steps: tuple[HeatStep, ...]
    curve: HeatCurve | None
    nominal: float
    fans: int = 1
    clocks: tuple[Mapping[str, Any], ...] = ()
    sources: Mapping[str, float] | None = None
    marks: tuple[str, ...] = ()

    @property
    def results(self) -> tuple[HeatStep, ...]:
        """The steps that tell a temperature difference."""
        return tuple(each for each in self.steps if each.is_result)


def heat_points(steps: Sequence[HeatStep]) -> tuple[HeatPoint, ...]:
    """The points of a curve against speed: of the steps that are results and have a speed."""
    return tuple(
        HeatPoint(
            each.speed,
            each.u_speed or 0.0,
            each.delta_nominal,
            each.u_own,
            each.how is StepHow.FORECAST,
            each.number,
        )
        for each in steps
        if each.is_result and each.speed is not None
    )
