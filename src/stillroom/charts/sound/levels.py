"""Level against speed: dwells with their intervals, the line with its band, limits, bands to avoid, the floor."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from itertools import groupby
from typing import TYPE_CHECKING

from stillroom import wording
from stillroom.charts import layers, marks
from stillroom.charts.fonts import REGULAR, STRONG, clean, wrapped
from stillroom.charts.frame import Body
from stillroom.charts.labels import Box, Label, around, beside, placed, written
from stillroom.charts.layout import Page
from stillroom.charts.palette import role
from stillroom.charts.pieces import (
    BAND_OPACITY,
    BOUND_SHAPE,
    LANE,
    Pen,
    lanes_of,
    line_layers,
    names_of,
    pens_for,
    signs_of,
    written_names,
    written_signs,
)
from stillroom.charts.plane import Axis, Plane, Point, axis, axis_words
from stillroom.charts.plot import plot_on
from stillroom.charts.series import Bound
from stillroom.charts.sound.series import LevelChart, LevelLine
from stillroom.errors import BadInput

if TYPE_CHECKING:
    import altair as alt

    from stillroom.charts.marks import AltairChart

ROOM = 0.07
MOST = 5
AT_MOST = "at most"
ARROW = 0.05
"""Length of the arrow down from a bound, as a share of the plot's height."""


def draw_levels(chart: LevelChart, page: Page, room: float, free: float | None) -> Body:
    """Draw the lines into `room` × `free`, or to the page's usual height.

    Raises
    ------
    BadInput : no line, or more than five.
    """
    if not 1 <= len(chart.lines) <= MOST:
        raise BadInput("chart of levels", found=f"{len(chart.lines)} lines", expected=f"1 to {MOST}")
    height = free if free is not None else 1.1 * page.aspect * room
    several = len(chart.lines) > 1
    names = names_of([each.label for each in chart.lines] if several else [], page, size=page.small)
    plot = plot_on(page, *_axes(chart, page), room, height, right=names.room, top=0.0)
    shaded = () if several else chart.avoid
    signs = signs_of(shaded, page, plot.plane, 0.0, plot.plane.width + names.room)
    plot = plot.under_head((1.9 + LANE * lanes_of(signs)) * page.small)
    plane = plot.plane
    pens = pens_for(
        [each.label for each in chart.lines], [each.accent or not several for each in chart.lines]
    )
    words = written_signs(signs, shaded, page, plane) + _labels(chart, page, plane)
    if several:
        ends = [plane.at((line.speed[-1], line.level[-1])) for line in chart.lines]
        words += written_names(names, pens, ends, page, plane, marked=True)
    return plot.body(
        "levels",
        partial(_spec, chart, pens),
        y_words=axis_words(chart.y_label, chart.y_unit),
        x_words=axis_words(chart.x_label, chart.x_unit),
        above=words,
    )


def _axes(chart: LevelChart, page: Page) -> tuple[Axis, Axis]:
    speeds = [x for line in chart.lines for x in (*line.speed, *(each.speed for each in line.points))]
    levels = [each.level for each in chart.limits] + [each.level for each in chart.marks]
    levels += [] if chart.floor is None else [chart.floor]
    for line in chart.lines:
        flags = line.bound or (False,) * len(line.level)
        levels += [*line.level, *(y for _, y in line.ramp)]
        levels += [
            y for ends in (line.low, line.high) for y, flag in zip(ends, flags, strict=False) if not flag
        ]
        levels += [
            end for each in line.points for end in (each.level, each.low, each.high) if end is not None
        ]
    low, high = min(levels), max(levels)
    away = ROOM * (high - low) or 1.0
    most = 5 if page.stacked else 8
    y = axis(low - away, high + away, most)
    pad = 0.02 * (max(speeds) - min(speeds)) or 1.0
    return axis(min(speeds) - pad, max(speeds) + pad, most), y


# --- the definition -------------------------------------------------------------------------------


def _spec(chart: LevelChart, pens: Sequence[Pen], page: Page, plane: Plane, rows: marks.Rows) -> AltairChart:
    import altair as alt

    thin = 0.055 * page.label
    made: list[alt.Chart] = [] if len(chart.lines) > 1 else _shading(chart, page, plane, rows)
    if chart.floor is not None:
        corners = ((plane.x.low, plane.y.low), (plane.x.high, chart.floor))
        made.append(layers.area(rows, page, plane, corners, "quiet", 0.35))
        ends = [(plane.x.low, chart.floor), (plane.x.high, chart.floor)]
        made.append(layers.line(rows, page, plane, ends, "muted", thin, dash=(4.0, 2.4)))
    if chart.limits:
        across = [((plane.x.low, each.level), (plane.x.high, each.level)) for each in chart.limits]
        made.append(layers.spans(rows, page, plane, across, "ink", thin))
    for pen, line in zip(pens, chart.lines, strict=True):
        made += _band(line, pen, page, plane, rows)
    if len(chart.lines) > 1:
        made += _strokes(chart, page, plane, rows)
    for pen, line in zip(pens, chart.lines, strict=True):
        made += _line(line, pen, page, plane, rows, with_ramp=len(chart.lines) == 1)
    made += _marks(chart, pens, page, plane, rows)
    return alt.layer(*made)


