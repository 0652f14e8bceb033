"""The one way from readings in step to a temperature rise: of a step that is over, and of one that still grows."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np
import scipy

from stillroom.core.arrays import Array
from stillroom.core.heat.autocorrelation import mean_of
from stillroom.core.heat.conductance import conductance
from stillroom.core.heat.forecast import Forecast, TimeConstant, forecast
from stillroom.core.heat.heat_mounting import HeatStep, StepHow, not_steady_mark
from stillroom.core.heat.liquid import Liquid
from stillroom.core.heat.steady import Flags, Steadiness, steadiness
from stillroom.errors import NotPossible
from stillroom.methods.heat.beside import beside_of
from stillroom.methods.heat.channels import HEATER, HOT, Channels, air_of, power_of
from stillroom.methods.heat.moments import moment_of, seconds_of
from stillroom.methods.heat.turning import turning_of

NOT_NORMALISED = "power not read: not brought to nominal power"
REST_U = 0.5
"""Of a step that is steady, what the curve says is still to come is known within this share of it [1] (our choice)."""

BLOCKS = 24
"""Into so many blocks the readings of a mean are taken together."""

LEAST_READINGS = 8
"""Fewer readings than this are no step."""

SAME_POWER = 0.02
"""Two readings of the heater's power agree within this share of it [1] (common practice)."""

FARTHEST = 4.0
"""A rise is brought to nominal power from at most so many times more, or less [1]: heat that goes another way than with
the air does not go with the power alone (our choice)."""


@dataclass(frozen=True)
class Judged:
    """What was said of a series: whether it is steady, and where it will end; and why not."""

    steadiness: Steadiness | None = None
    forecast: Forecast | None = None
    why: str = ""


Judge = Callable[[Array, Array, TimeConstant | None, float], Judged]
"""(times, rise at nominal power, what is known of τ, tolerance) → what is said of it."""


@dataclass(frozen=True)
class StepContext:
    """What is told of a step.

    Parameters
    ----------
    number : from 1. nominal : heat to which rises are brought [W].
    setting_kind, setting : "duty", "volts", "speed" or "" and None. noise : that it stands for [dB(A)].
    known : what is known of the time constant. tolerance : of steadiness [K].
    liquid : in the loop, None where nobody told. pump_power : of its pump [W].
    """

    number: int
    nominal: float
    setting_kind: str = ""
    setting: float | None = None
    noise: float | None = None
    known: TimeConstant | None = None
    tolerance: float = 0.05
    liquid: Liquid | None = None
    pump_power: float | None = None


LONGEST_TAU = 900.0
"""Time constant by which a long record is judged that shows no rise or fall and of which nobody knows one [s]: above
that of usual loops (5 to 7 kJ/K over 10 to 30 W/K), so that a drift is rather over- than underrated.
"""

UNKNOWN_TAU = "time constant not known: judged by 15 min"


def tau_to_judge_by(times: Array, found: Forecast | None, known: TimeConstant | None) -> float | None:
    """By which time constant a series is judged [s]: the one found in it, else the one known of the rig; of a record
    of 45 min and more without either, `LONGEST_TAU`; None where there is none.
    """
    if found is not None:
        return found.tau
    if known is not None:
        return known.tau
    return LONGEST_TAU if times[-1] - times[0] >= 3.0 * LONGEST_TAU else None


def judge(times: Array, rise: Array, known: TimeConstant | None, tolerance: float) -> Judged:
    """Whether a whole series is steady, and where it will end."""
    why, found = "", None
    try:
        found = forecast(times, rise, known=known, tolerance=tolerance)
    except NotPossible as error:
        why = error.sentence()
    tau = tau_to_judge_by(times, found, known)
    if tau is None:
        return Judged(None, found, why)
    try:
        return Judged(steadiness(times, rise, tau, tolerance=tolerance), found, why)
    except NotPossible as error:
        return Judged(None, found, why or error.sentence())


def rise_of(channels: Channels, nominal: float, tau: float | None) -> tuple[Array, Array, Array, bool]:
    """Rise of the hot probe over the air, brought to nominal power reading by reading.

    The rig follows its heater with its time constant, so that a rise belongs to the power of the last τ, not to that of
    the moment: the power is passed through the same first-order lag. In a gap of the power there is no rise.

    Returns
    -------
    Rise at nominal power, rise as read, power (n,) [K, K, W]; and whether there is a power to bring it by.
    """
    air, _ = air_of(channels)
    delta = channels.columns[HOT] - air
    power = power_of(channels)
    if power is None or not nominal > 0.0:
        return delta, delta, np.full(len(delta), np.nan), False
    felt = _lagged(channels.times, power, tau)
    with np.errstate(divide="ignore", invalid="ignore"):
        brought = np.where((felt > 0.0) & np.isfinite(power), delta * (nominal / felt), np.nan)
    return brought, delta, power, True


