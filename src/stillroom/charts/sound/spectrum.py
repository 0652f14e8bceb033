"""One-third-octave levels of a fan as steps before its background, with bounds and prominent tones named."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import TYPE_CHECKING

from stillroom import wording
from stillroom.charts import layers, marks
from stillroom.charts.fonts import REGULAR, STRONG, clean, width, wrapped
from stillroom.charts.frame import Body
from stillroom.charts.labels import Box, Label, placed, written
from stillroom.charts.layout import Page
from stillroom.charts.palette import role
from stillroom.charts.pieces import BOUND_DASH, BOUND_SHAPE
from stillroom.charts.plane import Axis, Plane, Point, axis, axis_words, tick_room, under, x_of, y_of
from stillroom.charts.series import Bound
from stillroom.charts.sound.series import SpectrumBand, SpectrumChart, ToneMark
from stillroom.errors import BadInput

if TYPE_CHECKING:
    import altair as alt

    from stillroom.charts.marks import AltairChart

ROOM = 0.06
LEAST_SPAN = 20.0
"""The least height of the axis [dB]: small differences aren't blown up."""

MOST_SPAN = 55.0
"""The greatest height of the axis [dB]: what lies deeper is drawn at its foot, and stands in the table."""

TICKS = (20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0, 10000.0, 20000.0)
FEW_TICKS = (20.0, 100.0, 1000.0, 10000.0)
TONE_LANE = 1.4
BACKGROUND = "background"
AT_MOST = "at most"


def draw_spectrum(chart: SpectrumChart, page: Page, room: float, free: float | None) -> Body:
    """Draw the bands into `room` × `free`, or to the page's usual height.

    Raises
    ------
    BadInput : fewer than two bands.
    """
    if len(chart.bands) < 2:
        raise BadInput("spectrum", found=f"{len(chart.bands)} bands", expected="two or more")
    height = free if free is not None else 1.1 * page.aspect * room
    plane = _plane(chart, page, room)
    left = tick_room(plane.y, page)
    signs = tone_signs(chart, page, plane)
    top = (1.9 + TONE_LANE * (1 + max((each.lane for each in signs), default=-1))) * page.small
    plane = Plane(plane.x, plane.y, plane.width, height - top - 3.3 * page.small)
    rows = marks.Rows()
    right = room - left - plane.width
    drawn = marks.drawn(
        _spec(chart, page, plane, rows),
        rows,
        plane.width,
        plane.height,
        (page.margin + left, top, right, top),
    )
    y_words = axis_words(chart.y_label, chart.y_unit)
    out = _tones(chart, signs, page, plane) + drawn
    out += marks.text(y_words, -left, 1.05 * page.small - top, page.small, colour="muted")
    out += under(plane, page, axis_words("Mid-band frequency", "Hz")) + _labels(chart, page, plane)
    return Body(marks.group(out, left, top, "spectrum"), height)


def _plane(chart: SpectrumChart, page: Page, room: float) -> Plane:
    levels = [each.level for each in chart.bands]
    levels += [each.background for each in chart.bands if each.background is not None]
    high = max(levels)
    low = max(min(*levels, high - LEAST_SPAN), high - MOST_SPAN)
    away = ROOM * (high - low)
    y = axis(low - away, high + 2.0 * away, 5 if page.stacked else 8)
    first, last = min(each.low for each in chart.bands), max(each.high for each in chart.bands)
    ticks = tuple(each for each in (FEW_TICKS if page.stacked else TICKS) if first <= each <= last)
    x = Axis(first, last, ticks, 0, is_log=True)
    right = 0.5 * width(x.words(ticks[-1]) if ticks else "", page.small)
    return Plane(x, y, room - tick_room(y, page) - right, 1.0)


def steps(bands: Sequence[tuple[float, float, float]]) -> list[list[Point]]:
    """Stairs over bands of (low edge, high edge, level), one list for each run of bands that touch."""
    runs: list[list[Point]] = []
    last = 0.0
    for low, high, level in bands:
        if not runs or abs(low / last - 1.0) > 0.02:
            runs.append([])
        runs[-1] += [(low, level), (high, level)]
        last = high
    return runs


# --- the definition -------------------------------------------------------------------------------


