"""Speed against drive both ways, with the band of a specification, start and stop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import partial
from itertools import groupby, product
from typing import TYPE_CHECKING

import numpy as np

from stillroom import wording
from stillroom.charts import layers, marks
from stillroom.charts.checked import finite, interval, same_length
from stillroom.charts.fonts import REGULAR, STRONG, clean, width, wrapped
from stillroom.charts.frame import Body
from stillroom.charts.labels import Box, Label, beside, clear, placed, written
from stillroom.charts.layout import Page
from stillroom.charts.palette import role
from stillroom.charts.pieces import BOUND_DASH
from stillroom.charts.plane import Axis, Plane, Point, axis, axis_words
from stillroom.charts.plot import plot_on
from stillroom.errors import BadInput

if TYPE_CHECKING:
    import altair as alt

    from stillroom.charts.marks import AltairChart


class DriveSign(StrEnum):
    """What a mark on the drive's axis tells: the shape of it, never its colour alone."""

    START = "triangle-up"
    STOP = "triangle-down"
    LOWEST = "diamond"


@dataclass(frozen=True)
class ResponseLine:
    """Speed against drive, one way: `label` says which ("rising", "falling"); `is_back` draws it as the way back."""

    label: str
    drive: tuple[float, ...]
    speed: tuple[float, ...]
    is_back: bool = False

    def __post_init__(self) -> None:
        thing = f"response {self.label!r}"
        same_length(thing, drive=self.drive, speed=self.speed)
        finite(thing, (*self.drive, *self.speed))
        if len(self.drive) < 2:
            raise BadInput(thing, found=f"{len(self.drive)} points", expected="at least two")


@dataclass(frozen=True)
class SpecificationBand:
    """The speed that a specification expects: its line with the ends of its tolerance, and its words."""

    words: str
    drive: tuple[float, ...]
    speed: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]

    def __post_init__(self) -> None:
        same_length("specification", drive=self.drive, speed=self.speed, low=self.low, high=self.high)
        finite("specification", (*self.drive, *self.speed, *self.low, *self.high))


@dataclass(frozen=True)
class DriveMark:
    """Where a fan starts or stops, or runs lowest: the drive with its interval, and its words.

    Parameters
    ----------
    speed : at which it stands. low, high : 95 % interval of the drive; both None where there is none.
    """

    drive: float
    speed: float
    words: str
    sign: DriveSign
    low: float | None = None
    high: float | None = None

    def __post_init__(self) -> None:
        finite(f"mark {self.words!r}", (self.drive, self.speed))
        interval(f"mark {self.words!r}", self.low, self.high)


@dataclass(frozen=True)
class ResponseChart:
    """Speed against drive of one fan.

    Parameters
    ----------
    open_wire : the speed with the control wire open, and its words; None where it wasn't measured.
    """

    title: str
    subtitle: str
    footer: str
    x_label: str
    x_unit: str
    y_label: str
    y_unit: str
    label: str
    lines: tuple[ResponseLine, ...]
    specification: SpecificationBand | None = None
    marks: tuple[DriveMark, ...] = ()
    open_wire: tuple[float, str] | None = None
    notes: tuple[str, ...] = ()
    alt: str = ""

    def __post_init__(self) -> None:
        if not self.lines:
            raise BadInput(f"response of {self.label!r}", found="no line", expected="one or two")
        if self.open_wire is not None:
            finite("speed with the wire open", (self.open_wire[0],))


LOOKS = {False: ("accent", ()), True: ("ink", (3.0, 2.0))}
"""Colour and dash of the way up and of the way back."""

ROOM = 0.05


def draw_response(chart: ResponseChart, page: Page, room: float, free: float | None) -> Body:
    """Draw the response into `room` × `free`, or to the page's usual height."""
    height = free if free is not None else 1.1 * page.aspect * room
    plot = plot_on(page, *_axes(chart, page), room, height, right=page.small, top=1.9 * page.small)
    return plot.body(
        "response",
        partial(_spec, chart),
        y_words=axis_words(chart.y_label, chart.y_unit),
        x_words=axis_words(chart.x_label, chart.x_unit),
        above=_labels(chart, page, plot.plane),
    )


def _axes(chart: ResponseChart, page: Page) -> tuple[Axis, Axis]:
    drives = [each for line in chart.lines for each in line.drive]
    drives += [end for each in chart.marks for end in (each.drive, each.low, each.high) if end is not None]
    speeds = [each for line in chart.lines for each in line.speed] + [each.speed for each in chart.marks]
    if chart.specification is not None:
        drives += chart.specification.drive
        speeds += chart.specification.high
    speeds += [chart.open_wire[0]] if chart.open_wire is not None else []
    pad = 0.01 * (max(drives) - min(drives)) or 1.0
    x = axis(min(0.0, *drives) - pad, max(drives) + pad, 5 if page.stacked else 10)
    most = max(speeds) or 1.0
    return x, axis(-0.03 * most, (1.0 + ROOM) * most, 5 if page.stacked else 8)


# --- the definition -------------------------------------------------------------------------------


