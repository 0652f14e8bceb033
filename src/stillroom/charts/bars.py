"""Ranked horizontal bars from zero on one scale, every number and name at its bar.

Rows stand where the explicit domain of the row scale puts them: names, bars, intervals and values share that
scale, so a name can't come to stand beside another fan's bar.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from stillroom import wording
from stillroom.charts import marks
from stillroom.charts.bar_words import fitted_word, mark_room, word_room
from stillroom.charts.fonts import REGULAR, STRONG, balanced, clean, width, wrapped
from stillroom.charts.frame import Body
from stillroom.charts.layout import Page
from stillroom.charts.palette import role
from stillroom.charts.series import Bar, RankedBars
from stillroom.errors import BadInput

if TYPE_CHECKING:
    import altair as alt

    from stillroom.charts.marks import AltairChart

NAME_SHARE = 0.3
SMALLER = 0.74


@dataclass(frozen=True)
class Row:
    """One bar with its words set: what stands where, in page units."""

    key: str
    bar: Bar
    name: tuple[str, ...]
    size: float
    value: str
    word: str


@dataclass(frozen=True)
class Plan:
    """Where columns and rows are."""

    rows: tuple[Row, ...]
    pitch: float
    zero: float
    reach: float
    least: float
    most: float
    cue: float

    @property
    def height(self) -> float:
        """All rows together."""
        return self.pitch * len(self.rows)


def value_words(bar: Bar) -> str:
    """A bar's number with honest digits, and the sign of a bound before it; nothing where there is no value."""
    if bar.is_missing:
        return ""
    if bar.is_range and bar.low is not None and bar.high is not None:
        return wording.spread(bar.low, bar.high, "").replace(" to ", "–")
    number = wording.rounded(bar.value, bar.low, bar.high)
    if bar.low is None:  # nobody told how sure it is: no figure more than needed
        number = number.removesuffix(".0")
    return f"{bar.bound.value}{wording.NARROW}{number}" if bar.bound.value else number


def aria_words(bar: Bar, unit: str) -> str:
    """A bar in words, for those who hear the chart."""
    if bar.is_missing:
        return f"{clean(bar.label)}: no value, {bar.note}"
    number = wording.with_interval(bar.value, bar.low, bar.high, unit)
    parts = [f"{clean(bar.label)}: {bar.bound.value}{number}", bar.mark_word, bar.note]
    return ", ".join(each for each in parts if each)


def least_height(chart: RankedBars, page: Page) -> float:
    """The least height at which all bars stand clear of each other.

    Raises
    ------
    BadInput : more bars than the page holds.
    """
    if len(chart.bars) > page.bars:
        raise BadInput(
            f"bars on the page {page.name!r}", found=str(len(chart.bars)), expected=f"at most {page.bars}"
        )
    return _cue_height(chart, page) + page.least_pitch * len(chart.bars)


def _cue_height(chart: RankedBars, page: Page) -> float:
    return 1.7 * page.small if chart.cue else 0.0


def draw_bars(chart: RankedBars, page: Page, room: float, free: float | None) -> Body:
    """Draw the ranking into `room` × `free` (at least `least_height`), or as high as it needs."""
    if not chart.bars:
        return _nothing(page, free)
    plan = plan_of(chart, page, room, free)
    cue = cue_svg(chart, page, plan)
    rows = marks.Rows()
    drawn = marks.drawn(
        _spec(chart, page, plan, rows), rows, room, plan.height, (page.margin, 0, page.margin, 0)
    )
    body = cue + marks.group(drawn, 0, plan.cue, "bars")
    return Body(body, plan.cue + plan.height)


def cue_svg(chart: RankedBars, page: Page, plan: Plan) -> str:
    """The direction in words, above the bars."""
    return marks.text(cue_words(chart.cue), plan.zero, page.small, page.small, colour="muted")


def cue_words(cue: str) -> str:
    """The cue with its arrow: to the right, unless it has one to the left."""
    return f"{cue} →" if cue and not cue.startswith("←") else cue


