"""Box against measured: the claim an open mark at 100 %, what was measured a filled one with its interval."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from stillroom import wording
from stillroom.charts import marks
from stillroom.charts.fonts import REGULAR, STRONG, balanced, clean, width, wrapped
from stillroom.charts.frame import Body
from stillroom.charts.further_series import ClaimChart, ClaimRow, Sign
from stillroom.charts.layout import Page
from stillroom.charts.palette import role
from stillroom.charts.plane import step_for
from stillroom.errors import BadInput

if TYPE_CHECKING:
    import altair as alt

    from stillroom.charts.marks import AltairChart

NAME_SHARE, WORD_SHARE = 0.39, 0.22
CLAIMED = 100.0
LEAST_REACH = 8.0
"""How far from 100 % the axis reaches at least [%]: small differences shall look small."""

COLOURS = {
    Sign.HOLDS: "tied-edge",
    Sign.UNRESOLVED: "tied-edge",
    Sign.FAILS: "block",
    Sign.UNPROVEN: "warn",
    Sign.UNCHECKED: "muted",
}
WORDS = COLOURS | {Sign.HOLDS: "ink", Sign.UNRESOLVED: "ink"}


@dataclass(frozen=True)
class Plan:
    """Where columns and rows are: the axis from `low` to `high` [%] begins at `left` and is `wide` long."""

    rows: tuple[ClaimRow, ...]
    pitch: float
    left: float
    wide: float
    low: float
    high: float
    head: float

    def across(self, value: float) -> float:
        """Page units from the left of the plot."""
        return self.left + (value - self.low) / (self.high - self.low) * self.wide


def _pitch(page: Page) -> float:
    """The least height of a row: two lines of words beside it, or two (three on a long page) above it."""
    if page.stacked:
        return (4.5 if page.height is not None else 5.5) * page.small
    return 2.65 * page.small


def _held(chart: ClaimChart, page: Page) -> tuple[ClaimRow, ...]:
    return chart.rows[: page.bars]


def claims_least(chart: ClaimChart, page: Page) -> float:
    """The least height at which the rows that the page holds stand clear of each other."""
    fixed = min(len(chart.rows), 4) if page.height is not None else len(_held(chart, page))
    return _head(page) + _pitch(page) * fixed


def _head(page: Page) -> float:
    return 3.4 * page.small


def draw_claims(chart: ClaimChart, page: Page, room: float, free: float | None) -> Body:
    """Draw the claims into `room` × `free`, or as high as they need; the table holds those beyond the page.

    Raises
    ------
    BadInput : there is no claim.
    """
    if not chart.rows:
        raise BadInput("chart of claims", found="no claim", expected="at least one")
    plan = _plan(chart, page, room, free)
    out = _scale(page, plan)
    rows = marks.Rows()
    drawn = marks.drawn(
        _spec(page, plan, rows), rows, room, plan.pitch * len(plan.rows), (page.margin, 0, page.margin, 0)
    )
    out += marks.group(drawn, 0, plan.head, "claims")
    for index, row in enumerate(plan.rows):
        out += _words(row, page, plan, room, plan.head + index * plan.pitch)
    height = plan.head + plan.pitch * len(plan.rows)
    left = len(chart.rows) - len(plan.rows)
    if left:
        said = f"and {wording.plural(left, 'more claim')} in the table"
        out += marks.text(said, 0, height + 1.1 * page.small, page.small, colour="muted")
        height += 1.5 * page.small
    return Body(out, height if free is None else free)


def _plan(chart: ClaimChart, page: Page, room: float, free: float | None) -> Plan:
    rows, head, pitch = _held(chart, page), _head(page), _pitch(page)
    if free is not None:
        fits = int((free - head) / pitch)
        if fits < len(chart.rows):
            fits = int((free - head - 1.5 * page.small) / pitch)
        rows = rows[: max(fits, 1)]
        below = 1.5 * page.small if len(rows) < len(chart.rows) else 0.0
        pitch = min((free - head - below) / len(rows), 1.5 * pitch)
    ends = [
        each
        for row in rows
        for each in (row.low, row.high, CLAIMED - row.tolerance, CLAIMED + row.tolerance)
        if each is not None
    ]
    low = min(CLAIMED - LEAST_REACH, *ends)
    high = max(CLAIMED + LEAST_REACH, *ends)
    edge = 0.04 * (high - low)
    left, right = 0.0, 0.0
    if not page.stacked:
        names = max(
            max(width(marks.named(row.label), page.small, STRONG), width(_numbers(row), page.small))
            for row in rows
        )
        left, right = min(names, NAME_SHARE * room) + page.small, WORD_SHARE * room
    inset = 0.5 * page.small
    return Plan(rows, pitch, left + inset, room - left - right - 2 * inset, low - edge, high + edge, head)


def _scale(page: Page, plan: Plan) -> str:
    """Ticks in per cent above the rows, with a hairline down from each; 100 % is the box."""
    step = step_for(plan.high - plan.low, 5 if page.stacked else 7)
    bottom = plan.head + plan.pitch * len(plan.rows)
    out, first = "", int(plan.low // step) + 1
    for index in range(first, int(plan.high // step) + 1):
        value = index * step
        x = plan.across(value)
        is_box = abs(value - CLAIMED) < 1e-9
        for top, end in _stretches(page, plan, bottom):
            colour = "axis" if is_box else "hairline"
            out += marks.rule(x, top, x, end, colour=colour, thick=0.06 * page.small)
        words = wording.number(value)
        out += marks.text(words, x, plan.head - 0.6 * page.small, page.small, colour="muted", anchor="middle")
    words = wrapped("measured, % of the box · ○ box", page.small, REGULAR, plan.wide, 1)[0]
    return out + marks.text(words, plan.left, page.small, page.small, colour="muted")


def _stretches(page: Page, plan: Plan, bottom: float) -> list[tuple[float, float]]:
    """Where the lines of the scale run: all the way down, or beneath the words of each row only."""
    if not page.stacked:
        return [(plan.head, bottom)]
    half = 0.9 * page.small
    middles = [plan.head + (index + 0.5) * plan.pitch + _down(page, plan) for index in range(len(plan.rows))]
    return [(each - half, each + half) for each in middles]


def _down(page: Page, plan: Plan) -> float:
    """How far below the middle of its row a mark lies."""
    return 0.5 * plan.pitch - page.small if page.stacked else 0.0


def _spec(page: Page, plan: Plan, rows: marks.Rows) -> AltairChart:
    """Tolerance, interval and both marks of every row."""
    import altair as alt

    down = _down(page, plan)
    scale = alt.Scale(
        domain=[plan.low, plan.high], range=[plan.left, plan.left + plan.wide], nice=False, zero=False
    )
    order = [f"row-{index:02d}" for index in range(len(plan.rows))]
    data: list[marks.Row] = [_record(key, row) for key, row in zip(order, plan.rows, strict=True)]
    y = alt.Y(
        "row:N",
        axis=None,
        scale=alt.Scale(domain=order, range=[0, plan.pitch * len(order)], paddingInner=0, paddingOuter=0),
    )
    base = rows.chart(data).encode(y=y)
    shown = base.transform_filter("datum.ratio !== null")
    line = 0.09 * page.label

    def x(field: str) -> alt.X:
        return alt.X(f"{field}:Q", axis=None, scale=scale)

    colour = alt.Stroke("colour:N", scale=None)
    tolerance = base.transform_filter("datum.wide > 0").mark_rule(
        yOffset=down, strokeWidth=0.5 * page.label, stroke=role("hairline"), strokeCap="butt", aria=False
    )
    joint = shown.mark_rule(yOffset=down, strokeWidth=0.55 * line, stroke=role("axis"), aria=False)
    reach = shown.mark_rule(yOffset=down, strokeWidth=line, aria=False)
    caps = shown.mark_tick(yOffset=down, size=0.34 * page.label, thickness=line, opacity=1, aria=False)
    box = base.mark_point(
        yOffset=down, shape="circle", filled=True, fill=role("paper"), stroke=role("muted"), opacity=1,
        size=(0.5 * page.label) ** 2, strokeWidth=0.09 * page.label, aria=False,
    )  # fmt: skip
    dot = shown.mark_point(yOffset=down, filled=True, opacity=1, size=(0.56 * page.label) ** 2)
    layered: AltairChart = alt.layer(
        tolerance.encode(x=x("from"), x2=alt.X2("to:Q")),
        joint.encode(x=alt.X("box:Q", axis=None, scale=scale), x2=alt.X2("ratio:Q")),
        box.encode(x=x("box")),
        reach.encode(x=x("low"), x2=alt.X2("high:Q"), stroke=colour),
        *(caps.encode(x=x(end), color=alt.Color("colour:N", scale=None)) for end in ("low", "high")),
        dot.encode(
            x=x("ratio"),
            color=alt.Color("colour:N", scale=None),
            shape=alt.Shape("shape:N", scale=None),
            description=alt.Description("aria:N"),
        ),
    )
    return layered


def _record(key: str, row: ClaimRow) -> marks.Row:
    return {
        "row": key,
        "box": CLAIMED,
        "from": CLAIMED - row.tolerance,
        "to": CLAIMED + row.tolerance,
        "wide": row.tolerance,
        "ratio": row.ratio,
        "low": row.low,
        "high": row.high,
        "colour": role(COLOURS[row.sign]),
        "shape": row.sign.value,
        "aria": clean(f"{row.label}: box {row.claim}, measured {row.measured}, {row.verdict}"),
    }


def _numbers(row: ClaimRow) -> str:
    """What the box says, and what was measured."""
    return row.short or f"box {row.claim}"


def _words(row: ClaimRow, page: Page, plan: Plan, room: float, top: float) -> str:
    """The claim and its numbers left of the row, the verdict right of it; all above it on narrow pages."""
    if page.stacked:
        return _words_above(row, page, room, top)
    size, middle = page.small, top + 0.5 * plan.pitch
    name = wrapped(marks.named(row.label), size, STRONG, plan.left - size, 1)[0]
    numbers = wrapped(_numbers(row), size, REGULAR, plan.left - size, 1)[0]
    out = marks.text(name, 0, middle - 0.25 * size, size, weight=STRONG)
    out += marks.text(numbers, 0, middle + 0.95 * size, size, colour="muted")
    x = plan.left + plan.wide + size
    verdict = balanced(row.verdict, size, STRONG, room - x, 2)
    start = middle + (0.35 - 0.6 * (len(verdict) - 1)) * size
    return out + marks.lines(verdict, x, start, size, 1.2 * size, weight=STRONG, colour=WORDS[row.sign])


def _words_above(row: ClaimRow, page: Page, room: float, top: float) -> str:
    size, colour = page.small, WORDS[row.sign]
    y = top + 1.15 * size
    if page.height is not None:
        first = wrapped(f"{marks.named(row.label)}: {row.verdict}", size, STRONG, room, 1)[0]
        out = marks.text(first, 0, y, size, weight=STRONG, colour=colour)
    else:
        out = marks.text(wrapped(marks.named(row.label), size, STRONG, room, 1)[0], 0, y, size, weight=STRONG)
        y += 1.2 * size
        said = wrapped(row.verdict, size, STRONG, room, 1)[0]
        out += marks.text(said, 0, y, size, weight=STRONG, colour=colour)
    numbers = wrapped(_numbers(row), size, REGULAR, room, 1)[0]
    return out + marks.text(numbers, 0, y + 1.2 * size, size, colour="muted")
