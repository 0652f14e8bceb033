"""A spectrogram over a ramp: level as lightness of one colour, orders named at the ends of their lines."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from stillroom import wording
from stillroom.charts import layers, marks
from stillroom.charts.fonts import width
from stillroom.charts.frame import Body
from stillroom.charts.layout import Page
from stillroom.charts.palette import role
from stillroom.charts.pieces import (
    LANE,
    Pen,
    lanes_of,
    names_of,
    signs_of,
    written_names,
    written_signs,
)
from stillroom.charts.plane import Plane, Point, axis, axis_words, log_axis
from stillroom.charts.plot import plot_on
from stillroom.charts.sound.raster import key, shades, veil
from stillroom.charts.sound.series import OrderLine, RampChart

if TYPE_CHECKING:
    import altair as alt

    from stillroom.charts.marks import AltairChart

SPARSE = (1.5, 7.0)
"""The dots of an order between its ends, in widths of the line."""

END_SHARE = 0.05
"""The share of the abscissa over which the line of an order is whole, at each end."""

KEY_WIDE, KEY_HIGH = 8.0, 0.85
"""Size of the scale of lightness, in letter sizes."""


def draw_ramp(chart: RampChart, page: Page, room: float, free: float | None) -> Body:
    """Draw the spectrogram into `room` × `free`, or to the page's usual height."""
    height = free if free is not None else 1.15 * page.aspect * room
    x = axis(chart.x_low, chart.x_high, 5 if page.stacked else 8)
    y = log_axis(chart.y_low, chart.y_high)
    lines = [(each, _within(each, Plane(x, y, 1.0, 1.0))) for each in chart.orders]
    lines = [(each, line) for each, line in lines if len(line) > 1]
    names = names_of([each.label for each, _ in lines], page, size=page.small)
    plot = plot_on(page, x, y, room, height, right=names.room, top=0.0)
    signs = signs_of(chart.avoid, page, plot.plane, 0.0, plot.plane.width + names.room)
    head = 2.2 if page.stacked else 0.0
    plot = plot.under_head((1.9 + head + LANE * lanes_of(signs) + 0.3) * page.small)
    plane = plot.plane
    grey = shades(chart.cells, chart.quiet, chart.loud)
    ends = [plane.at(line[-1]) for _, line in lines]
    words = _key(chart, page, room, plot.left, plot.top) + written_signs(signs, chart.avoid, page, plane)
    words += written_names(names, [Pen("order", "")] * len(lines), ends, page, plane, marked=False)
    return plot.body(
        "ramp",
        partial(_spec, [line for _, line in lines]),
        y_words=axis_words(chart.y_label, chart.y_unit),
        x_words=axis_words(chart.x_label, chart.x_unit),
        beneath=veil(grey, plane.width, plane.height, f"{page.name}-ramp"),
        above=words,
    )


def _within(order: OrderLine, plane: Plane) -> list[Point]:
    """The part of an order that lies on the plot."""
    return plane.cut(list(zip(order.across, order.frequency, strict=True)))


def _spec(lines: Sequence[Sequence[Point]], page: Page, plane: Plane, rows: marks.Rows) -> AltairChart:
    import altair as alt

    frame = [[(plane.x.low, y), (plane.x.high, y)] for y in (plane.y.low, plane.y.high)]
    made: list[alt.Chart] = [layers.lines(rows, page, plane, frame, "axis", 0.03 * page.label, grid=False)]
    ends = [end for line in lines for end in _ends(line, plane)]
    if lines:
        sparse, thick = 0.055 * page.label, 0.075 * page.label
        made += [
            layers.lines(rows, page, plane, lines, "order", sparse, dash=SPARSE, grid=False),
            layers.lines(rows, page, plane, ends, "paper", 2 * thick, grid=False),
            layers.lines(rows, page, plane, ends, "order", thick, grid=False),
        ]
    return alt.layer(*made)


def _ends(line: Sequence[Point], plane: Plane) -> list[list[Point]]:
    """The first and the last bit of a line, which stand out; between them what sounds is seen."""
    reach = END_SHARE * (plane.x.high - plane.x.low)
    first, last = line[0][0] + reach, line[-1][0] - reach
    if first >= last:
        return [list(line)]
    xs, ys = [x for x, _ in line], [math.log(y) for _, y in line]
    at = {x: (x, math.exp(float(np.interp(x, xs, ys)))) for x in (first, last)}
    return [
        [*(each for each in line if each[0] < first), at[first]],
        [at[last], *(each for each in line if each[0] > last)],
    ]


def _key(chart: RampChart, page: Page, room: float, left: float, top: float) -> str:
    """The scale of lightness with the levels at its ends, right above the plot; on a line of its own where narrow."""
    size = page.small
    low, high = (wording.with_unit(wording.number(each), "dB") for each in (chart.quiet, chart.loud))
    before = f"{chart.scale_words}  {low}"
    wide = KEY_WIDE * size
    whole = width(before, size) + wide + width(high, size) + size
    start = -left if page.stacked else room - left - whole
    base = (3.25 if page.stacked else 1.05) * size - top
    at = start + width(before, size) + 0.5 * size
    out = marks.text(before, start, base, size, colour="muted")
    drawn = key(wide, KEY_HIGH * size, f"{page.name}-scale")
    rim = (
        f'<rect width="{marks.place(wide)}" height="{marks.place(KEY_HIGH * size)}" fill="none" '
        f'stroke="{role("axis")}" stroke-width="{marks.place(0.05 * size)}"/>'
    )
    out += marks.group(drawn + rim, at, base - 0.8 * size, f"{page.name}-key")
    return out + marks.text(high, at + wide + 0.5 * size, base, size, colour="muted")