def _nothing(page: Page, free: float | None) -> Body:
    words = marks.text("No fan could be ranked.", 0, 2 * page.text, page.text)
    return Body(words, free if free is not None else 3 * page.text)


def plan_of(chart: RankedBars, page: Page, room: float, free: float | None) -> Plan:
    """Where the columns and rows of a ranking stand in `room` × `free`."""
    cue = _cue_height(chart, page)
    pitch = page.pitch if free is None else min(page.pitch, (free - cue) / len(chart.bars))
    mark = mark_room(page)
    name_room = room - mark if page.stacked else NAME_SHARE * room - mark
    rows = tuple(_row(index, bar, page, room, name_room) for index, bar in enumerate(chart.bars))
    others = tuple(_row(0, bar, page, room, name_room) for bar in chart.beside)
    widest = max(_name_width(row) for row in (*rows, *others))
    zero = 0.0 if page.stacked else mark + min(widest, name_room) + 0.7 * page.label
    words = [(row.bar, _right_words(row, page)) for row in (*rows, *others)]
    least, most, reach = shared_axis(words, room - zero, chart.starts_at)
    return Plan(rows, pitch, zero, max(reach, 0.2 * room), least, most, cue)


def shared_axis(
    bars: Sequence[tuple[Bar, float]], room: float, starts_at: float | None = None
) -> tuple[float, float, float]:
    """One axis for bars with words at their ends.

    Parameters
    ----------
    bars : each with the width of the words at its end. room : from zero to the right edge.
    starts_at : where the axis starts, below all of them; None for zero.

    Returns
    -------
    (least, most, reach): both ends in data, and how long the axis is so that all words have their place.
    """
    ends = [max(bar.value, bar.high or 0.0) for bar, _ in bars]
    most = max(ends) or 1.0
    least = min(0.0, *(bar.low for bar, _ in bars if bar.low is not None), 0.0)
    least = least if starts_at is None else starts_at
    reach = room
    for (_, words), end in zip(bars, ends, strict=True):
        share = (end - least) / (most - least)
        if share > 0:
            reach = min(reach, (room - words) / share)
    return least, most, reach


def _row(index: int, bar: Bar, page: Page, room: float, name_room: float) -> Row:
    weight = STRONG if bar.is_leader_tied or bar.accent else REGULAR
    size = page.label
    name = marks.named(bar.label)
    word = fitted_word(bar, page.small, word_room(bar, page, room))
    if page.stacked:
        name_room -= width(word, page.small) + page.small
    lines = wrapped(name, size, weight, name_room, 1 if page.stacked else 0)
    if len(lines) > 1:
        size = SMALLER * page.label
        lines = balanced(name, size, weight, name_room, 2)
    return Row(f"row-{index:02d}", bar, tuple(lines), size, value_words(bar), word)


def _name_width(row: Row) -> float:
    weight = STRONG if row.bar.is_leader_tied or row.bar.accent else REGULAR
    return max(width(line, row.size, weight) for line in row.name)


def _right_words(row: Row, page: Page) -> float:
    """How much room the words at a bar's end take."""
    value = 0.6 * page.label + width(row.value, page.label, STRONG)
    if page.stacked or not row.word:
        return value + 0.1 * page.label
    return value + 0.6 * page.label + width(row.word, page.small)


# --- the definition -------------------------------------------------------------------------------


def fill_of(bar: Bar) -> tuple[str, str]:
    """Fill and edge of a bar, as roles: a legacy number's bar is open."""
    if bar.is_legacy:
        return role("paper"), role("accent" if bar.accent else "tied-edge")
    if bar.accent:
        return role("accent"), role("accent")
    if bar.is_leader_tied:
        return role("tied"), role("tied-edge")
    return role("quiet"), role("quiet-edge")