def _spec(chart: SpectrumChart, page: Page, plane: Plane, rows: marks.Rows) -> AltairChart:
    import altair as alt

    made: list[alt.Chart] = []
    foot = plane.y.low
    behind = [
        (each.low, each.high, max(each.background, foot))
        for each in chart.bands
        if each.background is not None
    ]
    made += [_foot(chart, page, plane, rows)] if behind else []
    made += [
        layers.line(rows, page, plane, run, "pale", 0.06 * page.label, words=BACKGROUND, as_given=True)
        for run in steps(behind)
    ]
    thick, words = 0.12 * page.label, clean(chart.label)
    for is_bound, group in groupby(chart.bands, key=lambda each: each.bound is not Bound.NONE):
        own = [(each.low, each.high, max(each.level, foot)) for each in group]
        dash = BOUND_DASH if is_bound else ()
        made += [
            layers.line(rows, page, plane, run, "accent", thick, dash=dash, words=words, as_given=True)
            for run in steps(own)
        ]
    made += _risers(chart.bands, page, plane, rows)
    bounds = [each for each in chart.bands if each.bound is Bound.AT_MOST]
    down = 0.035 * (plane.y.high - plane.y.low)
    data: list[marks.Row] = [
        {
            "x": middle_of(each),
            "y": max(each.level - down, plane.y.low),
            "shape": BOUND_SHAPE,
            "fill": role("paper"),
            "edge": role("accent"),
            "aria": f"{each.name} Hz: {AT_MOST} {wording.number(each.level, 1)} dB",
        }
        for each in bounds
    ]
    if data:
        made.append(layers.dots(rows, page, plane, data, 0.2, edge=0.05, heard=True))
    return alt.layer(*made)


def _foot(chart: SpectrumChart, page: Page, plane: Plane, rows: marks.Rows) -> alt.Chart:
    """The background filled down to the axis."""
    import altair as alt

    data: list[marks.Row] = [
        {"x": each.low, "x2": each.high, "y": max(each.background, plane.y.low), "y2": plane.y.low}
        for each in chart.bands
        if each.background is not None
    ]
    made: alt.Chart = (
        rows.chart(data)
        .mark_rect(fill=role("quiet"), fillOpacity=0.45, opacity=1, aria=False)
        .encode(x=x_of(plane, page), y=y_of(plane, page), x2=alt.X2("x2:Q"), y2=alt.Y2("y2:Q"))
    )
    return made


def _risers(bands: Sequence[SpectrumBand], page: Page, plane: Plane, rows: marks.Rows) -> list[alt.Chart]:
    """The upright lines between a value and a bound, which no run of steps holds."""
    reaches = [
        ((before.high, max(before.level, plane.y.low)), (before.high, max(after.level, plane.y.low)))
        for before, after in pairwise(bands)
        if (before.bound is Bound.NONE) != (after.bound is Bound.NONE)
        and abs(after.low / before.high - 1.0) < 0.02
    ]
    return [layers.spans(rows, page, plane, reaches, "accent", 0.12 * page.label)] if reaches else []


def middle_of(band: SpectrumBand) -> float:
    """The middle of a band on a logarithmic axis [Hz]."""
    return float((band.low * band.high) ** 0.5)


# --- the words ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class ToneSign:
    """The words of one tone above the plot: its line at x, its words from `left` to `right` on a lane."""

    tone: ToneMark
    words: str
    x: float
    left: float
    right: float
    lane: int

    def disturbs(self, other: ToneSign, gap: float) -> bool:
        """Whether words lie over each other, or the line of one passes through the words of the other."""
        same = self.lane == other.lane and self.left < other.right + gap and other.left < self.right + gap
        return same or self._passes(other) or other._passes(self)

    def _passes(self, other: ToneSign) -> bool:
        """Whether this line runs through the words of another tone."""
        return other.left < self.x < other.right and self.lane >= other.lane


TRIES = 5000
"""How many places are tried before words may disturb each other."""


