"""The layers that charts on a plane are made of: bands, lines and dots, all on one pair of axes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from stillroom.charts import marks
from stillroom.charts.layout import Page
from stillroom.charts.palette import role
from stillroom.charts.plane import Plane, Point, x_of, y_of

if TYPE_CHECKING:
    import altair as alt

BAND = 0.2
"""Opacity of a band: its colour is its line's, and bands that lie over each other stay apart.

It is that of the fill: for a mark that is seen through as a whole the rasteriser sets up a page of its own.
"""


def band(
    rows: marks.Rows,
    page: Page,
    plane: Plane,
    across: Sequence[float],
    low: Sequence[float],
    high: Sequence[float],
    colour: str,
    *,
    labels: bool = True,
) -> list[alt.Chart]:
    """A band between two lines, with a hair of its colour along both edges."""
    import altair as alt

    data: list[marks.Row] = [
        {"x": x, "y": max(one, plane.y.low), "y2": min(max(other, plane.y.low), plane.y.high)}
        for x, one, other in zip(across, low, high, strict=True)
    ]
    base = rows.chart(data)
    area: alt.Chart = base.mark_area(fill=role(colour), fillOpacity=BAND, opacity=1, aria=False).encode(
        x=x_of(plane, page, labels=labels), y=y_of(plane, page), y2=alt.Y2("y2:Q")
    )
    thin = 0.022 * page.label
    edges = [
        base.mark_line(
            stroke=role(colour), strokeWidth=thin, strokeOpacity=0.6, opacity=1, aria=False
        ).encode(x=x_of(plane, page, labels=labels), y=y_of(plane, page, end), order=alt.Order("x:Q"))
        for end in ("y", "y2")
    ]
    return [area, *edges]


def line(
    rows: marks.Rows,
    page: Page,
    plane: Plane,
    points: Sequence[Point],
    colour: str,
    thick: float,
    *,
    dash: Sequence[float] = (),
    words: str = "",
    labels: bool = True,
    step: bool = False,
    grid: bool = True,
    as_given: bool = False,
) -> alt.Chart:
    """A line through points, dashed where `dash` says so; `words` are for those who hear the chart.

    Points are joined from left to right, or in the order given where the line may turn back (`as_given`).
    """
    import altair as alt

    data: list[marks.Row] = [{"x": x, "y": y} for x, y in points]
    if as_given:
        data = [row | {"place": place} for place, row in enumerate(data)]
    style: dict[str, Any] = {"stroke": role(colour), "strokeWidth": thick, "strokeJoin": "round"}
    style |= {"description": words} if words else {"aria": False}
    style |= {"strokeDash": [each * thick for each in dash]} if dash else {"strokeCap": "round"}
    style |= {"interpolate": "step-after"} if step else {}
    made: alt.Chart = (
        rows.chart(data)
        .mark_line(**style)
        .encode(
            x=x_of(plane, page, labels=labels),
            y=y_of(plane, page, grid=grid),
            order=alt.Order("place:Q" if as_given else "x:Q"),
        )
    )
    return made


def lines(
    rows: marks.Rows,
    page: Page,
    plane: Plane,
    several: Sequence[Sequence[Point]],
    colour: str,
    thick: float,
    *,
    dash: Sequence[float] = (),
    grid: bool = True,
    labels: bool = True,
) -> alt.Chart:
    """Several lines of one look, not read out."""
    import altair as alt

    data: list[marks.Row] = [
        {"x": x, "y": y, "line": str(index)} for index, points in enumerate(several) for x, y in points
    ]
    style: dict[str, Any] = {"stroke": role(colour), "strokeWidth": thick, "strokeJoin": "round"}
    style |= {"strokeDash": [each * thick for each in dash]} if dash else {"strokeCap": "round"}
    made: alt.Chart = (
        rows.chart(data)
        .mark_line(aria=False, **style)
        .encode(
            x=x_of(plane, page, labels=labels),
            y=y_of(plane, page, grid=grid),
            order=alt.Order("x:Q"),
            detail=alt.Detail("line:N"),
        )
    )
    return made


def spans(
    rows: marks.Rows,
    page: Page,
    plane: Plane,
    reaches: Sequence[tuple[Point, Point]],
    colour: str,
    thick: float,
) -> alt.Chart:
    """Straight lines from one point to another each: intervals, upright or level."""
    import altair as alt

    data: list[marks.Row] = [{"x": x, "y": y, "x2": x2, "y2": y2} for (x, y), (x2, y2) in reaches]
    made: alt.Chart = (
        rows.chart(data)
        .mark_rule(stroke=role(colour), strokeWidth=thick, strokeCap="butt", aria=False)
        .encode(x=x_of(plane, page), y=y_of(plane, page), x2=alt.X2("x2:Q"), y2=alt.Y2("y2:Q"))
    )
    return made


def area(
    rows: marks.Rows, page: Page, plane: Plane, corners: tuple[Point, Point], colour: str, opacity: float
) -> alt.Chart:
    """A shaded rectangle from one corner to the other."""
    import altair as alt

    (x, y), (x2, y2) = corners
    data: list[marks.Row] = [{"x": x, "y": y, "x2": x2, "y2": y2}]
    made: alt.Chart = (
        rows.chart(data)
        .mark_rect(fill=role(colour), fillOpacity=opacity, opacity=1, aria=False)
        .encode(x=x_of(plane, page), y=y_of(plane, page), x2=alt.X2("x2:Q"), y2=alt.Y2("y2:Q"))
    )
    return made


def dots(
    rows: marks.Rows,
    page: Page,
    plane: Plane,
    data: Sequence[marks.Row],
    size: float,
    *,
    edge: float = 0.06,
    labels: bool = True,
    heard: bool = False,
) -> alt.Chart:
    """Marks at x, y, each with its own shape, fill and stroke (roles); with `heard` their `aria` is read out."""
    import altair as alt

    encodings: dict[str, Any] = {
        "x": x_of(plane, page, labels=labels),
        "y": y_of(plane, page),
        "shape": alt.Shape("shape:N", scale=None),
        "fill": alt.Fill("fill:N", scale=None),
        "stroke": alt.Stroke("edge:N", scale=None),
    }
    encodings |= {"description": "aria:N"} if heard else {}
    silent: dict[str, Any] = {} if heard else {"aria": False}
    made: alt.Chart = (
        rows.chart(list(data))
        .mark_point(
            filled=True,
            size=(size * page.label) ** 2,
            strokeWidth=edge * page.label,
            opacity=1,
            **silent,
        )
        .encode(**encodings)
    )
    return made
