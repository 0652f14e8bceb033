"""All sweeps of a fan on one dimensionless curve, with what is left over in a panel beneath."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from stillroom import wording
from stillroom.charts import layers, marks
from stillroom.charts.curves import HEADROOM, SHAPES
from stillroom.charts.fonts import REGULAR, STRONG, width, wrapped
from stillroom.charts.frame import Body
from stillroom.charts.labels import Box, Label, around, placed, written
from stillroom.charts.layout import Page
from stillroom.charts.palette import SHADES, role
from stillroom.charts.plane import Plane, Point, axis, tick_room, under
from stillroom.charts.series import CollapseChart, Sweep
from stillroom.errors import BadInput

if TYPE_CHECKING:
    import altair as alt

    from stillroom.charts.marks import AltairChart

PANEL_SHARE = 0.33
LEAST_RESIDUAL = 1.0


@dataclass(frozen=True)
class Pen:
    """How one sweep is drawn."""

    sweep: Sweep
    colour: str
    shape: str


def draw_collapse(chart: CollapseChart, page: Page, room: float, free: float | None) -> Body:
    """Draw the collapse into `room` × `free`, or to the page's usual height.

    Raises
    ------
    BadInput : there is no point.
    """
    pens = _pens(chart.sweeps)
    if not any(pen.sweep.phi for pen in pens) or len(chart.phi) < 2:
        raise BadInput("collapse plot", found="no points or no curve", expected="sweeps and a fitted curve")
    height = free if free is not None else 1.25 * page.aspect * room
    key, key_height = _key(page, room, pens)
    upper, lower = _planes(chart, page, room, height - key_height)
    left = room - upper.width
    top = key_height + 1.9 * page.small
    between = height - top - upper.height - lower.height - 3.3 * page.small
    padding = (page.margin + left, top, page.small, 2 * page.small)
    rows = marks.Rows()
    first = marks.drawn(_upper(chart, page, upper, pens, rows), rows, upper.width, upper.height, padding)
    rows = marks.Rows()
    second = marks.drawn(_lower(page, lower, pens, rows), rows, lower.width, lower.height, padding)
    first += marks.text(chart.y_label, -left, -1.05 * page.small, page.small, colour="muted")
    second += marks.text("residual, %", -left, -0.75 * page.small, page.small, colour="muted")
    second += _beyond(page, lower, pens) + under(lower, page, chart.x_label)
    first += _held_words(chart, page, upper, pens, left)
    body = key + marks.group(first, left, top, "collapse")
    return Body(body + marks.group(second, left, top + upper.height + between, "residuals"), height)


def _pens(sweeps: Sequence[Sweep]) -> list[Pen]:
    speeds = list(dict.fromkeys(sweep.speed for sweep in sweeps))
    mountings = list(dict.fromkeys(sweep.mounting for sweep in sweeps))
    steps = max(len(speeds) - 1, 1)
    return [
        Pen(
            sweep,
            "warn" if sweep.held else SHADES[round(speeds.index(sweep.speed) * (len(SHADES) - 1) / steps)],
            SHAPES[mountings.index(sweep.mounting) % len(SHAPES)],
        )
        for sweep in sweeps
    ]


def _planes(chart: CollapseChart, page: Page, room: float, height: float) -> tuple[Plane, Plane]:
    """The plot and the panel under it: one axis of φ, each its own vertical one."""
    most = 5 if page.stacked else 8
    phis = [*chart.phi, *(each for sweep in chart.sweeps for each in sweep.phi)]
    psis = [*chart.psi, *chart.high, *(each for sweep in chart.sweeps for each in sweep.psi)]
    used = [abs(each) for sweep in chart.sweeps if not sweep.held for each in sweep.residual]
    reach = HEADROOM * max([LEAST_RESIDUAL, *used])
    x = axis(min(0.0, *phis), HEADROOM * max(phis), most)
    y = axis(min(0.0, *psis), HEADROOM * max(psis), most)
    below = axis(-reach, reach, 6)
    left = max(tick_room(y, page), tick_room(below, page))
    inner = height - 1.9 * page.small - 2.4 * page.small - 3.3 * page.small
    wide = room - left
    return Plane(x, y, wide, (1 - PANEL_SHARE) * inner), Plane(x, below, wide, PANEL_SHARE * inner)


# --- the definition -------------------------------------------------------------------------------


def _dots(
    page: Page, plane: Plane, pens: Sequence[Pen], rows: marks.Rows, field: str, *, labels: bool
) -> alt.Chart:
    """The points of all sweeps; those that are held lie on top, open."""
    data: list[marks.Row] = []
    for pen in sorted(pens, key=lambda each: each.sweep.held):
        values = pen.sweep.psi if field == "psi" else pen.sweep.residual
        colour = role(pen.colour)
        look: marks.Row = {"fill": role("paper") if pen.sweep.held else colour, "edge": colour}
        data += [
            {"x": x, "y": y, "shape": pen.shape, **look}
            for x, y in zip(pen.sweep.phi, values, strict=True)
            if plane.holds((x, y))
        ]
    return layers.dots(rows, page, plane, data, 0.34, labels=labels)


def _upper(
    chart: CollapseChart, page: Page, plane: Plane, pens: Sequence[Pen], rows: marks.Rows
) -> AltairChart:
    import altair as alt

    made: list[alt.Chart] = []
    if chart.low:
        made += layers.band(rows, page, plane, chart.phi, chart.low, chart.high, "accent", labels=False)
    line = list(zip(chart.phi, chart.psi, strict=True))
    made.append(
        layers.line(rows, page, plane, line, "accent", 0.1 * page.label, words="fitted curve", labels=False)
    )
    made.append(_dots(page, plane, pens, rows, "psi", labels=False))
    return alt.layer(*made)


def _lower(page: Page, plane: Plane, pens: Sequence[Pen], rows: marks.Rows) -> AltairChart:
    import altair as alt

    ends = [(plane.x.low, 0.0), (plane.x.high, 0.0)]
    zero = layers.line(rows, page, plane, ends, "accent", 0.07 * page.label)
    return alt.layer(zero, _dots(page, plane, pens, rows, "residual", labels=True))


# --- the words ------------------------------------------------------------------------------------


def _beyond(page: Page, plane: Plane, pens: Sequence[Pen]) -> str:
    """How many points lie outside the panel: said, not hidden."""
    outside = sum(
        not plane.holds(point)
        for pen in pens
        for point in zip(pen.sweep.phi, pen.sweep.residual, strict=True)
    )
    if not outside:
        return ""
    words = f"{wording.plural(outside, 'held point')} beyond this panel"
    return marks.text(words, plane.width, -0.75 * page.small, page.small, colour="warn", anchor="end")


def _key(page: Page, room: float, pens: Sequence[Pen]) -> tuple[str, float]:
    """What shades and shapes mean, in lines above the plot; returns them and their height."""
    speeds = dict.fromkeys((pen.sweep.speed, "circle", pen.colour) for pen in pens if not pen.sweep.held)
    mountings = dict.fromkeys((pen.sweep.mounting, pen.shape, "ink") for pen in pens)
    groups = [[each for each in kind if each[0]] for kind in (speeds, mountings)]
    size, leading = page.small, 1.45 * page.small
    out, x, y = "", 0.0, 0.6 * size
    for kind in (each for each in groups if len(each) > 1):
        x += size if x else 0.0
        for words, shape, colour in kind:
            said = wrapped(words, size, REGULAR, 0.5 * room, 1)[0]
            wide = 1.2 * size + width(said, size)
            if x and x + wide > room:
                x, y = 0.0, y + leading
            out += marks.symbol(shape, x + 0.4 * size, y, 0.22 * page.label, colour)
            out += marks.text(said, x + size, y + 0.35 * size, size)
            x += wide + 0.7 * size
    return (marks.group(out, 0, 0, "key"), y + 1.3 * size) if out else ("", 0.0)


def _held_words(chart: CollapseChart, page: Page, plane: Plane, pens: Sequence[Pen], left: float) -> str:
    """Each held or odd sweep is named at its points."""
    wanted = []
    lines: list[list[Point]] = [[plane.at(pair) for pair in zip(chart.phi, chart.psi, strict=True)]]
    dots = [[plane.at(pair)] for pen in pens for pair in zip(pen.sweep.phi, pen.sweep.psi, strict=True)]
    for pen in pens:
        if not (pen.sweep.held or pen.sweep.word) or not pen.sweep.phi:
            continue
        said = pen.sweep.word or "not used in the fit"
        words = wrapped(f"{pen.sweep.label}: {said}", page.small, STRONG, 0.6 * plane.width, 2)
        spots: list[tuple[float, float, str]] = []
        for share in (0.5, 0.35, 0.65, 0.8, 0.2):
            index = round(share * (len(pen.sweep.phi) - 1))
            x, y = plane.at((pen.sweep.phi[index], pen.sweep.psi[index]))
            spots += around(x, y, 0.5 * len(words) * page.small, 0.6 * page.label)
        wanted.append(
            Label(tuple(words), tuple(spots), page.small, STRONG, "warn" if pen.sweep.held else "ink")
        )
    bounds = Box(-left, 0, plane.width, plane.height)
    return written(placed(wanted, [*lines, *dots], (), bounds, 0.3 * page.small))
