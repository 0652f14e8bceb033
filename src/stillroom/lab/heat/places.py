"""Where on a mounting's heat a value is taken: which speed, which of its steps lie there, and how that is told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from stillroom.compare.candidates import How
from stillroom.core.heat.heat_curve import HeatPoint
from stillroom.core.heat.heat_mounting import HeatMounting, HeatStep, StepHow
from stillroom.core.monotone_cubic import monotone_cubic
from stillroom.core.row_speeds import HEARD_UP_TO, SHORT_OF_FULL, RowSpeeds
from stillroom.core.speeds import SAME, setting_named, setting_words
from stillroom.errors import NotPossible
from stillroom.lab.question import FULL
from stillroom.lab.sound.level_words import speed_in_words
from stillroom.measures import Condition
from stillroom.measures.value import FULL_MARK

FORECAST = "forecast"
"""How the mark of a value begins that rests on runs that were not waited for to the end."""

LEAST_TO_COME = 0.01
"""What was still to come is told from here on [K]."""

FULL_VOLTS = 12.0 * FULL
"""From which supply voltage on a fan that is driven by it stands at full setting [V]."""

NEAR = 0.01
"""A step whose speed lies within this share of a speed was run at it [1]: set lists are set by to a per cent."""

NEARLY_FULL = 0.95
"""From this share of full setting on a step stands for full setting, with its mark [1] (our choice: about 2 % of a
rise); one further down does not.
"""

BY_AIRFLOW = "full speed by its airflow"
"""The mark of a value at a full speed that was not run on the heat rig."""

TOP_MARK = "at the greatest speed measured"


@dataclass(frozen=True)
class Place:
    """Where a value is taken in one mounting.

    Parameters
    ----------
    speed : [1/s]; None where nobody read the speed of the steps there. rows : a speed of its own in each row, where a
    noise limit sets it. steps : that were run there, results all. marks : what must be said.
    is_heard_short : whether its sound was measured only up to a speed below its full one. is_between : whether it lies
    between two settings that were run.
    """

    speed: float | None
    steps: tuple[HeatStep, ...]
    marks: tuple[str, ...] = ()
    rows: RowSpeeds | None = None
    is_heard_short: bool = False
    is_between: bool = False

    def told(self, heat: HeatMounting) -> tuple[How, tuple[str, ...]]:
        """How a value there is known, and what must be said of that."""
        if self.steps:
            forecast = all(each.how is StepHow.FORECAST for each in self.steps)
            how = How.INTERPOLATED if self.is_between else How.MEASURED
            return (How.MODELLED, (forecast_mark(self.steps),)) if forecast else (how, ())
        points = heat.curve.points if heat.curve else ()
        speed = self.speed or 0.0
        below = [each for each in points if each.speed <= speed]
        above = [each for each in points if each.speed >= speed]
        beside = [*below[-1:], *above[:1]]
        marks = tuple(forecast_marks(heat, beside))
        if below and above:
            return (How.MODELLED if marks else How.INTERPOLATED), marks
        return How.MODELLED, (*marks, f"modelled: {measured_words(heat)}")


def forecast_mark(steps: Sequence[HeatStep]) -> str:
    """The mark of steps that were not waited for: what the most unfinished one still had to move as it ended."""
    rests = [each.to_come for each in steps if each.how is StepHow.FORECAST and each.to_come is not None]
    if not rests:
        return FORECAST
    most = max(rests)
    rest = f"under {LEAST_TO_COME:g}" if most < LEAST_TO_COME else f"{most:.2f}"
    return f"{FORECAST}: {rest} K still to come at the end of the run"


def forecast_marks(heat: HeatMounting, points: Sequence[HeatPoint]) -> list[str]:
    """The mark of points of a curve of which any is a forecast."""
    numbers = {each.step for each in points if each.is_forecast}
    steps = [each for each in heat.steps if each.number in numbers]
    return [forecast_mark(steps)] if numbers else []


def measured_words(heat: HeatMounting) -> str:
    """At which speeds the heat of a mounting was measured."""
    points = heat.curve.points if heat.curve else ()
    if not points:
        return "heat measured without its speed"
    low, high = (round(each.speed * 6.0) / 6.0 for each in (points[0], points[-1]))  # to ten rpm
    if high <= low * (1.0 + NEAR):
        return f"heat measured at {speed_in_words(high)} alone"
    return f"heat measured from {low * 60:,.0f} to {speed_in_words(high)}"


def place_of(
    heat: HeatMounting, condition: Condition, rows: RowSpeeds | None, full: RowSpeeds | None = None
) -> Place:
    """The place of a condition in a mounting.

    Parameters
    ----------
    rows : the speeds that a noise limit allows, where the condition holds one. full : the fan's full speed behind the
        radiator by its airflow, where it is known; for a mounting that `ends_below_full`.

    Raises
    ------
    NotPossible : no step that is a result, or a setting outside those measured.
    """
    if not heat.results:
        raise NotPossible(
            "heat", found="no step became steady or could be forecast", expected="a longer run: 2.5 τ or more"
        )
    if rows is not None:
        return _at_limit(heat, rows)
    if condition.speed is not None:
        return _at_speed(heat, condition.speed)
    for kind, value in (("duty", condition.duty), ("volts", condition.volts)):
        if value is not None:
            return _at_setting(heat, kind, value)
    return _at_full(heat, full)


def ends_below_full(heat: HeatMounting) -> bool:
    """Whether settings were told, and all of them lie further below full setting than may stand for it."""
    told = _told(heat)
    return bool(told) and not any(_share(each) >= NEARLY_FULL for each in told)


def full_steps(heat: HeatMounting) -> tuple[HeatStep, ...]:
    """The steps at full setting."""
    return tuple(each for each in heat.results if _is_full(each))


def _is_full(step: HeatStep) -> bool:
    if step.setting is None:
        return False
    least = {"duty": FULL, "volts": FULL_VOLTS}
    return step.setting_kind in least and step.setting >= least[step.setting_kind]


def full_speed(heat: HeatMounting) -> float | None:
    """The speed at full setting behind the radiator [1/s]; None where it was not run, or its speed not read."""
    return mean_speed(full_steps(heat))


def mean_speed(steps: Sequence[HeatStep]) -> float | None:
    """The mean speed of some steps [1/s]; None where it was not read."""
    speeds = [each.speed for each in steps if each.speed is not None]
    return float(np.mean(speeds)) if speeds else None


def _told(heat: HeatMounting) -> list[HeatStep]:
    """The results whose duty or voltage was told."""
    return [each for each in heat.results if each.setting is not None and each.setting_kind in _FULL]


_FULL = {"duty": 1.0, "volts": 12.0}
"""Full setting of each kind [1, V]."""


def _share(step: HeatStep) -> float:
    """A step's setting as a share of full setting [1]."""
    return (step.setting or 0.0) / _FULL[step.setting_kind]


