"""A quantity against noise: each fan's way along its speed, folds kept, with limits as thin lines."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from itertools import pairwise
from typing import TYPE_CHECKING

from stillroom import wording
from stillroom.charts import layers, marks
from stillroom.charts.fonts import STRONG, clean, width
from stillroom.charts.frame import Body
from stillroom.charts.layout import Page
from stillroom.charts.palette import role
from stillroom.charts.pieces import Pen, line_layers, names_of, pens_for, written_names
from stillroom.charts.plane import Axis, Plane, Point, axis, axis_words
from stillroom.charts.plot import plot_on
from stillroom.charts.sound.series import TradeChart, TradeLine
from stillroom.errors import BadInput

if TYPE_CHECKING:
    import altair as alt

    from stillroom.charts.marks import AltairChart

MOST = 5
ROOM = 0.05
DODGE = 0.36
"""How far the marks of neighbouring fans stand apart at a limit, in letter sizes, so that intervals are seen."""

MOST_DODGE = 0.006
"""The same as a share of the plot's width at the most, so that marks stay near their lines."""

FROM_ZERO = 0.2
"""The ordinate begins at zero where the least value is under this share of the greatest."""


def draw_tradeoff(chart: TradeChart, page: Page, room: float, free: float | None) -> Body:
    """Draw the lines into `room` × `free`, or to the page's usual height.

    Raises
    ------
    BadInput : no line, or more than five.
    """
    if not 1 <= len(chart.lines) <= MOST:
        raise BadInput(
            f"{chart.y_label} against noise", found=f"{len(chart.lines)} fans", expected=f"1 to {MOST}"
        )
    height = free if free is not None else 1.1 * page.aspect * room
    labels = [" · ".join(filter(None, (each.label, each.word))) for each in chart.lines]
    names = names_of(labels, page, size=page.small)
    plot = plot_on(page, *_axes(chart, page), room, height, right=names.room, top=3.4 * page.small)
    pens = pens_for([each.label for each in chart.lines], [each.accent for each in chart.lines])
    ends = [plot.plane.at((line.level[-1], line.value[-1])) for line in chart.lines]
    words = _limit_words(chart, page, plot.plane)
    words += written_names(names, pens, ends, page, plot.plane, marked=True)
    return plot.body(
        "tradeoff",
        partial(_spec, chart, pens),
        y_words=axis_words(chart.y_label, chart.y_unit) + (f" · {chart.cue}" if chart.cue else ""),
        x_words=axis_words(chart.x_label, chart.x_unit),
        above=words,
    )


def _axes(chart: TradeChart, page: Page) -> tuple[Axis, Axis]:
    ticks = [each for line in chart.lines for each in line.ticks]
    levels = [each for line in chart.lines for each in line.level] + [each.level for each in chart.limits]
    levels += [end for each in ticks for end in (each.level_low, each.level_high)]
    values = [each for line in chart.lines for each in (*line.value, *line.high)]
    values += [each.high for each in ticks]
    most = 5 if page.stacked else 8
    away = ROOM * (max(levels) - min(levels)) or 1.0
    x = axis(min(levels) - away, max(levels) + away, most)
    lows = [each for line in chart.lines for each in line.low] + [each.low for each in ticks]
    top, foot = (1.0 + ROOM) * (max(values) or 1.0), min(values + lows)
    y = axis(0.0 if foot < FROM_ZERO * top else foot - ROOM * top, top, most)
    return x, y


def _spec(chart: TradeChart, pens: Sequence[Pen], page: Page, plane: Plane, rows: marks.Rows) -> AltairChart:
    import altair as alt

    made: list[alt.Chart] = []
    if chart.limits:
        upright = [((each.level, plane.y.low), (each.level, plane.y.high)) for each in chart.limits]
        made.append(layers.spans(rows, page, plane, upright, "axis", 0.05 * page.label))
    for pen, line in zip(pens, chart.lines, strict=True):
        made += _bands(line, pen, page, plane, rows)
    for pen, line in zip(pens, chart.lines, strict=True):
        made += _line(line, pen, page, plane, rows)
    middle = (len(pens) - 1) / 2
    for index, (pen, line) in enumerate(zip(pens, chart.lines, strict=True)):
        aside = (index - middle) * min(DODGE * page.label, MOST_DODGE * plane.width)
        made += _ticks(line, pen, aside, chart, page, plane, rows)
    return alt.layer(*made)


