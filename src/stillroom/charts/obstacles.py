"""How much obstacles resist the air: pressure drop against airflow, each with its band, readings and name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from stillroom.charts import layers, marks
from stillroom.charts.curves import HEADROOM, SHAPES
from stillroom.charts.fonts import STRONG, balanced, clean, width
from stillroom.charts.frame import Body
from stillroom.charts.further_series import ObstacleChart, ObstacleCurve
from stillroom.charts.labels import Label, led_from, written
from stillroom.charts.layout import Page
from stillroom.charts.palette import HUES, role
from stillroom.charts.plane import Plane, Point, axis, axis_words, log_axis, tick_room, under
from stillroom.errors import BadInput

if TYPE_CHECKING:
    import altair as alt

    from stillroom.charts.marks import AltairChart

INKS = ("ink", *HUES)
LABEL_SHARE, STACKED_SHARE = 0.2, 0.32
DECADES = 1e3
"""How far below the greatest drop a logarithmic axis begins at the most: less is beneath what is read [1]."""

ROOM, RIGHT_ROOM = 1.25, 1.05
"""How far a logarithmic axis reaches beyond the readings, and to the right where the names begin [1]."""


@dataclass(frozen=True)
class Pen:
    """How one obstacle is drawn: colours come back after the last one, then dashed."""

    curve: ObstacleCurve
    colour: str
    shape: str
    dash: tuple[float, ...]


def draw_obstacles(chart: ObstacleChart, page: Page, room: float, free: float | None) -> Body:
    """Draw the curves into `room` × `free`, or to the page's usual height.

    Raises
    ------
    BadInput : there is no curve.
    """
    if not chart.curves:
        raise BadInput("chart of obstacles", found="no curve", expected="at least one")
    height = free if free is not None else 1.1 * page.aspect * room
    pens = [
        Pen(
            curve,
            INKS[index % len(INKS)],
            SHAPES[index % len(SHAPES)],
            (5.0, 2.6) if index >= len(INKS) else (),
        )
        for index, curve in enumerate(chart.curves)
    ]
    names = _names(chart, page, height - 4.5 * page.small)
    plane = _plane(chart, page, room, height, names)
    left, top = tick_room(plane.y, page), 1.9 * page.small
    right = room - left - plane.width
    rows = marks.Rows()
    drawn = marks.drawn(
        _spec(page, plane, pens, rows), rows, plane.width, plane.height, (page.margin + left, top, right, top)
    )
    y_words = axis_words(chart.y_label, chart.y_unit)
    body = drawn + marks.text(y_words, -left, -1.05 * page.small, page.small, colour="muted")
    body += under(plane, page, axis_words(chart.x_label, chart.x_unit))
    body += _labels(names, page, plane, pens, top)
    return Body(marks.group(body, left, top, "obstacles"), height)


def _plane(chart: ObstacleChart, page: Page, room: float, height: float, names: Names) -> Plane:
    """The axes, and the plot that the words at the ends of the curves leave."""
    flows = [each for curve in chart.curves for each in (*curve.flow, *(at[0] for at in curve.measured))]
    drops = [each for curve in chart.curves for each in (*curve.high, *(at[1] for at in curve.measured))]
    if max(flows) <= 0 or max(drops) <= 0:
        raise BadInput("chart of obstacles", found="no positive flow or drop", expected="an obstacle's curve")
    most = 5 if page.stacked else 8
    if chart.is_log:
        above = [each for curve in chart.curves for each in (*curve.drop, *(at[1] for at in curve.measured))]
        least = min(each for each in above if each > 0.0)
        x = log_axis(min(each for each in flows if each > 0.0) / ROOM, max(flows) * RIGHT_ROOM)
        y = log_axis(max(least / ROOM, max(drops) / DECADES), max(drops) * ROOM)
    else:
        x = axis(0.0, HEADROOM * max(flows), most)
        y = axis(
            min(0.0, *(at[1] for curve in chart.curves for at in curve.measured), 0.0),
            HEADROOM * max(drops),
            most,
        )
    left = tick_room(y, page)
    right = names.wide + 2.2 * page.small
    return Plane(x, y, room - left - right, height - 1.9 * page.small - 3.3 * page.small)


def _spec(page: Page, plane: Plane, pens: Sequence[Pen], rows: marks.Rows) -> AltairChart:
    import altair as alt

    made: list[alt.Chart] = []
    for pen in pens:
        reach = enumerate(zip(pen.curve.flow, pen.curve.high, strict=True))
        inside = [at for at, (x, top) in reach if plane.x.low <= x <= plane.x.high and top >= plane.y.low]
        flow, low, high = (
            [series[index] for index in inside] for series in (pen.curve.flow, pen.curve.low, pen.curve.high)
        )
        made += layers.band(rows, page, plane, flow, low, high, pen.colour)
    for pen in pens:
        thick, words = 0.1 * page.label, clean(f"{pen.curve.label}: {pen.curve.law}")
        made.append(
            layers.line(rows, page, plane, _line(pen, plane), pen.colour, thick, dash=pen.dash, words=words)
        )
    for pen in pens:
        look: marks.Row = {"shape": pen.shape, "fill": role("paper"), "edge": role(pen.colour)}
        data = [{"x": x, "y": y, **look} for x, y in pen.curve.measured if plane.holds((x, y))]
        made.append(layers.dots(rows, page, plane, data, 0.32, edge=0.06))
    return alt.layer(*made)


def _line(pen: Pen, plane: Plane) -> list[Point]:
    return plane.cut(list(zip(pen.curve.flow, pen.curve.drop, strict=True)))


def _labels(names: Names, page: Page, plane: Plane, pens: Sequence[Pen], top: float) -> str:
    """The name of each obstacle in a column right of the plot, led to the end of its curve."""
    size = page.small
    ends = [
        plane.at(line[-1]) if (line := _line(pen, plane)) else (plane.width, plane.height) for pen in pens
    ]
    heights = [(1.2 * len(lines) + 0.25) * size for lines in names.lines]
    x = plane.width + 0.5 * size
    middles = led_from(ends, heights, x, -top, plane.height + 0.5 * size)
    chosen = []
    for pen, lines, end, middle in zip(pens, names.lines, ends, middles, strict=True):
        label = Label(tuple(lines), (), size, STRONG, "ink", (), (pen.shape, pen.colour), target=end)
        chosen.append((label, (x, middle, "start")))
    return written(chosen)


@dataclass(frozen=True)
class Names:
    """The words of all obstacles, set into lines, and the width of the widest."""

    lines: tuple[tuple[str, ...], ...]
    wide: float


def _names(chart: ObstacleChart, page: Page, height: float) -> Names:
    """Whole names where the column holds them all, else the short ones."""
    share, most = (STACKED_SHARE, 3) if page.stacked else (LABEL_SHARE, 2)
    room = share * (page.width - 2 * page.margin)
    whole = [balanced(marks.named(each.label), page.small, STRONG, room, most) for each in chart.curves]
    if sum(1.2 * len(lines) + 0.25 for lines in whole) * page.small > height:
        whole = [
            balanced(marks.named(each.short or each.label), page.small, STRONG, room, 1)
            for each in chart.curves
        ]
    wide = max(width(line, page.small, STRONG) for lines in whole for line in lines)
    return Names(tuple(tuple(lines) for lines in whole), wide)