def records(chart: RankedBars, plan: Plan, page: Page) -> list[marks.Row]:
    """The rows of a ranking as its layers read them."""
    scale = plan.reach / (plan.most - plan.least)
    records: list[marks.Row] = []
    for row in plan.rows:
        bar = row.bar
        end = plan.zero + (max(bar.value, bar.high or 0.0) - plan.least) * scale
        fill, edge = fill_of(bar)
        at = end + 0.6 * page.label
        records.append(
            {
                "row": row.key,
                "value": bar.low if bar.is_range else bar.value,
                "low": bar.low,
                "high": bar.high,
                "range": bar.is_range,
                "fill": fill,
                "edge": edge,
                "label": row.value,
                "at": at,
                "word": row.word,
                "word_at": mark_room(page) + _name_width(row) + 0.8 * page.small
                if page.stacked
                else at + width(row.value, page.label, STRONG) + 0.6 * page.label,
                "tied": bar.is_leader_tied,
                "strong": bar.is_leader_tied or bar.accent,
                "ink": role("accent") if bar.accent else role("ink"),
                "aria": aria_words(bar, chart.unit),
                "size": row.size,
                "line": row.name[0],
                "second": row.name[1] if len(row.name) > 1 else "",
            }
        )
    return records


def _spec(chart: RankedBars, page: Page, plan: Plan, rows: marks.Rows) -> AltairChart:
    import altair as alt

    order = [row.key for row in plan.rows]
    y = alt.Y(
        "row:N",
        axis=None,
        scale=alt.Scale(domain=order, range=[0, plan.height], paddingInner=0, paddingOuter=0),
    )
    x_scale = alt.Scale(
        domain=[plan.least, plan.most], range=[plan.zero, plan.zero + plan.reach], nice=False, zero=False
    )
    base = rows.chart(records(chart, plan, page)).encode(y=y)
    layered: AltairChart = alt.layer(
        *(bar_layers if chart.starts_at is None else dot_layers)(base, page, plan, x_scale),
        *_name_layers(base, page, plan),
        *value_layers(base, page, plan),
    ).resolve_scale(x="independent")
    return layered


def _at(channel: Any, value: float) -> Any:
    """A channel with a place on the page: given as such, Altair needn't look for it among all it knows."""
    return channel(value)


def bar_layers(base: alt.Chart, page: Page, plan: Plan, scale: alt.Scale) -> list[alt.Chart]:
    """Bars, their intervals with caps, the open end of what is a range, and the line at zero."""
    import altair as alt

    thick = (0.34 if page.stacked else 0.56) * plan.pitch
    down = 0.22 * plan.pitch if page.stacked else 0.0
    line = max(1.6, 0.075 * page.label)
    x = alt.X("value:Q", axis=None, scale=scale)
    bars = base.mark_bar(height=thick, yOffset=down, strokeWidth=line / 1.6).encode(
        x=x,
        x2=alt.X2Datum(0),
        fill=alt.Fill("fill:N", scale=None),
        stroke=alt.Stroke("edge:N", scale=None),
        description=alt.Description("aria:N"),
    )
    with_line = base.transform_filter("isValid(datum.low) && !datum.range")
    low = alt.X("low:Q", axis=None, scale=scale)
    casing = with_line.mark_rule(
        yOffset=down, strokeWidth=2.4 * line, stroke=role("paper"), strokeCap="butt", aria=False
    ).encode(x=low, x2=alt.X2("high:Q"))
    interval = with_line.mark_rule(yOffset=down, strokeWidth=line, stroke=role("ink"), aria=False).encode(
        x=low, x2=alt.X2("high:Q")
    )
    caps = [
        with_line.mark_tick(
            yOffset=down, size=0.4 * thick, thickness=line, color=role("ink"), aria=False, opacity=1
        ).encode(x=alt.X(f"{end}:Q", axis=None, scale=scale))
        for end in ("low", "high")
    ]
    zero = base.mark_rule(strokeWidth=line / 1.6, stroke=role("axis"), aria=False).encode(
        x=alt.XDatum(0, axis=None, scale=scale), y=_at(alt.YValue, 0), y2=_at(alt.Y2Value, plan.height)
    )
    open_end = base.transform_filter("datum.range").mark_bar(
        height=thick, yOffset=down, strokeWidth=line / 1.6, fill=role("paper"), aria=False
    )
    ranges = open_end.encode(x=low, x2=alt.X2("high:Q"), stroke=alt.Stroke("edge:N", scale=None))
    return [bars, ranges, casing, interval, *caps, zero.transform_filter("datum.row == 'row-00'")]


