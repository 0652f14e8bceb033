"""PQ curves with their intervals, the load lines of obstacles, and the points where they meet."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from stillroom.charts import layers, marks
from stillroom.charts.fonts import REGULAR, STRONG, clean, width, wrapped
from stillroom.charts.frame import Body
from stillroom.charts.labels import Box, Label, around, placed, written
from stillroom.charts.layout import Page
from stillroom.charts.palette import HUES, role
from stillroom.charts.plane import Axis, Plane, Point, axis, axis_words, tick_room, under
from stillroom.charts.series import Curve, CurveChart, LoadLine, OperatingMark
from stillroom.errors import BadInput

if TYPE_CHECKING:
    import altair as alt

    from stillroom.charts.marks import AltairChart

HEADROOM = 1.08
SHAPES = ("circle", "square", "triangle-up", "diamond", "triangle-down", "cross")
DASH = (5.0, 2.6)
ALONG = (0.72, 0.62, 0.82, 0.52, 0.42, 0.9, 0.32, 0.22, 0.12, 0.97, 0.03)
LABEL_SHARE, STACKED_SHARE = 0.24, 0.32
TOP_SHARE = 0.45


@dataclass(frozen=True)
class Pen:
    """How one curve is drawn: colours come back after the last one, then dashed."""

    curve: Curve
    colour: str
    shape: str
    dash: tuple[float, ...]


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
    pens = pens_of(chart.curves)
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
    return max(0.5 * page.small, min(widest, _share(page) * room))


def _share(page: Page) -> float:
    return STACKED_SHARE if page.stacked else LABEL_SHARE


def pens_of(curves: Sequence[Curve]) -> list[Pen]:
    """One pen for each curve: the accent, a pale one, or the next of the categories."""
    inks = (*HUES[:4], "ink") if any(each.accent for each in curves) else (*HUES, "ink")
    pens, used = [], 0
    for index, curve in enumerate(curves):
        shape = SHAPES[index % len(SHAPES)]
        if curve.accent or curve.is_pale:
            pens.append(Pen(curve, "accent" if curve.accent else "pale", shape, ()))
        else:
            pens.append(Pen(curve, inks[used % len(inks)], shape, DASH if used >= len(inks) else ()))
            used += 1
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

    made: list[alt.Chart] = []
    for pen in pens:
        if pen.curve.low:
            curve = pen.curve
            made += layers.band(rows, page, plane, curve.flow, curve.low, curve.high, pen.colour)
    thick = 0.075 * page.label
    made += [
        layers.line(rows, page, plane, cut, "muted", thick, dash=(3.2, 2.6))
        for _, cut in loads
        if len(cut) > 1
    ]
    made += [layer for pen in sorted(pens, key=_depth) for layer in _curve(pen, page, plane, rows)]
    made += _points(chart.points, pens, {load.label: cut for load, cut in loads}, page, plane, rows)
    return alt.layer(*made)


def _depth(pen: Pen) -> int:
    """Pale curves lie beneath, the accent on top."""
    return 0 if pen.curve.is_pale else 2 if pen.curve.accent else 1


def _curve(pen: Pen, page: Page, plane: Plane, rows: marks.Rows) -> list[alt.Chart]:
    thick = (0.13 if pen.curve.accent else 0.1) * page.label
    points = list(zip(pen.curve.flow, pen.curve.pressure, strict=True))
    words = clean(pen.curve.label)
    made = [layers.line(rows, page, plane, points, pen.colour, thick, dash=pen.dash, words=words)]
    if pen.curve.measured:
        look: marks.Row = {"shape": pen.shape, "fill": role("paper"), "edge": role(pen.colour)}
        data = [{"x": x, "y": y, **look} for x, y in pen.curve.measured]
        made.append(layers.dots(rows, page, plane, data, 0.3, edge=0.055))
    return made


def _points(
    points: Sequence[OperatingMark],
    pens: Sequence[Pen],
    loads: Mapping[str, Sequence[Point]],
    page: Page,
    plane: Plane,
    rows: marks.Rows,
) -> list[alt.Chart]:
    """Each operating point with its interval along its load line, and every crossing where there are several."""
    looks = {pen.curve.label: pen for pen in pens}
    reaches: list[alt.Chart] = []
    rims: list[marks.Row] = []
    shown: list[marks.Row] = []
    for point in points:
        pen = looks.get(point.curve)
        colour = "accent" if point.accent else pen.colour if pen else "ink"
        shape = pen.shape if pen else "circle"
        words = clean(", ".join(each for each in (point.curve, point.load, point.label, point.word) if each))
        reach = _reach(point, loads.get(point.load, ()))
        thick = (0.1 if point.is_unique else 0.22) * page.label
        reaches.append(layers.line(rows, page, plane, reach, colour, thick))
        at = point.crossings or ((point.flow, point.pressure, point.is_stable),)
        for x, y, is_stable in at:
            rims.append({"x": x, "y": y, "shape": shape, "fill": role("paper"), "edge": role("paper")})
            fill = role(colour if is_stable else "paper")
            shown.append({"x": x, "y": y, "shape": shape, "fill": fill, "edge": role(colour), "aria": words})
    return [
        layers.dots(rows, page, plane, rims, 0.66, edge=0.0),
        *reaches,
        layers.dots(rows, page, plane, shown, 0.44, edge=0.09, heard=True),
    ]


def _reach(point: OperatingMark, load: Sequence[Point]) -> list[Point]:
    """From the low to the high end of a point's flow, along its load line where that is drawn."""
    ends = [point.flow if each is None else each for each in (point.flow_low, point.flow_high)]
    low, high = min(*ends, point.flow), max(*ends, point.flow)
    inside = [each for each in load if low < each[0] < high]
    if len(load) < 2:
        return [(low, point.pressure), (high, point.pressure)]
    return [(low, _at(load, low)), *inside, (high, _at(load, high))]


