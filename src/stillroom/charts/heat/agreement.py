"""What airflow predicts against what the heat rig measured: each step a mark, and the band in which both agree."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from stillroom import wording
from stillroom.charts import layers, marks
from stillroom.charts.fonts import REGULAR, STRONG, clean, wrapped
from stillroom.charts.frame import Body
from stillroom.charts.heat.series import AgreementChart, AgreementPoint, Settled
from stillroom.charts.labels import Box, Label, beside, clear, placed, written
from stillroom.charts.layout import Page
from stillroom.charts.palette import role
from stillroom.charts.plane import Axis, Plane, Point, axis, axis_words
from stillroom.charts.plot import plot_on

if TYPE_CHECKING:
    import altair as alt

    from stillroom.charts.marks import AltairChart

ROOM = 0.05
FINE = 200
"""Places at which the band is drawn."""


def draw_agreement(chart: AgreementChart, page: Page, room: float, free: float | None) -> Body:
    """Draw the steps into `room` × `free`, or to the page's usual height."""
    height = free if free is not None else 1.2 * page.aspect * room
    plot = plot_on(page, *_axes(chart, page), room, height, right=page.small, top=1.9 * page.small)
    return plot.body(
        "agreement",
        partial(_spec, chart),
        y_words=axis_words(chart.y_label, chart.unit),
        x_words=axis_words(chart.x_label, chart.unit),
        above=_labels(chart, page, plot.plane),
    )


def _axes(chart: AgreementChart, page: Page) -> tuple[Axis, Axis]:
    across = [end for each in chart.points for end in (each.predicted_low, each.predicted_high)]
    upwards = [end for each in chart.points for end in (each.low, each.high)]
    low, high = min(*across, *upwards), max(*across, *upwards)
    away = ROOM * (high - low) or 0.05 * abs(high) or 1.0
    most = 5 if page.stacked else 8
    return axis(low - away, high + away, most), axis(low - away, high + away, 5 if page.stacked else 6)


# --- the definition -------------------------------------------------------------------------------


def _spec(chart: AgreementChart, page: Page, plane: Plane, rows: marks.Rows) -> AltairChart:
    import altair as alt

    thin = 0.05 * page.label
    low, high = plane.x.low, plane.x.high
    made: list[alt.Chart] = layers.band(rows, page, plane, *_within(chart, plane), "pale")
    made.append(layers.line(rows, page, plane, [(low, low), (high, high)], "axis", thin))
    ordered = sorted(chart.points, key=lambda each: (bool(each.word), each.accent))
    for colour in ("tied", "accent", "block"):
        own = [each for each in ordered if colour_of(each) == colour]
        reaches = [((each.predicted, each.low), (each.predicted, each.high)) for each in own]
        if colour != "tied":  # the band tells how far predictions may lie; the table has each one's interval
            reaches += [
                ((each.predicted_low, each.measured), (each.predicted_high, each.measured)) for each in own
            ]
        if reaches:
            made.append(layers.spans(rows, page, plane, reaches, colour, thin))
    data = [_record(each, chart.unit) for each in ordered]
    made.append(layers.dots(rows, page, plane, data, 0.36, edge=0.07, heard=True))
    return alt.layer(*made)


def _within(chart: AgreementChart, plane: Plane) -> tuple[list[float], list[float], list[float]]:
    """The band where it lies on the plot, on a grid so fine that it is cut straight at the plot's edges."""
    at = np.linspace(max(plane.x.low, chart.at[0]), min(plane.x.high, chart.at[-1]), FINE)
    low, high = (np.interp(at, chart.at, side) for side in (chart.low, chart.high))
    return at.tolist(), low.tolist(), high.tolist()


def colour_of(point: AgreementPoint) -> str:
    """The colour of a step's mark: what disagrees stands out, then the fan under review."""
    return "block" if point.word else "accent" if point.accent else "tied"


def shape_of(point: AgreementPoint) -> str:
    """Its shape: a square disagrees, a diamond is forecast."""
    return "square" if point.word else "diamond" if point.how is Settled.FORECAST else "circle"