def _lagged(times: Array, power: Array, tau: float | None) -> Array:
    """The power as a first-order lag of τ passes it on; without a τ its mean."""
    there = np.isfinite(power)
    mean = float(power[there].mean())
    interval = float(np.median(np.diff(times))) if len(times) > 1 else 0.0
    if tau is None or interval <= 0.0:
        return np.full(len(power), mean)
    weight = 1.0 - np.exp(-interval / tau)
    filled = np.where(there, power, mean)
    return np.asarray(
        scipy.signal.lfilter([weight], [1.0, weight - 1.0], filled, zi=[(1.0 - weight) * mean])[0]
    )


@dataclass(frozen=True)
class Followed:
    """A step with the readings behind it.

    Parameters
    ----------
    step : what came of them. times : (n,) [s]. rise : at nominal power, as it was judged, (n,) [K].
    left_out : readings that don't count, though they are there: spikes, an opened door; (n,).
    """

    step: HeatStep
    times: Array
    rise: Array
    left_out: Flags


def reduce_step(channels: Channels, context: StepContext, *, judging: Judge = judge) -> HeatStep:
    """Reduce the readings of one setting, as `follow_step`, to the step alone."""
    return follow_step(channels, context, judging=judging).step


def follow_step(channels: Channels, context: StepContext, *, judging: Judge = judge) -> Followed:
    """Reduce the readings of one setting.

    Parameters
    ----------
    channels : of this step alone, in step, corrected. context : what is told of it.
    judging : who says whether it is steady and where it will end; a run that is being watched keeps its own account.

    Returns
    -------
    The step: measured where it is steady, else a forecast, else "not steady" with the reason among its marks and
    without a number at nominal power (NaN); and its readings.

    Raises
    ------
    NotPossible : too few readings of the hot probe and the air at once.
    """
    tau = context.known.tau if context.known else None
    nominal, delta, power, by_power = rise_of(channels, context.nominal, tau)
    there = np.isfinite(delta)
    if np.count_nonzero(there) < LEAST_READINGS:
        raise NotPossible(
            f"step {context.number}",
            found=f"{np.count_nonzero(there)} readings of the hot probe and the air at once",
            expected=f"at least {LEAST_READINGS}",
        )
    _refuse_other_power(power[there], context)
    there &= np.isfinite(nominal)
    if np.count_nonzero(there) < LEAST_READINGS:
        raise NotPossible(
            f"step {context.number}",
            found=f"{np.count_nonzero(there)} readings with the heater's power",
            expected=f"at least {LEAST_READINGS}",
        )
    judged = judging(channels.times, nominal, context.known, context.tolerance)
    step = _Step(channels, context, judged, nominal, delta, power, by_power).made()
    left_out = np.zeros(len(nominal), dtype=np.bool_)
    if judged.steadiness is not None:
        left_out = judged.steadiness.left_out & np.isfinite(nominal)
    return Followed(step, channels.times, nominal, left_out)


def _refuse_other_power(power: Array, context: StepContext) -> None:
    """Refuse a step of a power from which nothing leads to the nominal one: the heater is off, or a unit is wrong."""
    read = power[np.isfinite(power)]
    usual = float(np.median(read)) if len(read) else context.nominal
    if not context.nominal / FARTHEST <= usual <= context.nominal * FARTHEST:
        raise NotPossible(
            f"step {context.number}",
            found=f"{usual:.4g} W from the heater",
            expected=f"about the nominal {context.nominal:.4g} W (at most {FARTHEST:g} times more or less)",
        )


