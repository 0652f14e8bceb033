"""Small multiples: one ranking a panel, the same fan on the same row, one axis for all.

Names stand once, left of each row of panels; the title of a panel says what its fans blow through. A fan that
may be the best of a panel carries the mark and the darker bar there, as in a ranking of its own.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from stillroom.charts import marks
from stillroom.charts.bars import (
    Plan,
    Row,
    bar_layers,
    cue_words,
    records,
    shared_axis,
    value_layers,
    value_words,
)
from stillroom.charts.fonts import REGULAR, STRONG, balanced, width, wrapped
from stillroom.charts.frame import Body
from stillroom.charts.further_series import PanelChart
from stillroom.charts.layout import Page
from stillroom.charts.series import Bar, RankedBars
from stillroom.errors import BadInput

if TYPE_CHECKING:
    from stillroom.charts.marks import AltairChart

COLUMNS = {"wide": 4, "article": 3, "square": 2, "phone": 1}
NAME_SHARE = 0.2
LEAST_PITCH, USUAL_PITCH, MOST_PITCH = 1.3, 2.1, 3.2
TITLE_LINES = 2
ELSEWHERE = "no value, see table"
"""What stands where a panel is too narrow for why a fan has none."""


@dataclass(frozen=True)
class Grid:
    """Where panels and rows are, in page units.

    Parameters
    ----------
    columns, lines : panels beside and above each other. fans : how many rows a panel has.
    names : width of the column of names. wide : of a panel. title : height above its bars. pitch : of a row.
    gap : between panels. cue : height of the words above all.
    """

    columns: int
    lines: int
    fans: int
    names: float
    wide: float
    title: float
    pitch: float
    gap: float
    cue: float

    @property
    def panel(self) -> float:
        """Height of a panel with what separates it from the next."""
        return self.title + self.pitch * self.fans + self.gap

    @property
    def height(self) -> float:
        """All panels together."""
        return self.cue + self.panel * self.lines


def panels_least(chart: PanelChart, page: Page) -> float:
    """The least height at which two fans a panel stand clear of each other."""
    lines = _lines(len(chart.panels), page)
    most = min(2, _most_fans(chart))
    return _cue(page) + lines * (_title(page) + _gap(page) + LEAST_PITCH * page.small * most)


def draw_panels(chart: PanelChart, page: Page, room: float, free: float | None) -> Body:
    """Draw the panels into `room` × `free`, or as high as they need.

    Where the page can't hold all fans, the first ones are drawn and the rest are counted; the table has all.

    Raises
    ------
    BadInput : no panel, or panels whose rows are not the same fans.
    """
    labels = [tuple(bar.label for bar in each.bars) for each in chart.panels]
    if not labels or len(set(labels)) > 1 or not labels[0]:
        raise BadInput(
            "panels", found=f"{len(set(labels))} orders of fans", expected="one, of one fan or more"
        )
    grid = _grid(chart, page, room, free)
    small = _small(page)
    plan = _plan(chart, small, grid)
    out = _cue_words(chart, page, grid)
    for index, panel in enumerate(chart.panels):
        line, column = divmod(index, grid.columns)
        x = grid.names + column * (grid.wide + grid.gap)
        y = grid.cue + line * grid.panel
        if column == 0:
            out += _names(kept(panel.bars, grid.fans), small, grid, y + grid.title)
        out += _panel(panel, small, grid, plan, x, y, index)
    return Body(out, grid.height if free is None else free)


def kept(bars: Sequence[Bar], most: int) -> tuple[Bar, ...]:
    """The first bars that a panel holds; the fan under review takes the last row where it lies beyond them."""
    shown, beyond = tuple(bars[:most]), [bar for bar in bars[most:] if bar.accent]
    return (*shown[:-1], beyond[0]) if beyond else shown


def _most_fans(chart: PanelChart) -> int:
    return max((len(each.bars) for each in chart.panels), default=0)


def _lines(panels: int, page: Page) -> int:
    return math.ceil(panels / COLUMNS[page.name])


def _title(page: Page) -> float:
    return TITLE_LINES * 1.25 * page.small + 0.5 * page.small


def _gap(page: Page) -> float:
    return 1.4 * page.small


def _cue(page: Page) -> float:
    return 1.9 * page.small


def _small(page: Page) -> Page:
    """The page with the letters of a panel: numbers no larger than the words around them."""
    return replace(page, label=page.small, stacked=False)


def _grid(chart: PanelChart, page: Page, room: float, free: float | None) -> Grid:
    lines = _lines(len(chart.panels), page)
    columns = math.ceil(len(chart.panels) / lines)
    fans, pitch = _most_fans(chart), USUAL_PITCH * page.small
    title, gap, cue = _title(page), _gap(page), _cue(page)
    if free is not None:
        each = (free - cue) / lines - title - gap
        fans = max(1, min(fans, int(each / (LEAST_PITCH * page.small))))
        pitch = min(MOST_PITCH * page.small, each / fans)
    widest = max(width(marks.named(bar.label), page.small, STRONG) for bar in chart.panels[0].bars[:fans])
    share = 2 * NAME_SHARE if columns == 1 else NAME_SHARE
    names = min(widest, share * room) + 0.7 * page.small
    wide = (room - names - gap * (columns - 1)) / columns
    return Grid(columns, lines, fans, names, wide, title, pitch, gap, cue)


def _plan(chart: PanelChart, page: Page, grid: Grid) -> Plan:
    """One axis for the bars of all panels."""
    mark = 0.8 * page.small
    bars = [bar for each in chart.panels for bar in kept(each.bars, grid.fans)]
    words = [(bar, 0.5 * page.label + width(value_words(bar), page.label, STRONG)) for bar in bars]
    least, most, reach = shared_axis(words, grid.wide - mark)
    return Plan((), grid.pitch, mark, max(reach, 0.2 * grid.wide), least, most, 0.0)


def _cue_words(chart: PanelChart, page: Page, grid: Grid) -> str:
    """The direction, what the mark means, and how many fans the page can't hold."""
    every = _most_fans(chart)
    parts = [cue_words(chart.cue), "◆ may be the best"]
    parts += [f"{grid.fans} of {every} fans, all in the table"] if grid.fans < every else []
    said = wrapped(
        " · ".join(each for each in parts if each), page.small, REGULAR, page.width - 2 * page.margin, 1
    )
    return marks.text(said[0], 0, page.small, page.small, colour="muted")


