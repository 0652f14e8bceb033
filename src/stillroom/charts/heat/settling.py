"""A run settling: temperature difference against time, what each setting was forecast to reach, when it was steady."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from stillroom import wording
from stillroom.charts import layers, marks
from stillroom.charts.fonts import REGULAR, STRONG, clean, wrapped
from stillroom.charts.frame import Body
from stillroom.charts.heat.series import Settled, SettlingChart, SettlingStep
from stillroom.charts.labels import Box, Label, beside, clear, placed, written
from stillroom.charts.layout import Page
from stillroom.charts.palette import role
from stillroom.charts.pieces import BOUND_DASH, LANE, lanes_of, signs_of, written_signs
from stillroom.charts.plane import Axis, Plane, Point, axis, axis_words
from stillroom.charts.plot import plot_on

if TYPE_CHECKING:
    import altair as alt

    from stillroom.charts.marks import AltairChart

ROOM = 0.06
FROM_ZERO = 0.5
"""The ordinate begins at zero where the least value is under this share of the greatest."""

RIGHT = 1.2
"""Room right of the plot, in letter sizes: words of the last step may reach into it."""

SHAPES = {Settled.MEASURED: "circle", Settled.FORECAST: "diamond"}
STEADY_SHAPE = "triangle-up"
MOST_STEPS = 12
"""Settings that are named above the plot at the most; the table has all."""

APART = 0.12
"""How much shorter the line of a setting is at each end, in letter sizes."""

HEAD = 0.22
"""Room above the highest value, as a share of the range: words stand there."""


@dataclass(frozen=True)
class Held:
    """A setting as it is named above the plot: from when to when, and its words."""

    low: float
    high: float
    words: str


def draw_settling(chart: SettlingChart, page: Page, room: float, free: float | None) -> Body:
    """Draw the run into `room` × `free`, or to the page's usual height."""
    height = free if free is not None else 1.1 * page.aspect * room
    right = RIGHT * page.small
    plot = plot_on(page, *_axes(chart, page), room, height, right=right, top=0.0)
    held = _held(chart, page, plot.plane)
    signs = signs_of(held, page, plot.plane, 0.0, plot.plane.width + right)
    plot = plot.under_head((1.9 + LANE * lanes_of(signs)) * page.small)
    words = written_signs(signs, held, page, plot.plane, ink="ink", edge="axis")
    words += _labels(chart, page, plot.plane, right)
    return plot.body(
        "settling",
        partial(_spec, chart),
        y_words=axis_words(chart.y_label, chart.y_unit),
        x_words=axis_words(chart.x_label, chart.x_unit),
        above=words,
    )


def _held(chart: SettlingChart, page: Page, plane: Plane) -> list[Held]:
    """The settings, each drawn a little shorter than it was, so that neighbours stand apart."""
    inset = APART * page.small / plane.width * (plane.x.high - plane.x.low)
    shown = [(each, min(inset, 0.2 * (each.last - each.first))) for each in chart.steps[:MOST_STEPS]]
    return [Held(each.first + less, each.last - less, each.setting) for each, less in shown]


def _axes(chart: SettlingChart, page: Page) -> tuple[Axis, Axis]:
    times, values = list(chart.time), list(chart.value)
    for step in chart.steps:
        values += [each for each in (step.value, step.low, step.high) if each is not None]
        if step.forecast is not None:
            times.append(step.forecast.time[-1])
            shown = _of_record(step, chart)
            values += [*step.forecast.value, *step.forecast.low[shown:], *step.forecast.high[shown:]]
    low, high = min(values), max(values)
    away = ROOM * (high - low) or 1.0
    foot = 0.0 if 0.0 <= low < FROM_ZERO * high else low - away
    pad = 0.01 * (max(times) - min(times))
    x = axis(min(times) - pad, max(times) + pad, 5 if page.stacked else 8)
    return x, axis(foot, high + max(away, HEAD * (high - foot)), 4 if page.stacked else 6)


def _of_record(step: SettlingStep, chart: SettlingChart) -> int:
    """The first place of a forecast that counts for the axis: its band is wide where it was not yet fitted."""
    assert step.forecast is not None
    end = min(step.last, chart.time[-1])
    return next((k for k, at in enumerate(step.forecast.time) if at >= end), len(step.forecast.time) - 1)


# --- the definition -------------------------------------------------------------------------------


def _spec(chart: SettlingChart, page: Page, plane: Plane, rows: marks.Rows) -> AltairChart:
    import altair as alt

    thin = 0.05 * page.label
    borders = [((each.first, plane.y.low), (each.first, plane.y.high)) for each in chart.steps[1:]]
    made: list[alt.Chart] = []
    if borders:
        made.append(layers.spans(rows, page, plane, borders, "hairline", thin))
    for step in chart.steps:
        made += _forecast(step, page, plane, rows)
    used, aside = pieces(chart)
    if aside:
        made.append(layers.lines(rows, page, plane, aside, "pale", thin, dash=BOUND_DASH))
    for index, line in enumerate(used):
        words = clean(chart.label) if index == 0 else ""
        made.append(layers.line(rows, page, plane, line, "accent", 0.1 * page.label, words=words))
    return alt.layer(*made, *_finals(chart, page, plane, rows))


def _forecast(step: SettlingStep, page: Page, plane: Plane, rows: marks.Rows) -> list[alt.Chart]:
    """The band of what the step was forecast to do, with its line dashed."""
    told = step.forecast
    if told is None:
        return []
    line = plane.cut(list(zip(told.time, told.value, strict=True)))
    return [
        *layers.band(rows, page, plane, told.time, told.low, told.high, "accent"),
        layers.line(rows, page, plane, line, "accent", 0.05 * page.label, dash=(4.0, 2.6)),
    ]