def tone_signs(chart: SpectrumChart, page: Page, plane: Plane) -> list[ToneSign]:
    """A place above the plot for the words of each tone, on lanes as low as may be, where they disturb no other."""
    size = page.small
    tones = sorted(chart.tones, key=lambda each: -each.frequency)
    choices = []
    for tone in tones:
        words = wrapped(tone.words, size, STRONG, 0.8 * plane.width, 1)[0]
        wide, x = width(words, size, STRONG), plane.across(tone.frequency)
        lefts = [x + 0.35 * size] if x + 0.35 * size + wide <= plane.width else []
        lefts += [x - 0.35 * size - wide] if x - 0.35 * size - wide >= 0.0 else []
        lefts += [max(0.0, plane.width - wide)]  # above the line's head, at the edge
        choices.append(
            [
                ToneSign(tone, words, x, left, left + wide, lane)
                for lane in range(len(tones))
                for left in lefts
            ]
        )
    found = _undisturbed(choices, size)
    return found if found is not None else [own[2 * lane % len(own)] for lane, own in enumerate(choices)]


def _undisturbed(choices: Sequence[Sequence[ToneSign]], gap: float) -> list[ToneSign] | None:
    """The first set of places, one of each, that don't disturb each other; None where it isn't found in time."""
    left = TRIES

    def further(taken: list[ToneSign]) -> list[ToneSign] | None:
        nonlocal left
        if len(taken) == len(choices):
            return taken
        for each in choices[len(taken)]:
            left -= 1
            if left < 0:
                return None
            if not any(each.disturbs(other, gap) for other in taken):
                found = further([*taken, each])
                if found is not None:
                    return found
        return None

    return further([])


def _tones(chart: SpectrumChart, signs: Sequence[ToneSign], page: Page, plane: Plane) -> str:
    """A line down to the step of each tone's band, with its words at its head."""
    size, out = page.small, ""
    for each in signs:
        base = -(0.5 + TONE_LANE * each.lane) * size
        foot = plane.down(_level_at(chart.bands, each.tone.frequency, plane))
        head = base + 0.3 * size if each.left < each.x < each.right else base - 0.75 * size
        out += marks.rule(each.x, head, each.x, foot, colour="hue-2", thick=0.07 * size)
        out += marks.symbol("triangle-down", each.x, foot - 0.35 * size, 0.3 * size, "hue-2")
        out += marks.text(each.words, each.left, base, size, weight=STRONG)
    return out


def _level_at(bands: Sequence[SpectrumBand], frequency: float, plane: Plane) -> float:
    return next((each.level for each in bands if each.low <= frequency < each.high), plane.y.low)


def _labels(chart: SpectrumChart, page: Page, plane: Plane) -> str:
    """The fan's name, the background's and "at most", each beside its own steps."""
    fan = [plane.at((middle_of(each), each.level)) for each in chart.bands if each.level > plane.y.low]
    behind = [
        plane.at((middle_of(each), each.background))
        for each in chart.bands
        if each.background is not None and each.background > plane.y.low
    ]
    stairs = [
        [plane.at(at) for at in run]
        for run in steps([(each.low, each.high, each.level) for each in chart.bands])
    ]
    stairs += [
        [plane.at(at) for at in run]
        for run in steps([(b.low, b.high, b.background) for b in chart.bands if b.background is not None])
    ]
    wanted = [_along(chart.label, fan, page, -1, STRONG, "accent")]
    if behind:
        wanted.append(_along(BACKGROUND, behind, page, 1, REGULAR, "muted"))
    bounds = [plane.at((middle_of(each), each.level)) for each in chart.bands if each.bound is Bound.AT_MOST]
    if bounds:
        wanted.append(_along(AT_MOST, bounds, page, -1, REGULAR, "accent"))
    tones = [
        Box(x - 2.0, 0.0, x + 2.0, plane.height)
        for x in (plane.across(each.frequency) for each in chart.tones)
    ]
    bounds_box = Box(0.0, 0.0, plane.width, plane.height)
    return written(placed(wanted, stairs, tones, bounds_box, 0.3 * page.small))


def _along(words: str, line: Sequence[Point], page: Page, side: int, weight: int, colour: str) -> Label:
    """Words above (−1) or beneath (1) a line, wherever they cover least."""
    size = page.small
    lines = wrapped(words, size, STRONG, 0.45 * page.width, 1)
    order = sorted(range(len(line)), key=lambda index: abs(index - 0.7 * len(line)))
    spots = [
        (line[index][0], line[index][1] + side * away * size, anchor)
        for away in (1.0, 1.6, 2.4)
        for index in order
        for anchor in ("middle", "start", "end")
    ]
    return Label(tuple(lines), tuple(spots), size, STRONG if weight == STRONG else REGULAR, colour)