def _shading(chart: LevelChart, page: Page, plane: Plane, rows: marks.Rows) -> list[alt.Chart]:
    """Bands to avoid over the height of the plot."""
    made = []
    for each in chart.avoid:
        low, high = (min(max(end, plane.x.low), plane.x.high) for end in (each.low, each.high))
        corners = ((low, plane.y.low), (high, plane.y.high))
        made.append(layers.area(rows, page, plane, corners, "warn", BAND_OPACITY))
    return made


def _strokes(chart: LevelChart, page: Page, plane: Plane, rows: marks.Rows) -> list[alt.Chart]:
    """Bands to avoid as broad strokes along the line that each is of."""
    made = []
    for each in chart.avoid:
        line = next((one for one in chart.lines if one.label == each.line), None)
        within = [
            at
            for at in (zip(line.speed, line.level, strict=True) if line else ())
            if each.low <= at[0] <= each.high
        ]
        if len(within) > 1:
            stroke = layers.line(
                rows, page, plane, within, "stroke", 0.5 * page.label, words=clean(each.words)
            )
            made.append(stroke)
    return made


def _band(line: LevelLine, pen: Pen, page: Page, plane: Plane, rows: marks.Rows) -> list[alt.Chart]:
    """The 95 % band where the level is a value; a bound has none."""
    if not line.low:
        return []
    made: list[alt.Chart] = []
    flags = line.bound or (False,) * len(line.speed)
    for is_bound, group in groupby(range(len(flags)), key=lambda place: flags[place]):
        places = list(group)
        if not is_bound and len(places) > 1:
            part = slice(places[0], places[-1] + 1)
            series = (line.speed[part], line.low[part], line.high[part])
            made += layers.band(rows, page, plane, *series, pen.colour)
    return made


def _line(
    line: LevelLine, pen: Pen, page: Page, plane: Plane, rows: marks.Rows, *, with_ramp: bool
) -> list[alt.Chart]:
    """The ramp's readings beneath, the line, the intervals of the dwells and their marks."""
    made: list[alt.Chart] = []
    if line.ramp and with_ramp:
        faint: marks.Row = {"shape": "circle", "fill": role(pen.colour), "edge": role(pen.colour)}
        read: list[marks.Row] = [{"x": x, "y": y, **faint} for x, y in line.ramp]
        made.append(layers.dots(rows, page, plane, read, 0.09, edge=0.0))
    points = list(zip(line.speed, line.level, strict=True))
    thick = (0.12 if line.accent else 0.1) * page.label
    made += line_layers(rows, page, plane, points, line.bound, pen.colour, thick, clean(line.label))
    reaches = [
        ((each.speed, each.low), (each.speed, each.high))
        for each in line.points
        if each.low is not None and each.high is not None and each.bound is Bound.NONE
    ]
    down = ARROW * (plane.y.high - plane.y.low)
    reaches += [
        ((each.speed, each.level), (each.speed, max(plane.y.low, each.level - down)))
        for each in line.points
        if each.bound is Bound.AT_MOST
    ]
    if reaches:
        made.append(layers.spans(rows, page, plane, reaches, pen.colour, 0.07 * page.label))
    data: list[marks.Row] = []
    for each in line.points:
        is_bound = each.bound is not Bound.NONE
        y = max(plane.y.low, each.level - down) if each.bound is Bound.AT_MOST else each.level
        said = (
            f"{wording.bare(each.speed)}: {AT_MOST + ' ' if is_bound else ''}{wording.number(each.level, 1)}"
        )
        data.append(
            {
                "x": each.speed,
                "y": y,
                "shape": BOUND_SHAPE if is_bound else pen.shape,
                "fill": role("paper" if is_bound else pen.colour),
                "edge": role(pen.colour),
                "aria": f"{clean(line.label)}, {said}",
            }
        )
    if data:
        made.append(layers.dots(rows, page, plane, data, 0.3, edge=0.065, heard=True))
    return made


