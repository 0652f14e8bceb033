"""PQ curves with their intervals, the load lines of obstacles, and the points where they meet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from stillroom.charts import marks
from stillroom.charts.fonts import REGULAR, STRONG, clean, width, wrapped
from stillroom.charts.frame import Body
from stillroom.charts.labels import Box, Label, around, placed, written
from stillroom.charts.layout import Page
from stillroom.charts.palette import role
from stillroom.charts.plane import Axis, Plane, Point, axis, axis_words, tick_room, under, x_of, y_of
from stillroom.charts.series import Curve, CurveChart, LoadLine, OperatingMark
from stillroom.errors import BadInput

if TYPE_CHECKING:
    import altair as alt

    from stillroom.charts.marks import AltairChart

HEADROOM = 1.08
SHAPES = ("circle", "square", "triangle-up", "diamond", "triangle-down", "cross")
INKS = ("shade-6", "shade-4", "shade-3", "shade-5")
ALONG = (0.72, 0.62, 0.82, 0.52, 0.42, 0.9, 0.32, 0.22, 0.12, 0.97, 0.03)
LABEL_SHARE = 0.24
TOP_SHARE = 0.45


@dataclass(frozen=True)
class Pen:
    """How one curve is drawn."""

    curve: Curve
    colour: str
    band: str
    shape: str
    weight: int


def draw_curves(chart: CurveChart, page: Page, room: float, free: float | None) -> Body:
    """Draw the curves into `room` × `free`, or to the page's usual height.

    Raises
    ------
    BadInput : there is no curve.
    """
    if not chart.curves:
        raise BadInput("chart of curves", found="no curve", expected="at least one")
    height = free if free is not None else page.aspect * room
    x, y = _axes(chart, page)
    left, top, right = tick_room(y, page), 1.9 * page.small, _gutter(chart, page, room, Plane(x, y, 1, 1))
    plane = Plane(x, y, room - left - right, height - top - 3.3 * page.small)
    pens = _pens(chart.curves)
    loads = [(load, plane.cut(list(zip(load.flow, load.pressure, strict=True)))) for load in chart.loads]
    rows = marks.Rows()
    drawn = marks.drawn(
        _spec(chart, page, plane, pens, loads, rows),
        rows,
        plane.width,
        plane.height,
        (page.margin + left, top, right, top),
    )
    y_words = marks.text(
        axis_words(chart.y_label, chart.y_unit), -left, -1.05 * page.small, page.small, colour="muted"
    )
    said = _labels(chart, page, plane, pens, loads, Box(-left, -top, plane.width + right, plane.height))
    body = drawn + y_words + under(plane, page, axis_words(chart.x_label, chart.x_unit)) + said
    return Body(marks.group(body, left, top, "curves"), height)


def _axes(chart: CurveChart, page: Page) -> tuple[Axis, Axis]:
    """Both from zero to a little beyond the curves; load lines are cut there."""
    flows = [
        each for curve in chart.curves for each in (*curve.flow, *(point[0] for point in curve.measured))
    ]
    tops = [
        each
        for curve in chart.curves
        for each in (*curve.pressure, *curve.high, *(point[1] for point in curve.measured))
    ]
    lows = [
        each for curve in chart.curves for each in (*curve.pressure, *(point[1] for point in curve.measured))
    ]
    if max(flows) <= 0 or max(tops) <= 0:
        raise BadInput("chart of curves", found="no positive flow or pressure", expected="a fan curve")
    most = 5 if page.stacked else 8
    least = min(0.0, *lows)
    return axis(min(0.0, *flows), HEADROOM * max(flows), most), axis(least, HEADROOM * max(tops), most)


def _gutter(chart: CurveChart, page: Page, room: float, plane: Plane) -> float:
    """Room right of the plot for the words at load lines that leave it there."""
    widest = 0.0
    for load in chart.loads:
        line = plane.cut(list(zip(load.flow, load.pressure, strict=True)))
        if line and line[-1][1] < 0.97 * plane.y.high:
            past = plane.across(line[-1][0]) * room + width(load.label, page.small) + page.small - room
            widest = max(widest, past)
    return max(0.5 * page.small, min(widest, LABEL_SHARE * room))


def _pens(curves: Sequence[Curve]) -> list[Pen]:
    pens, quiet = [], 0
    for index, curve in enumerate(curves):
        shape = SHAPES[index % len(SHAPES)]
        if curve.accent:
            pens.append(Pen(curve, "accent", "accent-band", shape, STRONG))
        else:
            pens.append(Pen(curve, INKS[quiet % len(INKS)], "band", shape, REGULAR))
            quiet += 1
    return pens


# --- the definition -------------------------------------------------------------------------------


def _spec(
    chart: CurveChart,
    page: Page,
    plane: Plane,
    pens: Sequence[Pen],
    loads: Sequence[tuple[LoadLine, list[Point]]],
    rows: marks.Rows,
) -> AltairChart:
    import altair as alt

    layers = [_band(pen, page, plane, rows) for pen in pens if pen.curve.low]
    layers += [_load(line, page, plane, rows) for _, line in loads if len(line) > 1]
    for pen in pens:
        layers += _line(pen, page, plane, rows)
    layers += _points(chart.points, pens, page, plane, rows)
    return alt.layer(*layers)


def _band(pen: Pen, page: Page, plane: Plane, rows: marks.Rows) -> alt.Chart:
    curve = pen.curve
    data: list[marks.Row] = [
        {"x": x, "y": max(low, plane.y.low), "y2": max(high, plane.y.low)}
        for x, low, high in zip(curve.flow, curve.low, curve.high, strict=True)
    ]
    layer: alt.Chart = (
        rows.chart(data)
        .mark_area(fill=role(pen.band), opacity=1, aria=False)
        .encode(x=x_of(plane, page), y=y_of(plane, page), y2="y2:Q")
    )
    return layer


def _load(line: Sequence[Point], page: Page, plane: Plane, rows: marks.Rows) -> alt.Chart:
    thick = 0.075 * page.label
    data: list[marks.Row] = [{"x": x, "y": y} for x, y in line]
    layer: alt.Chart = (
        rows.chart(data)
        .mark_line(stroke=role("muted"), strokeWidth=thick, strokeDash=[3.2 * thick, 2.6 * thick], aria=False)
        .encode(x=x_of(plane, page), y=y_of(plane, page), order="x:Q")
    )
    return layer


def _line(pen: Pen, page: Page, plane: Plane, rows: marks.Rows) -> list[alt.Chart]:
    thick = (0.13 if pen.curve.accent else 0.1) * page.label
    data: list[marks.Row] = [
        {"x": x, "y": y} for x, y in zip(pen.curve.flow, pen.curve.pressure, strict=True)
    ]
    encodings = {"x": x_of(plane, page), "y": y_of(plane, page)}
    line = rows.chart(data).mark_line(
        stroke=role(pen.colour),
        strokeWidth=thick,
        strokeCap="round",
        description=clean(pen.curve.label),
    )
    layers = [line.encode(**encodings, order="x:Q")]
    if pen.curve.measured:
        measured: list[marks.Row] = [{"x": x, "y": y} for x, y in pen.curve.measured]
        dots = rows.chart(measured).mark_point(
            shape=pen.shape,
            filled=True,
            fill=role("paper"),
            stroke=role(pen.colour),
            strokeWidth=0.055 * page.label,
            size=(0.3 * page.label) ** 2,
            opacity=1,
            aria=False,
        )
        layers.append(dots.encode(**encodings))
    return layers


def _points(
    points: Sequence[OperatingMark], pens: Sequence[Pen], page: Page, plane: Plane, rows: marks.Rows
) -> list[alt.Chart]:
    import altair as alt

    colours = {pen.curve.label: pen.colour for pen in pens}
    data: list[marks.Row] = []
    for point in points:
        ink = role("accent" if point.accent else colours.get(point.curve, "ink"))
        data.append(
            {
                "x": point.flow,
                "y": point.pressure,
                "low": point.flow if point.flow_low is None else point.flow_low,
                "high": point.flow if point.flow_high is None else point.flow_high,
                "ink": ink,
                "fill": ink if point.is_stable and point.is_unique else role("paper"),
                "shape": "circle" if point.is_unique else "diamond",
                "aria": clean(
                    ", ".join(each for each in (point.curve, point.load, point.label, point.word) if each)
                ),
            }
        )
    base = rows.chart(data).encode(x=x_of(plane, page), y=y_of(plane, page))
    reach = base.encode(x=x_of(plane, page, "low"), x2="high:Q", stroke=alt.Stroke("ink:N", scale=None))
    dots = base.mark_point(
        filled=True, opacity=1, size=(0.48 * page.label) ** 2, strokeWidth=0.1 * page.label
    )
    return [
        base.mark_point(
            filled=True, fill=role("paper"), opacity=1, size=(0.72 * page.label) ** 2, aria=False
        ).encode(shape=alt.Shape("shape:N", scale=None)),
        reach.mark_rule(strokeWidth=0.09 * page.label, aria=False),
        dots.encode(
            shape=alt.Shape("shape:N", scale=None),
            fill=alt.Fill("fill:N", scale=None),
            stroke=alt.Stroke("ink:N", scale=None),
            description="aria:N",
        ),
    ]


# --- the words ------------------------------------------------------------------------------------


def _labels(
    chart: CurveChart,
    page: Page,
    plane: Plane,
    pens: Sequence[Pen],
    loads: Sequence[tuple[LoadLine, list[Point]]],
    bounds: Box,
) -> str:
    on_page = [[plane.at(point) for point in line] for _, line in loads]
    curves = [
        [plane.at(pair) for pair in zip(pen.curve.flow, pen.curve.pressure, strict=True)] for pen in pens
    ]
    wanted = [
        _load_label(load, line[-1], page) for (load, _), line in zip(loads, on_page, strict=True) if line
    ]
    wanted += [_point_label(point, page, plane) for point in chart.points if point.label or point.word]
    wanted += [_curve_label(pen, line, page) for pen, line in zip(pens, curves, strict=True)]
    dot = 0.42 * page.label
    taken = [
        Box(x - dot, y - dot, x + dot, y + dot)
        for x, y in (plane.at((point.flow, point.pressure)) for point in chart.points)
    ]
    y_words = axis_words(chart.y_label, chart.y_unit)
    taken.append(Box(bounds.left, bounds.top, bounds.left + width(y_words, page.small), -0.4 * page.small))
    return written(placed(wanted, [*on_page, *curves], taken, bounds, 0.3 * page.small))


def _load_label(load: LoadLine, end: Point, page: Page) -> Label:
    """Words at a load line's end: beside it at the right edge, above it at the upper edge."""
    x, y = end
    share = LABEL_SHARE if y > 0.5 else TOP_SHARE
    words = wrapped(load.label, page.small, REGULAR, share * (page.width - 2 * page.margin), 1)
    gap, size = 0.45 * page.small, page.small
    spots: list[tuple[float, float, str]] = []
    if y > 0.5:
        spots += [(x + gap, y + shift * size, "start") for shift in (0, -0.6, 0.6, -1.2, 1.2, -1.8, 1.8, 2.4)]
    above = -0.85 * size
    spots += [(x, above, "middle"), (x, above, "start"), (x, above, "end")]
    spots += [(x + gap, y + shift * size, "start") for shift in (0.7, 1.5, 2.3, 3.1)]
    spots += [(x - gap, y + shift * size, "end") for shift in (0.7, 1.5, 2.3)]
    return Label(tuple(words), tuple(spots), size, REGULAR, "muted")


def _point_label(point: OperatingMark, page: Page, plane: Plane) -> Label:
    x, y = plane.at((point.flow, point.pressure))
    words = " · ".join(each for each in (point.label, point.word) if each)
    lines = wrapped(words, page.small, STRONG, 0.45 * plane.width, 2)
    colour = "accent" if point.accent else "ink"
    return Label(
        tuple(lines),
        around(x, y, 0.5 * len(lines) * page.small, 0.55 * page.label),
        page.small,
        STRONG,
        colour,
    )


def _curve_label(pen: Pen, line: Sequence[Point], page: Page) -> Label:
    words = wrapped(pen.curve.label, page.small, STRONG, 0.4 * (page.width - 2 * page.margin), 1)
    gap, size = 0.5 * page.small, page.small
    ends = [line[round(share * (len(line) - 1))] for share in ALONG]
    spots = [(x + gap, y - 0.75 * size, "start") for x, y in ends]
    spots += [(x, y - 1.1 * size, "middle") for x, y in ends]
    spots += [(x - gap, y + 0.95 * size, "end") for x, y in ends]
    return Label(tuple(words), tuple(spots), size, STRONG, pen.colour, tuple(line))
