"""Rules 34 and 43: whether a step was steady, what a forecast left out, and how long the setting was held."""

from __future__ import annotations

import math
from collections.abc import Iterator

from stillroom.core.heat.heat_mounting import HeatStep, StepHow
from stillroom.quality.finding import Finding
from stillroom.quality.heat.facts import WarmMounting, step_words
from stillroom.quality.heat.saying import BLOCKS, MARKS, about_heat, minutes, steps_in
from stillroom.records.limits import Limits

CUT = "the run was cut before it was steady"
NOTHING = "a column is missing, wrong or exchanged with another, the heater was off, or the run was cut"
MOVES = "the heat load, the coolant's flow or the room keeps moving"
DOOR = "a door or window was opened near the rig"
LONG = 5.0
"""A step of so many time constants that isn't steady was not cut too early: something moves [1] (common practice)."""

SURELY = 2.0


def settling(mounting: WarmMounting, limits: Limits) -> Iterator[Finding]:
    """Rule 34: steps that are over and not steady, forecast ones, and steady ones that still have to move."""
    if mounting.failed and not mounting.steps:
        yield about_heat(
            34, mounting, "failed", f"the heat of {mounting.name} could not be worked out: {mounting.failed}",
            "a run with the hot probe, the air going in, and 2.5 time constants at a setting", cause=NOTHING,
            test="look at the file's columns; run it again for longer", common="no heat from a run",
        )  # fmt: skip
    for step in mounting.over:
        if step.how is StepHow.NOT_STEADY:
            yield from _not_steady(mounting, step)
        elif step.how is StepHow.STEADY:
            yield from _still_moving(mounting, step, limits)
    forecast = [each for each in mounting.over if was_cut(each, limits)]
    if forecast:
        yield _forecast(mounting, forecast)


def was_cut(step: HeatStep, limits: Limits) -> bool:
    """Whether a step is known only by a forecast, which adds something to what was read."""
    return step.how is StepHow.FORECAST and _to_come(step) > limits.remaining


def _to_come(step: HeatStep) -> float:
    """What a forecast adds to what was read at the end, uncertainty included [K]."""
    return abs(_left(step)) + SURELY * step.u_own


def _left(step: HeatStep) -> float:
    """What a step still had to move as it ended, by its forecast [K]."""
    told = step.forecast or {}
    amplitude, tau, start, end = (told.get(name) for name in ("amplitude", "tau", "start", "end"))
    if amplitude is None or not tau or start is None or end is None:
        return 0.0
    return -float(amplitude) * math.exp(-(end - start) / tau)


def _not_steady(mounting: WarmMounting, step: HeatStep) -> Iterator[Finding]:
    long = step.span is not None and step.span >= LONG
    gusty = any(each.step == step.number for each in mounting.gusts)
    cause = CUT if not long else DOOR if gusty else MOVES
    length = minutes(step.last - step.first)
    after = length if step.span is None else f"{length}, {step.span:.1f} time constants"
    yield about_heat(
        34, mounting, f"step {step.number}",
        f"{step_words(step)} of {mounting.name} is not steady and has no forecast: it ended after {after}"
        + _slope_words(step) + (f" ({step.why_not})" if step.why_not and not long else ""),
        f"a drift of less than {_tolerance(step)} K in a time constant, or 2.5 time constants for a forecast",
        severity=BLOCKS, cause=cause,
        test="close the door, and hold the setting for another three time constants" if cause == DOOR
        else "read the heater's power, the coolant's flow and the air probes for a minute" if long
        else "leave the fan on until the rig says steady; else exclude the step's log, or repeat it",
        common=cause,
    )  # fmt: skip


def _tolerance(step: HeatStep) -> str:
    told = (step.steadiness or {}).get("tolerance")
    return f"{told:g}" if told is not None else "0.05"


def _slope_words(step: HeatStep) -> str:
    told = step.steadiness or {}
    slope, tau = told.get("slope"), told.get("tau")
    return "" if slope is None or tau is None else f", still moving {slope * tau:+.2f} K in a time constant"


def _forecast(mounting: WarmMounting, steps: list[HeatStep]) -> Finding:
    worst = max(steps, key=_to_come)
    return about_heat(
        34, mounting, "forecast",
        f"{steps_in(mounting, steps)}: forecast, not measured ({step_words(worst)}: {worst.delta_nominal:.2f} K"
        f" ± {2.0 * worst.u_own:.2f} K, {_left(worst):+.2f} K beyond what was read at its end)",
        "held until it is steady", cause=CUT if (worst.span or 0.0) < LONG else MOVES,
        test="leave the fan on until the rig says steady", common="heat by a forecast",
    )  # fmt: skip


def _still_moving(mounting: WarmMounting, step: HeatStep, limits: Limits) -> Iterator[Finding]:
    """A step that is steady by its slope, while its course says that more is to come."""
    told = step.forecast or {}
    final, u = told.get("final"), told.get("u")
    if final is None or u is None:
        return
    left = final - step.delta_nominal
    sure = SURELY * math.hypot(u, step.u_own)
    if abs(left) > max(limits.remaining, sure):
        yield about_heat(
            34, mounting, f"step {step.number}",
            f"{step_words(step)} of {mounting.name} reads {step.delta_nominal:.2f} K, its course ends at {final:.2f} K",
            f"within {max(limits.remaining, sure):.2f} K", severity=BLOCKS, cause=CUT,
            test="leave the fan on for another two time constants", common=CUT,
        )  # fmt: skip


def warm_up(mounting: WarmMounting, limits: Limits) -> Iterator[Finding]:
    """Rule 43: steps that are results after too short a time at the setting."""
    short = [
        each
        for each in mounting.over
        if each.is_result and each.last - each.first < 60.0 * limits.warm_up - 1.0
    ]
    if short:
        least = min(each.last - each.first for each in short)
        yield about_heat(
            43, mounting, "warm-up", f"{steps_in(mounting, short)}: {least / 60:.1f} min at the setting",
            f"{limits.warm_up:g} min at least", severity=MARKS,
            cause="the fan's own bearing and winding are not warm yet", test="hold the setting for longer",
            common="warm-up too short",
        )  # fmt: skip