def _bands(line: TradeLine, pen: Pen, page: Page, plane: Plane, rows: marks.Rows) -> list[alt.Chart]:
    """The 95 % band of the value along the line, in parts between which the level turns back."""
    if not line.low:
        return []
    made: list[alt.Chart] = []
    for part in straight(line.level):
        made += layers.band(rows, page, plane, line.level[part], line.low[part], line.high[part], pen.colour)
    return made


def straight(levels: Sequence[float]) -> list[slice]:
    """The parts of a line between two places at which it turns back; neighbours share an end."""
    turns = [0]
    for place in range(1, len(levels) - 1):
        if (levels[place] - levels[place - 1]) * (levels[place + 1] - levels[place]) < 0.0:
            turns.append(place)
    turns.append(len(levels) - 1)
    return [slice(first, last + 1) for first, last in pairwise(turns)]


def _line(line: TradeLine, pen: Pen, page: Page, plane: Plane, rows: marks.Rows) -> list[alt.Chart]:
    points = list(zip(line.level, line.value, strict=True))
    thick = (0.13 if line.accent else 0.1) * page.label
    return line_layers(rows, page, plane, points, line.bound, pen.colour, thick, clean(line.label))


def _ticks(
    line: TradeLine, pen: Pen, aside: float, chart: TradeChart, page: Page, plane: Plane, rows: marks.Rows
) -> list[alt.Chart]:
    """Intervals both ways, with a mark of the fan's shape, `aside` of where they are by so many page units."""
    shift = aside / plane.width * (plane.x.high - plane.x.low)
    reaches: list[tuple[Point, Point]] = []
    data: list[marks.Row] = []
    for each in line.ticks:
        x = each.level + shift
        if each.level_high > each.level_low:
            reaches.append(((each.level_low + shift, each.value), (each.level_high + shift, each.value)))
        reaches.append(((x, each.low), (x, each.high)))
        value = wording.with_interval(each.value, each.low, each.high, chart.y_unit)
        data.append(
            {
                "x": x,
                "y": each.value,
                "shape": pen.shape,
                "fill": role(pen.colour if each.limit else "paper"),
                "edge": role(pen.colour),
                "aria": f"{clean(line.label)}, {wording.number(each.level, 1)} {chart.x_unit}: {value}",
            }
        )
    if not data:
        return []
    return [
        layers.spans(rows, page, plane, reaches, pen.colour, 0.055 * page.label),
        layers.dots(rows, page, plane, data, 0.3, edge=0.065, heard=True),
    ]


def _limit_words(chart: TradeChart, page: Page, plane: Plane) -> str:
    """The words of each limit above its line; only the last says its unit where they would touch."""
    limits = sorted(chart.limits, key=lambda limit: limit.level)
    words = [each.label for each in limits]
    places = _limit_places(words, [each.level for each in limits], page, plane)
    if any(before[1] + 0.6 * page.small > after[0] for before, after in pairwise(places)):
        words = [*(f"{each.level:g}" for each in limits[:-1]), limits[-1].label]
        places = _limit_places(words, [each.level for each in limits], page, plane)
    return "".join(
        marks.text(each, start, -0.5 * page.small, page.small, weight=STRONG)
        for each, (start, _) in zip(words, places, strict=True)
    )


def _limit_places(
    words: Sequence[str], levels: Sequence[float], page: Page, plane: Plane
) -> list[tuple[float, float]]:
    """From where to where words stand that are centred above their lines, within the plot."""
    wide = [width(each, page.small, STRONG) for each in words]
    starts = [
        min(max(0.0, plane.across(level) - each / 2), plane.width - each)
        for level, each in zip(levels, wide, strict=True)
    ]
    return [(start, start + each) for start, each in zip(starts, wide, strict=True)]