@dataclass(frozen=True)
class _Step:
    """A step with what was said of it."""

    channels: Channels
    context: StepContext
    judged: Judged
    nominal: Array
    delta: Array
    power: Array
    by_power: bool

    def made(self) -> HeatStep:
        """The step as it is kept."""
        how, window = self._how(), self._window()
        value, u, why = self._value(how, window)
        mean = self._mean(self.delta, window)
        power, power_sd = self._power(window)
        turning = turning_of(self.channels, window, self.context.setting_kind, self.context.setting)
        beside = beside_of(self.channels, window, self.context.liquid, power, self.context.pump_power)
        told, times = self.context, self.channels.times
        tau = self._tau
        marks = [*([NOT_NORMALISED] if not self.by_power else []), *turning.marks, *beside.marks]
        marks += self._two_powers(window)
        by_longest = how is StepHow.STEADY and self.judged.forecast is None and self.context.known is None
        marks += [UNKNOWN_TAU] if by_longest else []
        marks += [why] if why else []
        begin = seconds_of(self.channels.moment)
        step = HeatStep(
            number=told.number,
            first=float(times[0]),
            last=float(times[-1]),
            moment="" if begin is None else moment_of(begin + float(times[0])),
            setting_kind=told.setting_kind,
            setting=told.setting,
            noise=told.noise,
            speed=turning.speed,
            u_speed=turning.u,
            hot=self._mean(self.channels.columns[HOT], window),
            air=self._mean(air_of(self.channels)[0], window),
            delta=mean,
            delta_nominal=value,
            u_own=u,
            power=power,
            power_sd=power_sd,
            nominal=told.nominal,
            conductance=conductance(told.nominal, value) if self.by_power and value > 0.0 else np.nan,
            how=how,
            steadiness=_steadiness_facts(self.judged.steadiness),
            forecast=_forecast_facts(self.judged.forecast),
            tau=tau,
            span=None if tau is None else float(times[-1] - times[0]) / tau,
            marks=tuple(marks),
            left_out=self._left_out(),
            speed_sd=turning.sd,
            tachometer=turning.tachometer,
            optical=turning.optical,
        )
        return replace(step, **beside.fields)

    @property
    def _tau(self) -> float | None:
        if self.judged.forecast is not None:
            return self.judged.forecast.tau
        if self.judged.steadiness is not None:
            return self.judged.steadiness.tau
        return self.context.known.tau if self.context.known else None

    def _how(self) -> StepHow:
        if self.judged.steadiness is not None and self.judged.steadiness.is_steady:
            return StepHow.STEADY
        return StepHow.FORECAST if self.judged.forecast is not None else StepHow.NOT_STEADY

    def _window(self) -> slice:
        """The rows of the last time constant; of a shorter step its last third."""
        times = self.channels.times
        length = float(times[-1] - times[0])
        tau = self._tau
        reach = length / 3.0 if tau is None else min(tau, length / 2.0)
        start = min(int(np.searchsorted(times, times[-1] - reach)), len(times) - LEAST_READINGS)
        return slice(max(0, start), len(times))

    def _value(self, how: StepHow, window: slice) -> tuple[float, float, str]:
        """Rise at nominal power, its own standard uncertainty, and why there is none."""
        if how is StepHow.FORECAST and self.judged.forecast is not None:
            return self.judged.forecast.final, self.judged.forecast.u, ""
        if how is StepHow.NOT_STEADY:
            return np.nan, np.nan, not_steady_mark(self.judged.why or "no time constant is known")
        steady = self.judged.steadiness
        assert steady is not None
        rest = self._rest(window)
        mean = mean_of(_blocks(np.where(steady.left_out, np.nan, self.nominal)[window] - rest))
        # what is still to come is known by half, and what drifts lies within ±, rectangular
        unsure = (REST_U * float(np.abs(rest).mean()), abs(steady.slope) * steady.tau / np.sqrt(12.0))
        return mean.value, float(np.hypot(mean.u, max(unsure))), ""

    def _rest(self, window: slice) -> Array:
        """What the curve says is still to come, at each row of the window [K]; nothing without one."""
        times, found = self.channels.times[window], self.judged.forecast
        return np.zeros(len(times)) if found is None else found.at(times)[0] - found.final

    def _power(self, window: slice) -> tuple[float, float]:
        """Electric heat in the window and its standard deviation [W]."""
        values = self.power[window][np.isfinite(self.power[window])]
        return (float(values.mean()), float(values.std())) if len(values) else (np.nan, np.nan)

    def _two_powers(self, window: slice) -> list[str]:
        """What is said where a channel of watts tells another power than volts and amps."""
        watts = self.channels.get(HEATER)
        power, told = self._power(window)[0], np.nan if watts is None else self._mean(watts, window)
        if not abs(told - power) > SAME_POWER * power:
            return []
        return [f"heater's watts read {told:.4g} W, volts and amps {power:.4g} W: the latter taken"]

    def _mean(self, values: Array, window: slice) -> float:
        inside = values[window][np.isfinite(values[window])]
        return float(inside.mean()) if len(inside) else np.nan

    def _left_out(self) -> float:
        """The share of the rows that don't count [1]."""
        out = ~np.isfinite(self.nominal)
        if self.judged.steadiness is not None:
            out = out | self.judged.steadiness.left_out
        return float(out.mean())


def _blocks(values: Array) -> Array:
    """Means of neighbours, `BLOCKS` of them: what flickers goes out, and the correlation of what wanders is seen."""
    size = max(1, len(values) // BLOCKS)
    if size == 1:
        return values
    rows = values[len(values) % size :].reshape(-1, size)
    there = np.isfinite(rows)
    counts = there.sum(axis=1)
    sums = np.where(there, rows, 0.0).sum(axis=1)
    return np.where(counts > 0, sums / np.maximum(counts, 1), np.nan)


def _steadiness_facts(found: Steadiness | None) -> dict[str, Any] | None:
    if found is None:
        return None
    names = ("is_steady", "slope", "u_slope", "bound", "tau", "window", "since")
    return {name: getattr(found, name) for name in names}


def _forecast_facts(found: Forecast | None) -> dict[str, Any] | None:
    return None if found is None else asdict(found)