def _names(bars: Sequence[Bar], page: Page, grid: Grid, top: float) -> str:
    out = ""
    for index, bar in enumerate(bars):
        weight = STRONG if bar.accent else REGULAR
        words = wrapped(marks.named(bar.label), page.small, weight, grid.names - 0.6 * page.small, 1)[0]
        y = top + (index + 0.5) * grid.pitch + 0.35 * page.small
        colour = "accent" if bar.accent else "ink"
        out += marks.text(words, 0, y, page.small, weight=weight, colour=colour)
    return marks.group(out, 0, 0, f"names-{round(top)}")


def _panel(panel: RankedBars, page: Page, grid: Grid, plan: Plan, x: float, y: float, index: int) -> str:
    bars = kept(panel.bars, grid.fans)
    titles = balanced(panel.title, page.small, STRONG, grid.wide - plan.zero, TITLE_LINES)
    base = grid.title - 0.75 * page.small - (len(titles) - 1) * 1.25 * page.small
    out = marks.lines(titles, plan.zero, base, page.small, 1.25 * page.small, weight=STRONG)
    rows = marks.Rows()
    drawn = marks.drawn(
        _spec(replace(panel, bars=bars), page, replace(plan, rows=_rows(bars)), rows),
        rows,
        grid.wide,
        grid.pitch * len(bars),
        (page.margin + x, 0, page.margin, 0),
    )
    out += marks.group(drawn, 0, grid.title, f"panel-{index + 1}-bars")
    for place, bar in enumerate(bars):
        middle = grid.title + (place + 0.5) * grid.pitch
        out += _mark(bar, page, plan, grid, middle)
    return marks.group(out, x, y, f"panel-{index + 1}")


def _mark(bar: Bar, page: Page, plan: Plan, grid: Grid, middle: float) -> str:
    """The mark of a fan that may be the best, or the words of one without a value."""
    if bar.is_leader_tied:
        colour = "accent" if bar.accent else "ink"
        return marks.symbol("diamond", 0.3 * page.small, middle, 0.26 * page.small, colour)
    if bar.is_missing:
        at = plan.zero + 0.5 * page.small
        said = bar.note if width(bar.note, page.small) <= grid.wide - at else ELSEWHERE
        said = wrapped(said, page.small, REGULAR, grid.wide - at, 1)[0]
        return marks.text(said, at, middle + 0.35 * page.small, page.small, colour="muted")
    return ""


def _rows(bars: Sequence[Bar]) -> tuple[Row, ...]:
    return tuple(
        Row(f"row-{index:02d}", bar, ("",), 1.0, value_words(bar), "") for index, bar in enumerate(bars)
    )


def _spec(panel: RankedBars, page: Page, plan: Plan, rows: marks.Rows) -> AltairChart:
    import altair as alt

    order = [row.key for row in plan.rows]
    height = plan.pitch * len(order)
    y = alt.Y(
        "row:N", axis=None, scale=alt.Scale(domain=order, range=[0, height], paddingInner=0, paddingOuter=0)
    )
    x = alt.Scale(
        domain=[plan.least, plan.most], range=[plan.zero, plan.zero + plan.reach], nice=False, zero=False
    )
    base = rows.chart(records(panel, plan, page)).encode(y=y)
    layered: AltairChart = alt.layer(
        *bar_layers(base, page, plan, x), *value_layers(base, page, plan)[:1]
    ).resolve_scale(x="independent")
    return layered