def _at(line: Sequence[Point], x: float) -> float:
    """Height of a line at an abscissa; that of its nearest end beyond it."""
    for (x0, y0), (x1, y1) in pairwise(line):
        if x <= x1:
            return y0 + (y1 - y0) * min(max((x - x0) / (x1 - x0), 0.0), 1.0) if x1 > x0 else y1
    return line[-1][1]


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
    wanted += [
        _point_label(point, page, plane)
        for point in chart.points
        if point.number or point.label or point.word
    ]
    several = len(pens) > 1
    wanted += [_curve_label(pen, line, page, marked=several) for pen, line in zip(pens, curves, strict=True)]
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
    share = _share(page) if y > 0.5 else TOP_SHARE
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
    """A number where several fans meet the load lines, so that the key names each; else the flow itself."""
    x, y = plane.at((point.flow, point.pressure))
    said = str(point.number) if point.number else point.label
    words = " · ".join(each for each in (said, point.word) if each)
    lines = wrapped(words, page.small, STRONG, 0.45 * plane.width, 2)
    return Label(
        tuple(lines),
        around(x, y, 0.5 * len(lines) * page.small, (0.4 if point.number else 0.55) * page.label),
        page.small,
        STRONG,
        "accent" if point.accent else "ink",
        target=(x, y),
    )


def _curve_label(pen: Pen, line: Sequence[Point], page: Page, *, marked: bool) -> Label:
    """Words along a curve, with the mark of its dots before them where several curves carry points."""
    said = " · ".join(each for each in (marks.named(pen.curve.label), pen.curve.word) if each)
    words = wrapped(said, page.small, STRONG, 0.4 * (page.width - 2 * page.margin), 1)
    gap, size = 0.5 * page.small, page.small
    ends = [line[round(share * (len(line) - 1))] for share in ALONG]
    spots = [(x + gap, y - 0.75 * size, "start") for x, y in ends]
    spots += [(x, y - 1.1 * size, "middle") for x, y in ends]
    spots += [(x - gap, y + 0.95 * size, "end") for x, y in ends]
    colour = "accent" if pen.curve.accent else "muted" if pen.curve.is_pale else "ink"
    symbol = (pen.shape, pen.colour) if marked else ("", "")
    return Label(tuple(words), tuple(spots), size, STRONG, colour, tuple(line), symbol)
