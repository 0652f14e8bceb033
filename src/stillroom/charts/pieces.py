"""What charts of several lines have in common: pens, lines in stretches, names at their ends, and stretches of the
abscissa with their words above the plot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING, Protocol

from stillroom.charts import layers, marks
from stillroom.charts.fonts import REGULAR, STRONG, width, wrapped
from stillroom.charts.labels import Label, apart, led_from, written
from stillroom.charts.layout import Page
from stillroom.charts.palette import HUES
from stillroom.charts.plane import Plane, Point

if TYPE_CHECKING:
    import altair as alt

SHAPES = ("circle", "square", "triangle-up", "diamond", "cross")
BOUND_SHAPE = "triangle-down"
"""The mark of a level that is at most what is drawn: it points down."""

BOUND_DASH = (1.6, 2.0)
BAND_OPACITY = 0.16
NAME_SHARE, STACKED_NAME_SHARE = 0.2, 0.28
LED_FROM = 0.1
"""In this share of the plot's width, at its right, ends of lines are led to their names [1]."""

LANE = 1.35
"""Height of a lane of words above a plot, in letter sizes."""


@dataclass(frozen=True)
class Pen:
    """The colour role and the shape of one fan's marks."""

    colour: str
    shape: str


def pens_for(names: Sequence[str], accents: Sequence[bool]) -> list[Pen]:
    """One pen for each line, by the place of its name among those drawn: the same fans look alike on every chart.

    The fan under review has the accent's colour in place of its own.
    """
    colours = (*HUES, "ink")
    order = sorted(range(len(names)), key=lambda index: (names[index].casefold(), names[index], index))
    places = {index: place for place, index in enumerate(order)}
    return [
        Pen(
            "accent" if accent else colours[places[index] % len(colours)],
            SHAPES[places[index] % len(SHAPES)],
        )
        for index, accent in enumerate(accents)
    ]


def stretches(points: Sequence[Point], bound: Sequence[bool]) -> list[tuple[bool, list[Point]]]:
    """A line cut where it begins or ends to be a bound: (is it a bound, its points); neighbours share an end."""
    flags = list(bound) or [False] * len(points)
    found: list[tuple[bool, list[Point]]] = []
    for flag, group in groupby(range(len(points)), key=lambda index: flags[index]):
        places = list(group)
        first = max(0, places[0] - 1)
        found.append((flag, [points[index] for index in range(first, places[-1] + 1)]))
    return [(flag, line) for flag, line in found if len(line) > 1]


def line_layers(
    rows: marks.Rows,
    page: Page,
    plane: Plane,
    points: Sequence[Point],
    bound: Sequence[bool],
    colour: str,
    thick: float,
    words: str,
) -> list[alt.Chart]:
    """A line in the order given, dotted where it is a bound."""
    return [
        layers.line(
            rows,
            page,
            plane,
            line,
            colour,
            thick,
            dash=BOUND_DASH if flag else (),
            words=words,
            as_given=True,
        )
        for flag, line in stretches(points, bound)
    ]


# --- names at the ends of lines -------------------------------------------------------------------


@dataclass(frozen=True)
class Names:
    """The words of all lines, set into lines of words, and the room that they take right of the plot."""

    lines: tuple[tuple[str, ...], ...]
    room: float


def names_of(labels: Sequence[str], page: Page, *, size: float) -> Names:
    """Set the names of lines for a column right of a plot."""
    share = STACKED_NAME_SHARE if page.stacked else NAME_SHARE
    room = share * (page.width - 2 * page.margin)
    lines = tuple(tuple(wrapped(marks.named(each), size, STRONG, room, 2)) for each in labels)
    wide = max((width(line, size, STRONG) for each in lines for line in each), default=0.0)
    return Names(lines, wide + 2.4 * size if labels else 0.5 * size)


def written_names(
    names: Names, pens: Sequence[Pen], ends: Sequence[Point], page: Page, plane: Plane, *, marked: bool
) -> str:
    """The names in a column right of the plot, by the heights of their lines' ends (in page units).

    A hairline leads to an end near the column; to one further left it would run through lines that go on, so that there
    the mark before the name tells it.
    """
    size = page.small
    x = plane.width + 0.9 * size
    heights = [(1.2 * len(lines) + 0.3) * size for lines in names.lines]
    is_led = [not marked or end[0] > (1.0 - LED_FROM) * plane.width for end in ends]
    column = (-0.6 * size, plane.height + 0.6 * size)
    middles = (
        led_from(ends, heights, x, *column) if all(is_led) else apart([y for _, y in ends], heights, *column)
    )
    chosen = []
    for lines, pen, end, led, middle in zip(names.lines, pens, ends, is_led, middles, strict=True):
        colour = "accent" if pen.colour == "accent" else "ink"
        symbol = (pen.shape, pen.colour) if marked else ("", "")
        label = Label(lines, (), size, STRONG, colour, (), symbol, target=end if led else None)
        chosen.append((label, (x, middle, "start")))
    return written(chosen)


# --- stretches of the abscissa ----------------------------------------------------------------------


class Stretch(Protocol):
    """A stretch of the abscissa that is named above the plot: a band of speeds, a setting within a run."""

    @property
    def low(self) -> float:
        """Where it begins."""

    @property
    def high(self) -> float:
        """Where it ends."""

    @property
    def words(self) -> str:
        """Its name."""


@dataclass(frozen=True)
class Sign:
    """The words of one stretch above the plot: where they begin, and on which lane from the plot up."""

    words: str
    left: float
    lane: int


def signs_of(stretches: Sequence[Stretch], page: Page, plane: Plane, left: float, right: float) -> list[Sign]:
    """Places for the words of stretches, centred above them and kept within `left` and `right`; none over another."""
    ends: list[float] = []
    signs = []
    for band in sorted(stretches, key=lambda each: each.low):
        words = wrapped(band.words, page.small, STRONG, right - left, 1)[0]
        wide = width(words, page.small, STRONG)
        middle = plane.across((band.low + band.high) / 2)
        start = max(left, min(middle - wide / 2, right - wide))
        lane = next((index for index, end in enumerate(ends) if end + page.small <= start), len(ends))
        ends[lane:] = [start + wide, *ends[lane + 1 :]]
        signs.append(Sign(words, start, lane))
    return signs


def lanes_of(signs: Sequence[Sign]) -> int:
    """How many lanes the words of stretches take."""
    return 1 + max((each.lane for each in signs), default=-1)


def written_signs(
    signs: Sequence[Sign],
    stretches: Sequence[Stretch],
    page: Page,
    plane: Plane,
    *,
    ink: str = "warn",
    edge: str = "warn",
) -> str:
    """The words of stretches above the plot in the colour `ink`, with a line of their width between."""
    size, out = page.small, ""
    for sign, band in zip(signs, sorted(stretches, key=lambda each: each.low), strict=True):
        base = -(0.55 + LANE * sign.lane) * size
        out += marks.text(sign.words, sign.left, base, size, weight=STRONG, colour=ink)
        low, high = (plane.across(min(max(end, plane.x.low), plane.x.high)) for end in (band.low, band.high))
        out += marks.rule(low, -0.2 * size, high, -0.2 * size, colour=edge, thick=0.16 * size)
    return out


def fitted(words: str, page: Page, room: float) -> str:
    """Words in one line, cut with an ellipsis where the room ends."""
    return wrapped(words, page.small, REGULAR, room, 1)[0]