def _at_full(heat: HeatMounting, full: RowSpeeds | None) -> Place:
    """At full setting, or nearly; at the greatest speed that was run where nobody told settings.

    Raises
    ------
    NotPossible : full setting was not run.
    """
    steps = full_steps(heat)
    if steps:
        return Place(mean_speed(steps), steps)
    told = _told(heat)
    if told:
        top = max(told, key=lambda each: each.setting or 0.0)
        words = setting_words(top.setting_kind, top.setting or 0.0)
        if ends_below_full(heat):
            return _beyond(heat, full, words)
        same = tuple(each for each in told if _same(each, top.setting_kind, top.setting or 0.0))
        return Place(mean_speed(same), same, (f"greatest setting was {words}",))
    fast = [each for each in heat.results if each.speed is not None]
    if not fast:
        return Place(None, heat.results, ("setting not told",))
    speed = max(each.speed or 0.0 for each in fast)
    return replace(_at_speed(heat, speed), marks=(TOP_MARK,))


def _beyond(heat: HeatMounting, full: RowSpeeds | None, run: str) -> Place:
    """At the full speed that the airflow tells, where the mounting's curve reaches so far.

    Raises
    ------
    NotPossible : it doesn't, or the full speed isn't known.
    """
    if full is None or heat.curve is None:
        raise NotPossible(
            "heat at full setting", found=f"steps up to {run} alone", expected="--speed, --duty or --noise"
        )
    if full.central > heat.curve.reach[1]:
        raise NotPossible(
            "heat at full setting",
            found=f"full speed is {speed_in_words(full.central)} by its airflow; {measured_words(heat)}",
            expected="a step nearer to it, or --noise",
        )
    return Place(full.central, (), (BY_AIRFLOW, f"greatest setting was {run}"), full)


def _at_speed(heat: HeatMounting, speed: float) -> Place:
    near = (each for each in heat.results if each.speed is not None)
    return Place(speed, tuple(each for each in near if abs((each.speed or 0.0) / speed - 1.0) <= NEAR))


def _same(step: HeatStep, kind: str, value: float) -> bool:
    return (
        step.setting_kind == kind and step.setting is not None and abs(step.setting - value) <= SAME * value
    )


def _at_setting(heat: HeatMounting, kind: str, value: float) -> Place:
    """At a setting that was run, else between two by a monotone cubic of their speeds."""
    same = tuple(each for each in heat.results if _same(each, kind, value))
    if same:
        return Place(mean_speed(same), same)
    pairs = sorted(
        {(each.setting, each.speed) for each in heat.results
         if each.setting_kind == kind and each.setting is not None and each.speed is not None}
    )  # fmt: skip
    settings = np.array(sorted({setting for setting, _ in pairs}))
    speeds = np.array([np.mean([speed for setting, speed in pairs if setting == each]) for each in settings])
    thing = setting_named(kind, value)
    if not len(settings):
        raise NotPossible(thing, found="no step with such a setting", expected="steps at some, or --speed")
    if not settings[0] < value < settings[-1]:
        first, last = (setting_words(kind, float(settings[at])) for at in (0, -1))
        run = f"steps from {first} to {last}" if first != last else f"steps at {first} alone"
        raise NotPossible(thing, found=run, expected="a setting within these")
    above = int(np.searchsorted(settings, value))
    lower, upper = (setting_words(kind, float(settings[at])) for at in (above - 1, above))
    speed = float(monotone_cubic(settings, speeds, value))
    between = (f"interpolated between {lower} and {upper}",)
    return replace(_at_speed(heat, speed), marks=between, is_between=True)


def _at_limit(heat: HeatMounting, rows: RowSpeeds) -> Place:
    """At the speeds of a noise limit, none faster than full setting behind the radiator."""
    top = full_speed(heat)
    heard = rows.heard
    if top is not None and heard is not None and top > heard * (1.0 + SHORT_OF_FULL):
        place = _at_speed(heat, rows.central)
        return replace(
            place, marks=(f"{HEARD_UP_TO} {speed_in_words(heard)}",), rows=rows, is_heard_short=True
        )
    if top is None:
        return replace(_at_speed(heat, rows.central), rows=rows)
    speeds = np.where(rows.full, top, np.minimum(rows.speeds, top))
    slower = not rows.full[0] and rows.central > top
    place = _at_speed(heat, float(speeds[0]))
    capped = replace(rows, speeds=speeds)
    return replace(place, rows=capped, marks=(FULL_MARK,) if slower else ())
