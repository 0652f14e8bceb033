"""A plane with two axes: where its plot is on the page, its ticks, and lines cut at its edges."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from stillroom import wording
from stillroom.charts import marks
from stillroom.charts.fonts import width
from stillroom.charts.layout import Page
from stillroom.charts.palette import role
from stillroom.errors import BadInput

if TYPE_CHECKING:
    import altair as alt

Point = tuple[float, float]

LEAST_TICKS = 3


def step_for(span: float, most: int) -> float:
    """The round step (1, 2 or 5 times a power of ten) that gives at most `most` intervals over a span."""
    rough = span / most
    power = 10.0 ** math.floor(math.log10(rough))
    return next(factor * power for factor in (1, 2, 5, 10) if factor * power >= rough * (1 - 1e-9))


def decimals_for(step: float) -> int:
    """How many decimals the numbers at a step need."""
    return max(0, -math.floor(math.log10(step) + 1e-9))


@dataclass(frozen=True)
class Axis:
    """One axis: its reach in data, and its ticks; by powers of ten where `is_log`."""

    low: float
    high: float
    ticks: tuple[float, ...]
    decimals: int
    is_log: bool = False

    def share(self, value: float) -> float:
        """How far along the axis a value lies, 0 to 1 on it."""
        if self.is_log:
            return math.log(value / self.low) / math.log(self.high / self.low)
        return (value - self.low) / (self.high - self.low)

    def words(self, value: float) -> str:
        """A tick's number."""
        if self.is_log and value < 1000:
            return f"{value:g}"
        return wording.number(value, self.decimals)


def axis(low: float, high: float, most: int) -> Axis:
    """An axis over a range, with at most `most` steps; with finer ones where it would have less than three ticks."""
    for each in (most, 2 * most):
        step = step_for(high - low, each)
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        ticks = tuple(round(index * step, 12) for index in range(first, last + 1))
        if len(ticks) >= LEAST_TICKS:
            break
    return Axis(low, high, ticks, decimals_for(step))


def log_axis(low: float, high: float) -> Axis:
    """An axis by powers of ten over a range above zero, with ticks at 1, 2 and 5 (at 1 alone over four decades).

    Raises
    ------
    BadInput : the range doesn't lie above zero.
    """
    if not 0.0 < low < high:
        raise BadInput("range of a logarithmic axis", found=f"{low:g} to {high:g}", expected="above zero")
    steps = (1, 2, 5) if high / low < 1e4 else (1,)
    first, last = math.floor(math.log10(low)), math.ceil(math.log10(high))
    every = (round(step * 10.0**power, 12) for power in range(first, last + 1) for step in steps)
    return Axis(low, high, tuple(each for each in every if low <= each <= high), 0, is_log=True)


@dataclass(frozen=True)
class Plane:
    """A plot on a page: data to page units, from its upper left corner."""

    x: Axis
    y: Axis
    width: float
    height: float

    def across(self, value: float) -> float:
        """Page units from the left."""
        return self.x.share(value) * self.width

    def down(self, value: float) -> float:
        """Page units from the top."""
        return (1.0 - self.y.share(value)) * self.height

    def at(self, point: Point) -> Point:
        """A point of the data on the page."""
        return self.across(point[0]), self.down(point[1])

    def holds(self, point: Point) -> bool:
        """Whether a point of the data lies on the plot."""
        return self.x.low <= point[0] <= self.x.high and self.y.low <= point[1] <= self.y.high

    def cut(self, line: Sequence[Point]) -> list[Point]:
        """A line from its first point on the plot to where it first leaves it, in data.

        A line that starts outside and comes in is kept from where it comes in.
        """
        kept: list[Point] = []
        for before, after in pairwise(line):
            start, end = self.holds(before), self.holds(after)
            if start and not kept:
                kept.append(before)
            if start and end:
                kept.append(after)
            elif start:
                kept.append(self._edge(before, after))
                break
            elif end:
                kept += [self._edge(after, before), after]
        return kept

    def _edge(self, inside: Point, outside: Point) -> Point:
        share = 1.0
        for inner, outer, low, high in (
            (inside[0], outside[0], self.x.low, self.x.high),
            (inside[1], outside[1], self.y.low, self.y.high),
        ):
            if outer > high:
                share = min(share, (high - inner) / (outer - inner))
            elif outer < low:
                share = min(share, (low - inner) / (outer - inner))
        return (
            inside[0] + share * (outside[0] - inside[0]),
            inside[1] + share * (outside[1] - inside[1]),
        )


def x_of(plane: Plane, page: Page, field: str = "x", *, labels: bool = True) -> alt.X:
    """The horizontal encoding, with quiet ticks."""
    import altair as alt

    return alt.X(
        f"{field}:Q",
        scale=_scale(plane.x),
        axis=_axis(plane.x, page, labels=labels, grid=False),
    )


def y_of(plane: Plane, page: Page, field: str = "y", *, grid: bool = True) -> alt.Y:
    """The vertical encoding, with hairlines across the plot unless `grid` is off."""
    import altair as alt

    return alt.Y(
        f"{field}:Q",
        scale=_scale(plane.y),
        axis=_axis(plane.y, page, labels=True, grid=grid),
    )


def _scale(of: Axis) -> alt.Scale:
    import altair as alt

    return alt.Scale(
        type="log" if of.is_log else "linear",
        domain=[of.low, of.high],
        nice=False,
        zero=alt.Undefined if of.is_log else False,
    )


def _axis(of: Axis, page: Page, *, labels: bool, grid: bool) -> alt.Axis:
    import altair as alt

    thin = max(1.0, page.label / 22)
    return alt.Axis(
        values=list(of.ticks),
        format=",~g" if of.is_log else f",.{of.decimals}f",
        title=None,
        labels=labels,
        labelFontSize=page.small,
        labelColor=role("muted"),
        labelPadding=0.35 * page.small,
        labelOverlap=False,
        labelFlush=False,
        ticks=False,
        domain=not grid,
        domainColor=role("axis"),
        domainWidth=thin,
        grid=grid,
        gridColor=role("hairline"),
        gridWidth=thin,
        aria=False,
    )


def tick_room(of: Axis, page: Page) -> float:
    """How much room the numbers of a vertical axis take."""
    return 0.7 * page.small + max(width(of.words(each), page.small) for each in of.ticks)


def axis_words(words: str, unit: str) -> str:
    """What stands at an axis: quantity and unit."""
    return f"{words}, {unit}" if unit else words


def under(plane: Plane, page: Page, words: str) -> str:
    """The words under a horizontal axis, at its right end."""
    return marks.text(
        words, plane.width, plane.height + 2.75 * page.small, page.small, colour="muted", anchor="end"
    )