def dot_layers(base: alt.Chart, page: Page, plan: Plan, scale: alt.Scale) -> list[alt.Chart]:
    """Dots with their intervals on a scale without a zero: no length stands for a value."""
    import altair as alt

    down = 0.22 * plan.pitch if page.stacked else 0.0
    line = max(1.6, 0.075 * page.label)
    guides = base.mark_rule(
        yOffset=down, strokeWidth=line / 1.6, stroke=role("quiet-edge"), strokeDash=[1, 5], aria=False
    ).encode(x=alt.X("value:Q", axis=None, scale=scale), x2=alt.X2Datum(plan.least))
    with_line = base.transform_filter("isValid(datum.low)")
    interval = with_line.mark_rule(yOffset=down, strokeWidth=line, stroke=role("ink"), aria=False).encode(
        x=alt.X("low:Q", axis=None, scale=scale), x2=alt.X2("high:Q")
    )
    dots = base.mark_point(
        shape="circle", filled=True, size=(0.55 * page.label) ** 2, yOffset=down, opacity=1, strokeWidth=line
    ).encode(
        x=alt.X("value:Q", axis=None, scale=scale),
        fill=alt.Fill("fill:N", scale=None),
        stroke=alt.Stroke("edge:N", scale=None),
        description=alt.Description("aria:N"),
    )
    return [guides, interval, dots]


def _name_layers(base: alt.Chart, page: Page, plan: Plan) -> list[alt.Chart]:
    import altair as alt

    mark = mark_room(page)
    up = -0.28 * plan.pitch if page.stacked else 0.0
    layers = []
    for strong in (True, False):
        for field, wanted, shift in (
            ("line", "datum.second == ''", 0.0),
            ("line", "datum.second != ''", -0.58 * SMALLER * page.label),
            ("second", "datum.second != ''", 0.58 * SMALLER * page.label),
        ):
            chosen = base.transform_filter(f"datum.strong == {str(strong).lower()} && {wanted}")
            layers.append(
                chosen.mark_text(
                    align="left",
                    baseline="middle",
                    fontWeight=STRONG if strong else REGULAR,
                    dy=up + shift,
                    aria=False,
                ).encode(
                    x=_at(alt.XValue, mark),
                    text=alt.Text(f"{field}:N"),
                    size=alt.Size("size:Q", scale=None),
                    color=alt.Color("ink:N", scale=None),
                )
            )
    diamonds = base.transform_filter("datum.tied").mark_point(
        shape="diamond", filled=True, size=(0.5 * page.label) ** 2, yOffset=up, opacity=1, aria=False
    )
    layers.append(
        diamonds.encode(x=_at(alt.XValue, mark - 0.72 * page.label), color=alt.Color("ink:N", scale=None))
    )
    return layers


def value_layers(base: alt.Chart, page: Page, plan: Plan) -> list[alt.Chart]:
    """Numbers and words at the ends of the bars."""
    import altair as alt

    down = 0.22 * plan.pitch if page.stacked else 0.0
    pixels = alt.Scale(domain=[0, 1], range=[0, 1], nice=False, zero=False)
    value = base.mark_text(
        align="left",
        baseline="middle",
        fontSize=page.label,
        fontWeight=STRONG,
        dy=down,
        aria=False,
    ).encode(
        x=alt.X("at:Q", axis=None, scale=pixels),
        text=alt.Text("label:N"),
        color=alt.Color("ink:N", scale=None),
    )
    word = base.transform_filter("datum.word != ''").mark_text(
        align="left",
        baseline="middle",
        fontSize=page.small,
        fontWeight=REGULAR,
        fill=role("muted"),
        dy=-0.28 * plan.pitch if page.stacked else 0.0,
        aria=False,
    )
    return [value, word.encode(x=alt.X("word_at:Q", axis=None, scale=pixels), text=alt.Text("word:N"))]