def _record(each: AgreementPoint, unit: str) -> marks.Row:
    measured = wording.with_interval(each.measured, each.low, each.high, unit)
    predicted = wording.with_interval(each.predicted, each.predicted_low, each.predicted_high, unit)
    said = f"{each.name}: predicted {predicted}, {each.how} {measured}"
    colour = role(colour_of(each))
    return {
        "x": each.predicted,
        "y": each.measured,
        "shape": shape_of(each),
        "fill": role("paper") if each.how is Settled.FORECAST else colour,
        "edge": colour,
        "aria": clean(", ".join(part for part in (said, each.word) if part)),
    }


# --- the words ------------------------------------------------------------------------------------


def _labels(chart: AgreementChart, page: Page, plane: Plane) -> str:
    size = page.small
    spots = [plane.at((each.predicted, each.measured)) for each in chart.points]
    dot = 0.24 * page.label
    taken = [Box(x - dot, y - dot, x + dot, y + dot) for x, y in spots]
    lines = [_cross(each, plane) for each in chart.points]
    wanted = []
    for each, alone in named_apart(chart.points):
        at = plane.at((each.predicted, each.measured))
        wanted.append(_label((each.name if alone else each.label, each.word), at, page, "block"))
    named = [
        (each, at) for each, at in zip(chart.points, spots, strict=True) if each.accent and not each.word
    ]
    for index, (each, at) in enumerate(named):
        wanted.append(_label((each.setting if index and each.setting else each.name,), at, page, "accent"))
    if chart.band_words:
        wanted.append(_band_label(chart, page, plane))
    equal = [plane.at((plane.x.low, plane.x.low)), plane.at((plane.x.high, plane.x.high))]
    edges = [
        [plane.at(at) for at in zip(chart.at, side, strict=True) if plane.holds(at)]
        for side in (chart.low, chart.high)
    ]
    bounds = Box(0.2 * size, 0.0, plane.width, plane.height)
    whole = [one for pair in lines for one in pair]
    return written(clear(placed(wanted, [equal, *edges, *whole], taken, bounds, 0.3 * size)))


def named_apart(points: Sequence[AgreementPoint]) -> list[tuple[AgreementPoint, bool]]:
    """Of the steps that disagree, of each fan and with each word the farthest off, and whether it is the only one."""
    groups: dict[tuple[str, str], list[AgreementPoint]] = {}
    for each in points:
        if each.word:
            groups.setdefault((each.label, each.word), []).append(each)
    return [
        (max(own, key=lambda one: abs(one.measured - one.predicted)), len(own) == 1)
        for own in groups.values()
    ]


def _cross(each: AgreementPoint, plane: Plane) -> tuple[list[Point], list[Point]]:
    """Both intervals of a step as lines."""
    ends = (each.predicted_low, each.predicted_high) if colour_of(each) != "tied" else (each.predicted,) * 2
    level = [(end, each.measured) for end in ends]
    upright = [(each.predicted, each.low), (each.predicted, each.high)]
    return [plane.at(at) for at in level], [plane.at(at) for at in upright]


def _label(words: tuple[str, ...], at: Point, page: Page, colour: str) -> Label:
    said = [line for each in words for line in wrapped(each, page.small, STRONG, 0.42 * page.width, 1)]
    return beside(said, at, page.small, 0.5 * page.label, weight=STRONG, colour=colour)


def _band_label(chart: AgreementChart, page: Page, plane: Plane) -> Label:
    """The words of the band, near its lower edge, from its right end inwards."""
    size, lower = page.small, list(zip(chart.at, chart.low, strict=True))
    inside = [plane.at(at) for at in lower if plane.holds(at)] or [(plane.width, plane.height)]
    said = wrapped(chart.band_words, size, REGULAR, 0.5 * plane.width, 2)
    half = (0.5 + 0.6 * (len(said) - 1)) * size
    picked = [inside[min(len(inside) - 1, int(share * len(inside)))] for share in (0.75, 0.6, 0.9, 0.45, 0.3)]
    spots = tuple((x + 0.8 * size, y + half + 0.6 * size, "start") for x, y in picked)
    spots += tuple((x - 0.8 * size, y - half - 2.0 * size, "end") for x, y in picked)
    return Label(tuple(said), spots, size, REGULAR, "muted")
