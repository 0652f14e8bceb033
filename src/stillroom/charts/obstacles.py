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
from stillroom.charts.labels import Box, Label, placed, written
from stillroom.charts.layout import Page
from stillroom.charts.palette import HUES, role
from stillroom.charts.plane import Plane, Point, axis, axis_words, log_axis, tick_room, under
from stillroom.errors import BadInput

if TYPE_CHECKING:
    import altair as alt

    from stillroom.charts.marks import AltairChart

INKS = ("ink", *HUES)
LABEL_SHARE, STACKED_SHARE = 0.2, 0.32
ROOM = 1.25
"""How far a logarithmic axis reaches beyond the readings [1]."""


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
    plane = _plane(chart, page, room, height)
    left, top = tick_room(plane.y, page), 1.9 * page.small
    right = room - left - plane.width
    rows = marks.Rows()
    drawn = marks.drawn(
        _spec(page, plane, pens, rows), rows, plane.width, plane.height, (page.margin + left, top, right, top)
    )
    y_words = axis_words(chart.y_label, chart.y_unit)
    body = drawn + marks.text(y_words, -left, -1.05 * page.small, page.small, colour="muted")
    body += under(plane, page, axis_words(chart.x_label, chart.x_unit))
    taken = Box(-left, -top, -left + width(y_words, page.small), -0.4 * page.small)
    bounds = Box(-left, -top, plane.width + right, plane.height)
    body += _labels(page, plane, pens, bounds, taken)
    return Body(marks.group(body, left, top, "obstacles"), height)


def _plane(chart: ObstacleChart, page: Page, room: float, height: float) -> Plane:
    """The axes, and the plot that the words at the ends of the curves leave."""
    flows = [each for curve in chart.curves for each in (*curve.flow, *(at[0] for at in curve.measured))]
    drops = [each for curve in chart.curves for each in (*curve.high, *(at[1] for at in curve.measured))]
    if max(flows) <= 0 or max(drops) <= 0:
        raise BadInput("chart of obstacles", found="no positive flow or drop", expected="an obstacle's curve")
    most = 5 if page.stacked else 8
    if chart.is_log:
        above = [each for curve in chart.curves for each in (*curve.drop, *(at[1] for at in curve.measured))]
        least = min(each for each in above if each > 0.0)
        x = log_axis(min(each for each in flows if each > 0.0) / ROOM, max(flows) * ROOM)
        y = log_axis(least / ROOM, max(drops) * ROOM)
    else:
        x = axis(0.0, HEADROOM * max(flows), most)
        y = axis(
            min(0.0, *(at[1] for curve in chart.curves for at in curve.measured), 0.0),
            HEADROOM * max(drops),
            most,
        )
    left = tick_room(y, page)
    names = max(width(line, page.small, STRONG) for each in chart.curves for line in _lines(each.label, page))
    right = names + 2.2 * page.small
    return Plane(x, y, room - left - right, height - 1.9 * page.small - 3.3 * page.small)


def _spec(page: Page, plane: Plane, pens: Sequence[Pen], rows: marks.Rows) -> AltairChart:
    import altair as alt

    made: list[alt.Chart] = []
    for pen in pens:
        inside = [index for index, x in enumerate(pen.curve.flow) if plane.x.low <= x <= plane.x.high]
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


def _labels(page: Page, plane: Plane, pens: Sequence[Pen], bounds: Box, taken: Box) -> str:
    """The name of each obstacle at the end of its curve, the steepest first: each keeps nearest to its own."""
    lines = {pen.curve.label: [plane.at(point) for point in _line(pen, plane)] for pen in pens}
    order = sorted(
        (pen for pen in pens if lines[pen.curve.label]), key=lambda pen: lines[pen.curve.label][-1][1]
    )
    wanted = [_label(pen, lines[pen.curve.label], page) for pen in order]
    return written(placed(wanted, list(lines.values()), (taken,), bounds, 0.3 * page.small))


def _lines(label: str, page: Page) -> list[str]:
    """A name in two lines at most, in three on narrow pages."""
    share, most = (STACKED_SHARE, 3) if page.stacked else (LABEL_SHARE, 2)
    return balanced(marks.named(label), page.small, STRONG, share * (page.width - 2 * page.margin), most)


def _label(pen: Pen, line: Sequence[Point], page: Page) -> Label:
    size, (x, y) = page.small, line[-1]
    gap = 0.6 * size
    spots = [
        (x + gap, y + shift * size, "start") for shift in (0, -0.7, 0.7, -1.3, 1.3, -2.0, 2.0, -2.7, 2.7)
    ]
    for share in (0.9, 0.8, 0.65, 0.5):
        px, py = line[round(share * (len(line) - 1))]
        spots += [(px - gap, py - 0.8 * size, "end"), (px + gap, py + 0.9 * size, "start")]
    words = _lines(pen.curve.label, page)
    return Label(
        tuple(words), tuple(spots), size, STRONG, "ink", tuple(line), (pen.shape, pen.colour), target=(x, y)
    )