def _marks(
    chart: LevelChart, pens: Sequence[Pen], page: Page, plane: Plane, rows: marks.Rows
) -> list[alt.Chart]:
    """Where lines meet limits: the interval of the speed along the limit, and an open mark."""
    if not chart.marks:
        return []
    colours = {line.label: pen.colour for line, pen in zip(chart.lines, pens, strict=True)}
    reaches = [((each.low, each.level), (each.high, each.level)) for each in chart.marks]
    data: list[marks.Row] = [
        {
            "x": each.speed,
            "y": each.level,
            "shape": "diamond",
            "fill": role("paper"),
            "edge": role(colours.get(each.line, "ink")),
            "aria": clean(each.label),
        }
        for each in chart.marks
    ]
    return [
        layers.spans(rows, page, plane, reaches, "ink", 0.13 * page.label),
        layers.dots(rows, page, plane, data, 0.46, edge=0.1, heard=True),
    ]


# --- the words ------------------------------------------------------------------------------------


def _labels(chart: LevelChart, page: Page, plane: Plane) -> str:
    lines = [[plane.at(at) for at in zip(line.speed, line.level, strict=True)] for line in chart.lines]
    straight = [[(0.0, y), (plane.width, y)] for y in (plane.down(each.level) for each in chart.limits)]
    taken = _dots(chart, page, plane)
    wanted = [_mark_label(each.label, plane.at((each.speed, each.level)), page) for each in chart.marks]
    wanted += [_limit_label(each.label, plane.down(each.level), page, plane) for each in chart.limits]
    if chart.floor is not None and chart.floor_words:
        y = plane.down(chart.floor)
        wanted.append(_edge_label(chart.floor_words, y, page, plane, (0.85, -0.75)))
    bounds = [
        plane.at((each.speed, each.level))
        for line in chart.lines
        for each in line.points
        if each.bound is Bound.AT_MOST
    ]
    dotted = [at for line, drawn in zip(chart.lines, lines, strict=True) for at in _dotted(line, drawn)]
    if bounds or dotted:
        wanted.append(_bound_label(bounds or dotted[:: max(1, len(dotted) // 9)], page))
    bounds_box = Box(0.25 * page.small, 0.0, plane.width, plane.height)
    return written(placed(wanted, [*lines, *straight], taken, bounds_box, 0.3 * page.small))


def _dotted(line: LevelLine, drawn: Sequence[Point]) -> list[Point]:
    """The places of a line at which it is only a bound."""
    return [at for flag, at in zip(line.bound, drawn, strict=False) if flag]


def _dots(chart: LevelChart, page: Page, plane: Plane) -> list[Box]:
    """The room that marks and arrows take."""
    dot, large = 0.2 * page.label, 0.3 * page.label
    boxes = []
    for each in (each for line in chart.lines for each in line.points):
        x, y = plane.at((each.speed, each.level))
        down = ARROW * plane.height if each.bound is Bound.AT_MOST else 0.0
        boxes.append(Box(x - dot, y - dot, x + dot, y + down + dot))
    marked = [plane.at((each.speed, each.level)) for each in chart.marks]
    return boxes + [Box(x - large, y - large, x + large, y + large) for x, y in marked]


def _mark_label(words: str, at: Point, page: Page) -> Label:
    lines = wrapped(words, page.small, STRONG, 0.4 * page.width, 1)
    return beside(lines, at, page.small, 0.5 * page.label, weight=STRONG)


def _limit_label(words: str, y: float, page: Page, plane: Plane) -> Label:
    return _edge_label(words, y, page, plane, (-0.75, 0.85), weight=STRONG)


def _edge_label(
    words: str, y: float, page: Page, plane: Plane, shifts: tuple[float, ...], weight: int = REGULAR
) -> Label:
    """Words along a level line: at its left end, at its right, and further in, above it or beneath."""
    size = page.small
    lines = wrapped(words, size, REGULAR, 0.6 * plane.width, 1)
    spots: list[tuple[float, float, str]] = []
    for shift in shifts:
        at = y + shift * size
        spots += [(0.3 * size, at, "start"), (plane.width - 0.3 * size, at, "end")]
        spots += [(share * plane.width, at, "middle") for share in (0.25, 0.4, 0.6, 0.75)]
    return Label(tuple(lines), tuple(spots), size, weight, "ink" if weight == STRONG else "muted")


def _bound_label(points: Sequence[Point], page: Page) -> Label:
    """ "At most", said once: near any of the bounds."""
    half, gap = 0.5 * page.small, 0.45 * page.label
    spots = [spot for x, y in points for spot in around(x, y, half, gap)]
    return Label((AT_MOST,), tuple(spots), page.small, REGULAR, "ink")
