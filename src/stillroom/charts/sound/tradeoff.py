"""Airflow against noise: each fan's way along its speed, folds kept, with limits as thin lines."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from stillroom import wording
from stillroom.charts import layers, marks
from stillroom.charts.fonts import STRONG, clean, width
from stillroom.charts.frame import Body
from stillroom.charts.layout import Page
from stillroom.charts.palette import role
from stillroom.charts.plane import Plane, Point, axis, axis_words, tick_room, under
from stillroom.charts.sound.pieces import Names, Pen, line_layers, names_of, pens_for, written_names
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
"""The ordinate begins at zero where the least flow is under this share of the greatest."""


def draw_tradeoff(chart: TradeChart, page: Page, room: float, free: float | None) -> Body:
    """Draw the lines into `room` × `free`, or to the page's usual height.

    Raises
    ------
    BadInput : no line, or more than five.
    """
    if not 1 <= len(chart.lines) <= MOST:
        raise BadInput("airflow against noise", found=f"{len(chart.lines)} fans", expected=f"1 to {MOST}")
    height = free if free is not None else 1.1 * page.aspect * room
    labels = [" · ".join(filter(None, (each.label, each.word))) for each in chart.lines]
    names = names_of(labels, page, size=page.small)
    plane = _plane(chart, page, room, names)
    left = room - plane.width - names.room
    top = 3.4 * page.small
    plane = Plane(plane.x, plane.y, plane.width, height - top - 3.3 * page.small)
    pens = pens_for([each.label for each in chart.lines], [each.accent for each in chart.lines])
    rows = marks.Rows()
    drawn = marks.drawn(
        _spec(chart, page, plane, pens, rows),
        rows,
        plane.width,
        plane.height,
        (page.margin + left, top, names.room, top),
    )
    y_words = axis_words(chart.y_label, chart.y_unit)
    out = drawn + marks.text(y_words, -left, 1.05 * page.small - top, page.small, colour="muted")
    out += under(plane, page, axis_words(chart.x_label, chart.x_unit)) + _limit_words(chart, page, plane)
    ends = [plane.at((line.level[-1], line.flow[-1])) for line in chart.lines]
    out += written_names(names, pens, ends, page, plane, marked=True)
    return Body(marks.group(out, left, top, "tradeoff"), height)


def _plane(chart: TradeChart, page: Page, room: float, names: Names) -> Plane:
    ticks = [each for line in chart.lines for each in line.ticks]
    levels = [each for line in chart.lines for each in line.level] + [each.level for each in chart.limits]
    levels += [end for each in ticks for end in (each.level_low, each.level_high)]
    flows = [each for line in chart.lines for each in line.flow] + [each.flow_high for each in ticks]
    most = 5 if page.stacked else 8
    away = ROOM * (max(levels) - min(levels)) or 1.0
    x = axis(min(levels) - away, max(levels) + away, most)
    top, foot = (1.0 + ROOM) * (max(flows) or 1.0), min(flows + [each.flow_low for each in ticks])
    y = axis(0.0 if foot < FROM_ZERO * top else foot - ROOM * top, top, most)
    return Plane(x, y, room - tick_room(y, page) - names.room, 1.0)


def _spec(chart: TradeChart, page: Page, plane: Plane, pens: Sequence[Pen], rows: marks.Rows) -> AltairChart:
    import altair as alt

    made: list[alt.Chart] = []
    if chart.limits:
        upright = [((each.level, plane.y.low), (each.level, plane.y.high)) for each in chart.limits]
        made.append(layers.spans(rows, page, plane, upright, "axis", 0.05 * page.label))
    for pen, line in zip(pens, chart.lines, strict=True):
        made += _line(line, pen, page, plane, rows)
    middle = (len(pens) - 1) / 2
    for index, (pen, line) in enumerate(zip(pens, chart.lines, strict=True)):
        aside = (index - middle) * min(DODGE * page.label, MOST_DODGE * plane.width)
        made += _ticks(line, pen, aside, chart, page, plane, rows)
    return alt.layer(*made)


def _line(line: TradeLine, pen: Pen, page: Page, plane: Plane, rows: marks.Rows) -> list[alt.Chart]:
    points = list(zip(line.level, line.flow, strict=True))
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
            reaches.append(((each.level_low + shift, each.flow), (each.level_high + shift, each.flow)))
        reaches.append(((x, each.flow_low), (x, each.flow_high)))
        flow = wording.with_interval(each.flow, each.flow_low, each.flow_high, chart.y_unit)
        data.append(
            {
                "x": x,
                "y": each.flow,
                "shape": pen.shape,
                "fill": role(pen.colour if each.limit else "paper"),
                "edge": role(pen.colour),
                "aria": f"{clean(line.label)}, {wording.number(each.level, 1)} {chart.x_unit}: {flow}",
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
