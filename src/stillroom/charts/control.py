"""The reference fan's checks against time: values, centre, limits, weighted mean, signals, events and eras."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from itertools import groupby
from typing import TYPE_CHECKING

from stillroom.charts import layers, marks
from stillroom.charts.events import day_of, draw_events, lanes_of
from stillroom.charts.fonts import REGULAR, STRONG, clean, width, wrapped
from stillroom.charts.frame import Body
from stillroom.charts.further_series import CheckEra, CheckEvent, CheckLimits, CheckPoint, ControlPicture
from stillroom.charts.labels import Box, Label, around, beside, dense, placed, written
from stillroom.charts.layout import Page
from stillroom.charts.palette import role
from stillroom.charts.plane import Axis, Plane, Point, axis, axis_words
from stillroom.charts.plot import plot_on
from stillroom.errors import BadInput

if TYPE_CHECKING:
    import altair as alt

    from stillroom.charts.marks import AltairChart

ROOM = 0.08
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
STEPS = (1, 2, 5, 7, 14, 28, 61, 91, 182, 365, 730, 1826)
NOT_YET = "limits not established"


@dataclass(frozen=True)
class Placed:
    """A check with its place on the time axis [days]."""

    at: float
    check: CheckPoint


def draw_control(chart: ControlPicture, page: Page, room: float, free: float | None) -> Body:
    """Draw the checks into `room` × `free`, or to the page's usual height.

    Raises
    ------
    BadInput : there is no check, or a date isn't one.
    """
    if not chart.points:
        raise BadInput("control chart", found="no check", expected="at least one")
    height = free if free is not None else 1.15 * page.aspect * room
    checks = _in_time(chart.points)
    events = sorted(chart.events, key=lambda each: day_of(each.time))
    right = max(width(words, page.small) for words in ("limits", "centre", "EWMA")) + 1.2 * page.small
    plot = plot_on(page, *_axes(checks, events, page), room, height, right=right, top=0.0)
    signs = lanes_of(events, page, plot.plane, plot.plane.width + right)
    lanes = 1 + max((each.lane for each in signs if each.lane is not None), default=-1)
    plot = plot.under_head((1.9 + 1.35 * lanes + 0.4) * page.small)
    plane = plot.plane
    return plot.body(
        "control",
        partial(_spec, chart, checks),
        y_words=axis_words(chart.y_label, chart.y_unit),
        beneath=_eras(chart.eras, [each.x for each in signs], page, plane)
        + draw_events(signs, lanes, page, plane),
        above=_days(page, plane) + _words(checks, chart.eras, page, plane, right),
    )


def _in_time(points: Sequence[CheckPoint]) -> list[Placed]:
    """The checks in the order given; those of one day without a time are spread over it, a single one at noon."""
    found: list[Placed] = []
    for date, group in groupby(points, key=lambda each: each.date):
        same = list(group)
        whole = "T" not in date and ":" not in date
        found += [
            Placed(day_of(date) + ((place + 0.5) / len(same) if whole else 0.0), each)
            for place, each in enumerate(same)
        ]
    return found


def _axes(checks: Sequence[Placed], events: Sequence[CheckEvent], page: Page) -> tuple[Axis, Axis]:
    days = [each.at for each in checks] + [day_of(each.time) for each in events]
    values = [value for each in checks for value in _heights(each.check)]
    low, high = min(values), max(values)
    away = ROOM * (high - low) or 0.05 * abs(high) or 1.0
    y = axis(low - away, high + away, 4 if page.stacked else 6)
    first, last = min(days), max(days)
    pad = max(0.03 * (last - first), 0.4)
    return Axis(first - pad, last + pad, (), 0), y


def _heights(check: CheckPoint) -> list[float]:
    limits = check.limits
    return [check.value] + ([limits.low, limits.high, limits.ewma] if limits else [])


# --- the definition -------------------------------------------------------------------------------


def _spec(
    chart: ControlPicture, checks: Sequence[Placed], page: Page, plane: Plane, rows: marks.Rows
) -> AltairChart:
    import altair as alt

    made: list[alt.Chart] = []
    thick = 0.075 * page.label
    for _, group in groupby(checks, key=lambda each: each.check.era):
        judged = [(each.at, each.check.limits) for each in group if each.check.limits is not None]
        if not judged:
            continue
        days = [at for at, _ in judged]
        bounds = [limits for _, limits in judged]
        low, high = [each.ewma_low for each in bounds], [each.ewma_high for each in bounds]
        made += layers.band(rows, page, plane, days, low, high, "accent", labels=False)
        for field, dash in (("low", (3.2, 2.2)), ("high", (3.2, 2.2)), ("centre", ())):
            line = [(at, _bound(limits, field)) for at, limits in judged]
            made.append(layers.line(rows, page, plane, line, "muted", thick, dash=dash, labels=False))
        means = [(at, limits.ewma) for at, limits in judged]
        made.append(
            layers.line(rows, page, plane, means, "accent", 0.11 * page.label, words="EWMA", labels=False)
        )
    eras = [list(group) for _, group in groupby(checks, key=lambda each: each.check.era)]
    values = [[(each.at, each.check.value) for each in group] for group in eras]
    made.append(layers.lines(rows, page, plane, values, "axis", 0.03 * page.label, labels=False))
    data = [_record(each, chart.y_unit) for each in checks]
    made.append(layers.dots(rows, page, plane, data, 0.42, edge=0.07, labels=False, heard=True))
    return alt.layer(*made)


def _bound(limits: CheckLimits, field: str) -> float:
    return {"low": limits.low, "high": limits.high, "centre": limits.centre}[field]


def _record(each: Placed, unit: str) -> marks.Row:
    """A check as a mark: open before limits are there, a filled square where it signals."""
    check = each.check
    colour = "block" if check.signal else "ink"
    said = f"{check.date}: {check.value:.4g} {unit}, {check.signal or ('quiet' if check.limits else NOT_YET)}"
    return {
        "x": each.at,
        "y": check.value,
        "shape": "square" if check.signal else "circle",
        "fill": role("paper" if check.limits is None else colour),
        "edge": role(colour),
        "aria": clean(said),
    }


# --- words and the time axis ----------------------------------------------------------------------


def _eras(eras: Sequence[CheckEra], lines: Sequence[float], page: Page, plane: Plane) -> str:
    """Bands from one change of the rig to the next, every second one tinted, each with its name at the foot, right of
    the lines of events at its beginning.
    """
    if len(eras) < 2:
        return ""
    out = ""
    for index, era in enumerate(eras):
        first = plane.across(max(day_of(era.first), plane.x.low)) if era.first else 0.0
        last = plane.across(min(day_of(era.last), plane.x.high)) if era.last else plane.width
        if last <= first:
            continue
        if index % 2:
            out += (
                f'<rect x="{marks.place(first)}" y="0" width="{marks.place(last - first)}" '
                f'height="{marks.place(plane.height)}" fill="{role("hairline")}" fill-opacity="0.45"/>'
            )
        reach = max(1.5 * page.small, width(era.label, page.small) + 0.8 * page.small)
        first = max([first, *(each for each in lines if first <= each < first + reach)])
        words = wrapped(era.label, page.small, REGULAR, max(last - first - page.small, 0.0), 1)[0]
        if width(words, page.small) <= last - first:
            out += marks.text(
                words, first + 0.4 * page.small, plane.height - 0.5 * page.small, page.small, colour="muted"
            )
    return marks.group(out, 0, 0, "eras")


def _days(page: Page, plane: Plane) -> str:
    """Dates under the plot, at most as many as have room."""
    span, size = plane.x.high - plane.x.low, page.small
    room = width("28 May 26", size) + 1.6 * size
    most = max(1, int(plane.width / room))
    step = next((each for each in STEPS if span / each <= most), STEPS[-1])
    first = int(plane.x.low) + 1
    out = ""
    for day in range(first, int(plane.x.high) + 1, step):
        date = datetime.date.fromordinal(day)
        words = f"{date.day} {MONTHS[date.month - 1]}" + (f" {date.year % 100:02d}" if span > 300 else "")
        x = plane.across(float(day))
        out += marks.rule(x, plane.height, x, plane.height + 0.3 * size, colour="axis", thick=0.05 * size)
        out += marks.text(words, x, plane.height + 1.35 * size, size, colour="muted", anchor="middle")
    return out + marks.rule(0, plane.height, plane.width, plane.height, colour="axis", thick=0.05 * size)


def _feet(eras: Sequence[CheckEra], page: Page, plane: Plane) -> tuple[list[Box], list[list[Point]]]:
    """Where the names of eras stand, and the lines at which they begin."""
    begins = [plane.across(max(day_of(era.first), plane.x.low)) if era.first else 0.0 for era in eras]
    names = [
        Box(x, plane.height - 1.6 * page.small, x + width(era.label, page.small) + page.small, plane.height)
        for era, x in zip(eras, begins, strict=True)
    ]
    return names, [dense([(x, 0.0), (x, plane.height)], 0.5 * page.small) for x in begins[1:]]


def _words(checks: Sequence[Placed], eras: Sequence[CheckEra], page: Page, plane: Plane, right: float) -> str:
    """Names at the ends of the lines, and what each signal is."""
    size, last = page.small, checks[-1]
    x = plane.width + 0.4 * size
    ends: list[tuple[float, str, str]] = []
    if last.check.limits is not None:
        limits = last.check.limits
        ends = [
            (limits.high, "limits", "muted"),
            (limits.centre, "centre", "muted"),
            (limits.ewma, "EWMA", "accent"),
        ]
    wanted = [
        Label(
            (words,),
            tuple((x, plane.down(value) + shift * size, "start") for shift in (0, -1, 1, -2, 2)),
            size,
            REGULAR,
            colour,
        )
        for value, words, colour in ends
    ]
    spots: list[Point] = [plane.at((each.at, each.check.value)) for each in checks]
    for each, (px, py) in zip(checks, spots, strict=True):
        if each.check.signal:
            said = wrapped(each.check.signal, size, STRONG, 0.35 * plane.width, 2)
            wanted.append(beside(said, (px, py), size, 0.5 * page.label, weight=STRONG, colour="block"))
    if all(each.check.limits is None for each in checks):
        px, py = spots[len(spots) // 2]
        wanted.append(
            Label(
                (f"{NOT_YET}: {len(checks)} of 10 checks",),
                around(px, py, 0.5 * size, page.label),
                size,
                STRONG,
                "warn",
            )
        )
    dot = 0.3 * page.label
    names, begins = _feet(eras, page, plane) if len(eras) > 1 else ([], [])
    taken = [*names, *(Box(px - dot, py - dot, px + dot, py + dot) for px, py in spots)]
    bounds = Box(0, 0, plane.width + right, plane.height)
    return written(placed(wanted, [spots, *begins], taken, bounds, 0.3 * size))