def pieces(chart: SettlingChart) -> tuple[list[list[Point]], list[list[Point]]]:
    """The record as lines: what was used, and what was left out; broken where the logger has a gap."""
    used: list[list[Point]] = []
    aside: list[list[Point]] = []
    before: tuple[Point, bool] | None = None
    for at in zip(chart.time, chart.value, strict=True):
        is_out = any(first <= at[0] <= last for first, last in chart.left_out)
        is_broken = before is not None and any(
            before[0][0] <= first and at[0] >= last for first, last in chart.gaps
        )
        lines = aside if is_out else used
        if before is None or is_broken or before[1] != is_out:
            lines.append([before[0]] if before is not None and is_out and not is_broken else [])
        lines[-1].append(at)
        if before is not None and before[1] and not is_out and not is_broken:
            aside[-1].append(at)
        before = (at, is_out)
    return [each for each in used if len(each) > 1], [each for each in aside if len(each) > 1]


def _finals(chart: SettlingChart, page: Page, plane: Plane, rows: marks.Rows) -> list[alt.Chart]:
    """What each step came to, with its interval, and a mark where it became steady."""
    data: list[marks.Row] = []
    reaches: list[tuple[Point, Point]] = []
    for step in chart.steps:
        if step.value is None or step.low is None or step.high is None:
            continue
        x = end_of(step)
        reaches.append(((x, step.low), (x, step.high)))
        said = wording.with_interval(step.value, step.low, step.high, chart.y_unit)
        data.append(_mark(x, step.value, SHAPES[step.how], f"{step.setting}: {step.how} {said}"))
    made: list[alt.Chart] = []
    if reaches:
        made.append(layers.spans(rows, page, plane, reaches, "ink", 0.13 * page.label))
    if data:
        made.append(layers.dots(rows, page, plane, data, 0.34, edge=0.08, heard=True))
    since = [
        _mark(at[0], at[1], STEADY_SHAPE, f"{step.setting}: {said}") for step, at, said in _steady(chart)
    ]
    if since:
        made.append(layers.dots(rows, page, plane, since, 0.4, edge=0.08, heard=True))
    return made


def end_of(step: SettlingStep) -> float:
    """Where a step's final value stands: at its end, or at the end of what it was forecast to do."""
    return step.forecast.time[-1] if step.how is Settled.FORECAST and step.forecast else step.last


def _mark(x: float, y: float, shape: str, words: str) -> marks.Row:
    return {"x": x, "y": y, "shape": shape, "fill": role("paper"), "edge": role("ink"), "aria": clean(words)}


def _steady(chart: SettlingChart) -> list[tuple[SettlingStep, Point, str]]:
    """Each moment at which a step became steady, on the record, with its words: how long after its beginning."""
    found = []
    for step in chart.steps:
        if step.since is None:
            continue
        near = min(range(len(chart.time)), key=lambda k: abs(chart.time[k] - (step.since or 0.0)))
        after = wording.with_unit(wording.number(step.since - step.first), chart.x_unit)
        found.append((step, (step.since, chart.value[near]), f"steady after {after}"))
    return found


# --- the words ------------------------------------------------------------------------------------


def _labels(chart: SettlingChart, page: Page, plane: Plane, right: float) -> str:
    record = [plane.at(at) for at in zip(chart.time, chart.value, strict=True)]
    lines = [record]
    taken: list[Box] = []
    wanted: list[Label] = []
    for step in chart.steps:
        if step.forecast is not None:
            lines.append([plane.at(at) for at in zip(step.forecast.time, step.forecast.value, strict=True)])
        said = _final_label(step, chart, page, plane)
        if said is not None:
            wanted.append(said)
        if step.value is not None:
            taken.append(_spot(plane.at((end_of(step), step.value)), page))
    for _, at, words in _steady(chart):
        taken.append(_spot(plane.at(at), page))
        wanted.append(_label((words,), plane.at(at), page, REGULAR, "ink"))
    for mark in chart.marks:
        near = min(range(len(chart.time)), key=lambda k: abs(chart.time[k] - mark.time))
        wanted.append(_label((mark.words,), record[near], page, REGULAR, "muted"))
    bounds = Box(0.2 * page.small, 0.0, plane.width + right, plane.height)
    return written(clear(placed(wanted, lines, taken, bounds, 0.3 * page.small)))


def _final_label(step: SettlingStep, chart: SettlingChart, page: Page, plane: Plane) -> Label | None:
    """The final value at its mark, "forecast" before one that is; why there is none, in the middle of the step."""
    if step.value is None:
        inside = [k for k, at in enumerate(chart.time) if step.first <= at <= step.last]
        place = inside[len(inside) // 2] if inside else 0
        at = plane.at((chart.time[place], chart.value[place]))
        return _label((step.word,), at, page, STRONG, "warn")
    number = wording.with_unit(wording.rounded(step.value, step.low, step.high, most=1), chart.y_unit)
    words = f"{step.how} {number}" if step.how is Settled.FORECAST else number
    return _label((words, step.word), plane.at((end_of(step), step.value)), page, STRONG, "ink")


def _label(words: Sequence[str], at: Point, page: Page, weight: int, colour: str) -> Label:
    said = [line for each in words if each for line in wrapped(each, page.small, weight, 0.4 * page.width, 2)]
    return beside(said, at, page.small, 0.55 * page.label, weight=weight, colour=colour)


def _spot(at: Point, page: Page) -> Box:
    reach = 0.28 * page.label
    return Box(at[0] - reach, at[1] - reach, at[0] + reach, at[1] + reach)