def _spec(chart: ResponseChart, page: Page, plane: Plane, rows: marks.Rows) -> AltairChart:
    import altair as alt

    made: list[alt.Chart] = []
    thin = 0.05 * page.label
    told = chart.specification
    if told is not None:
        made += layers.band(rows, page, plane, told.drive, told.low, told.high, "pale")
        expected = list(zip(told.drive, told.speed, strict=True))
        made.append(layers.line(rows, page, plane, expected, "axis", thin))
    if chart.open_wire is not None:
        y = chart.open_wire[0]
        ends = [(plane.x.low, y), (plane.x.high, y)]
        made.append(layers.line(rows, page, plane, ends, "muted", thin, dash=BOUND_DASH))
    for line in sorted(chart.lines, key=lambda each: each.is_back, reverse=True):
        colour, dash = LOOKS[line.is_back]
        for part in runs(line):
            made.append(
                layers.line(rows, page, plane, part, colour, 0.085 * page.label, dash=dash, as_given=True,
                            words=clean(f"{chart.label}, {line.label}"))
            )  # fmt: skip
        made.append(layers.dots(rows, page, plane, _dots(line, chart), 0.22, edge=0.06, heard=True))
    reaches = [
        ((each.low, each.speed), (each.high, each.speed))
        for each in chart.marks
        if each.low is not None and each.high is not None
    ]
    if reaches:
        made.append(layers.spans(rows, page, plane, reaches, "ink", 0.16 * page.label))
    if chart.marks:
        data = [_mark(each) for each in chart.marks]
        made.append(layers.dots(rows, page, plane, data, 0.46, edge=0.1, heard=True))
    return alt.layer(*made)


def runs(line: ResponseLine) -> list[list[Point]]:
    """A line broken where the fan starts or stops: nothing is known of the settings between."""
    found: list[list[Point]] = []
    for _, group in groupby(zip(line.drive, line.speed, strict=True), key=lambda at: at[1] > 0.0):
        part = list(group)
        found += [part] if len(part) > 1 else []
    return found


def _dots(line: ResponseLine, chart: ResponseChart) -> list[marks.Row]:
    colour = LOOKS[line.is_back][0]
    return [
        {
            "x": drive,
            "y": speed,
            "shape": "circle",
            "fill": role("paper" if line.is_back else colour),
            "edge": role(colour),
            "aria": clean(f"{line.label}, {wording.bare(drive)} {chart.x_unit}: {wording.bare(speed)}"),
        }
        for drive, speed in zip(line.drive, line.speed, strict=True)
    ]


def _mark(each: DriveMark) -> marks.Row:
    shape = each.sign.value
    return {
        "x": each.drive,
        "y": each.speed,
        "shape": shape,
        "fill": role("paper"),
        "edge": role("ink"),
        "aria": clean(each.words),
    }


# --- the words ------------------------------------------------------------------------------------


def _labels(chart: ResponseChart, page: Page, plane: Plane) -> str:
    size = page.small
    lines = [
        [plane.at(at) for at in zip(each.drive, each.speed, strict=True) if at[1] > 0.0]
        for each in chart.lines
    ]
    straight: list[list[Point]] = []
    wanted: list[Label] = []
    taken: list[Box] = []
    reach = 0.3 * page.label
    for mark in chart.marks:
        x, y = plane.at((mark.drive, mark.speed))
        taken.append(Box(x - reach, y - reach, x + reach, y + reach))
    for mark in chart.marks:
        said = wrapped(mark.words, size, STRONG, 0.5 * plane.width, 2)
        label = beside(said, plane.at((mark.drive, mark.speed)), size, 0.6 * page.label, weight=STRONG)
        wanted.append(_above(label) if mark.sign is DriveSign.LOWEST else label)
    for each, drawn in zip(chart.lines, lines, strict=True):
        if not drawn:
            continue
        wanted.append(_along(each.label, drawn, size, LOOKS[each.is_back][0]))
    if chart.specification is not None:
        told = chart.specification
        low, high = (
            [plane.at(at) for at in zip(told.drive, side, strict=True)] for side in (told.low, told.high)
        )
        straight += [low, high]
        wanted.append(_under(told.words, low, size, plane))
    if chart.open_wire is not None:
        y = plane.down(chart.open_wire[0])
        straight.append([(0.0, y), (plane.width, y)])
        spots = tuple((0.4 * size, y + shift * size, "start") for shift in (0.85, -0.75))
        wanted.append(Label((chart.open_wire[1],), spots, size, REGULAR, "muted"))
    bounds = Box(0.2 * size, 0.0, plane.width + size, plane.height)
    return written(clear(placed(wanted, [*lines, *straight], taken, bounds, 0.3 * size)))


def _above(label: Label) -> Label:
    """The same, above its mark if there is room: below it, starts and stops are named."""
    assert label.target is not None
    x, y = label.target
    spots = tuple((x, y - up * label.size, "start") for up in (1.6, 2.8, 4.0, 5.5))
    return replace(label, spots=(*spots, *label.spots))


def _along(words: str, line: Sequence[Point], size: float, colour: str) -> Label:
    """The words of a line, right at it, from the upper end down."""
    spots: list[tuple[float, float, str]] = []
    order = sorted(line, key=lambda at: at[1])
    for share in (0.2, 0.35, 0.5, 0.65, 0.8):
        x, y = order[min(len(order) - 1, int(share * len(order)))]
        spots += [(x - 1.1 * size, y - 0.9 * size, "end"), (x + 1.1 * size, y + 0.9 * size, "start")]
    return Label((words,), tuple(spots), size, STRONG, colour, own=tuple(line))


def _under(words: str, lower: Sequence[Point], size: float, plane: Plane) -> Label:
    """The words of the specification's band, beneath its lower edge."""
    said = tuple(wrapped(words, size, REGULAR, 0.5 * plane.width, 3))
    half = (0.5 + 0.6 * (len(said) - 1)) * size
    wide = max(width(each, size) for each in said)
    spots = []
    for down, share in product((0.5, 2.5, 5.0), (1.0, 0.92, 0.84, 0.76)):
        right = share * plane.width
        y = float(np.interp(right - wide, [x for x, _ in lower], [y for _, y in lower]))
        spots.append((right, y + half + down * size, "end"))
    return Label(said, tuple(spots), size, REGULAR, "muted")
