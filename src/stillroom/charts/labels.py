"""Where words go in a plot: each label tries a few places and takes the one that covers least."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from stillroom.charts import marks
from stillroom.charts.fonts import REGULAR, width
from stillroom.charts.palette import role

Point = tuple[float, float]
ON_WORDS, ON_LINE, OUTSIDE, LATER = 1000.0, 5.0, 3000.0, 0.6
AMBIGUOUS, CLEARANCE, LEADING = 25.0, 0.15, 1.2
LED = 1.1  # words this far from their point, in letter sizes, are led to it by a hairline


@dataclass(frozen=True)
class Box:
    """A rectangle in page units."""

    left: float
    top: float
    right: float
    bottom: float

    def overlaps(self, other: Box) -> bool:
        """Whether two rectangles share an area."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def holds(self, point: Point) -> bool:
        """Whether a point lies inside."""
        return self.left <= point[0] <= self.right and self.top <= point[1] <= self.bottom

    def covers(self, other: Box) -> bool:
        """Whether the other lies wholly inside."""
        return (
            self.left <= other.left
            and other.right <= self.right
            and self.top <= other.top
            and other.bottom <= self.bottom
        )


@dataclass(frozen=True)
class Label:
    """Words that look for a place.

    Parameters
    ----------
    lines : the words, set into lines.
    spots : (x, y of the middle, anchor), the best liked first.
    own : the line that the words belong to: they shall not stand nearer to another.
    symbol : (shape, colour) of the mark before the words that ties them to their dots; ("", "") for none.
    target : the point that the words speak of: a hairline leads there from words that stand away from it.
    """

    lines: tuple[str, ...]
    spots: tuple[tuple[float, float, str], ...]
    size: float
    weight: int = REGULAR
    colour: str = "ink"
    own: tuple[Point, ...] = ()
    symbol: tuple[str, str] = ("", "")
    target: Point | None = None

    @property
    def wide(self) -> float:
        """The width of the longest line, with the symbol before it."""
        return self.indent + max(width(each, self.size, self.weight) for each in self.lines)

    @property
    def indent(self) -> float:
        """The room that the symbol takes."""
        return 0.95 * self.size if self.symbol[0] else 0.0

    @property
    def half(self) -> float:
        """Half the height of all lines."""
        return (0.58 + (len(self.lines) - 1) * LEADING / 2) * self.size

    def boxes(self) -> list[Box]:
        """The rectangles that the words take at each spot."""
        wide, half = self.wide, self.half
        lefts = [x - {"start": 0.0, "middle": wide / 2, "end": wide}[anchor] for x, _, anchor in self.spots]
        return [
            Box(left, y - half, left + wide, y + half)
            for left, (_, y, _) in zip(lefts, self.spots, strict=True)
        ]


NEAR, FAR = (0.0, 1.8, 4.0), (0.0, 1.8, 4.0, 7.0, 11.0, 16.0)
"""How far words may stand from a dot, in half heights of them: near it, or as far as a hairline leads to them."""


def around(
    x: float, y: float, half: float, gap: float, rings: Sequence[float] = NEAR
) -> tuple[tuple[float, float, str], ...]:
    """Spots around a dot: right above, right, left below, left, above, below, and further out.

    `half` is half the height of the words, `gap` the clear distance from the dot.
    """
    spots: list[tuple[float, float, str]] = []
    for away in (gap + ring * half for ring in rings):
        rise = 0.9 * half + 0.55 * away
        spots += [
            (x + away, y - rise, "start"), (x + away, y, "start"), (x - away, y + rise, "end"),
            (x + away, y + rise, "start"), (x - away, y, "end"), (x - away, y - rise, "end"),
            (x, y - away - half, "middle"), (x, y + away + half, "middle"),
        ]  # fmt: skip
    return tuple(spots)


def beside(
    lines: Sequence[str], at: Point, size: float, gap: float, *, weight: int = REGULAR, colour: str = "ink"
) -> Label:
    """Words that stand near a mark, led to it by a hairline where they stand away; `gap` keeps them clear of it."""
    half = (0.5 + LEADING / 2 * (len(lines) - 1)) * size
    return Label(tuple(lines), around(*at, half, gap, FAR), size, weight, colour, target=at)


def dense(line: Sequence[Point], spacing: float) -> list[Point]:
    """A line as points no further apart than `spacing`."""
    points = list(line[:1])
    for (x0, y0), (x1, y1) in pairwise(line):
        pieces = max(1, int(max(abs(x1 - x0), abs(y1 - y0)) / spacing) + 1)
        points += [(x0 + (x1 - x0) * k / pieces, y0 + (y1 - y0) * k / pieces) for k in range(1, pieces + 1)]
    return points


def apart(
    wanted: Sequence[float],
    heights: Sequence[float],
    top: float,
    bottom: float,
    order: Sequence[int] | None = None,
) -> list[float]:
    """Middles of words in one column, each as near as may be to where it is wanted, none over another.

    Parameters
    ----------
    wanted : the middle wanted by each. heights : of each. top, bottom : of the column.
    order : the words from the top down; that of the wanted middles where none is given.

    Returns
    -------
    The middles, in the order given; the least sum of squared moves (pool adjacent violators), then shifted into
    the column. Words that need more than the column reach beyond its bottom.
    """
    order = order or sorted(range(len(wanted)), key=lambda index: wanted[index])
    offsets, used = {}, 0.0
    for index in order:
        offsets[index] = used + heights[index] / 2
        used += heights[index]
    blocks: list[tuple[float, int]] = []  # mean start and count of words that touch each other
    for index in order:
        blocks.append((wanted[index] - offsets[index], 1))
        while len(blocks) > 1 and blocks[-2][0] > blocks[-1][0]:
            (one, few), (other, more) = blocks[-2:]
            blocks[-2:] = [((one * few + other * more) / (few + more), few + more)]
    starts = [start for start, count in blocks for _ in range(count)]
    kept = [max(min(start, bottom - used), top) for start in starts]
    return [kept[order.index(index)] + offsets[index] for index in range(len(wanted))]


def led_from(
    ends: Sequence[Point], heights: Sequence[float], x: float, top: float, bottom: float
) -> list[float]:
    """Middles of words in a column at x, so that the lines that lead to them from `ends` don't cross each other.

    Parameters
    ----------
    ends : left of the column. heights : of the words. top, bottom : of the column.
    """
    wanted = [y for _, y in ends]
    order = sorted(range(len(ends)), key=lambda index: wanted[index])
    middles = apart(wanted, heights, top, bottom, order)
    for _ in range(len(ends) ** 2):
        pairs = ((one, other) for place, one in enumerate(order) for other in order[place + 1 :])
        crossing = next((pair for pair in pairs if _cross(ends, middles, x, *pair)), None)
        if crossing is None:
            break
        one, other = map(order.index, crossing)
        order[one], order[other] = order[other], order[one]
        middles = apart(wanted, heights, top, bottom, order)
    return middles


def _cross(ends: Sequence[Point], middles: Sequence[float], x: float, upper: int, lower: int) -> bool:
    """Whether the line that leads to the upper words runs beneath the other where both have begun."""
    at = max(ends[upper][0], ends[lower][0])
    one, other = (
        y0 + (middles[index] - y0) * (at - x0) / (x - x0)
        for index, (x0, y0) in ((upper, ends[upper]), (lower, ends[lower]))
    )
    return one > other + 1e-6


def placed(
    labels: Sequence[Label], lines: Sequence[Sequence[Point]], taken: Sequence[Box], page: Box, spacing: float
) -> list[tuple[Label, tuple[float, float, str]]]:
    """Give each label, in order, the spot that covers least of words, lines and the page's edge."""
    sampled = [dense(line, spacing) for line in lines]
    filled = list(taken)
    chosen = []
    for label in labels:
        tried = label.boxes()
        reach = _around(tried, label.size)
        near = [[point for point in line if reach.holds(point)] for line in sampled]
        every = [point for line in near for point in line]
        costs = [_cost(box, order, label.size, every, filled, page) for order, box in enumerate(tried)]
        if label.own:
            own = dense(label.own, spacing)
            other = [
                point
                for line, whole in zip(near, lines, strict=True)
                if tuple(whole) != label.own
                for point in line
            ]
            costs = [
                cost + (AMBIGUOUS if other and _gap(box, other) < 1.2 * _gap(box, own) else 0.0)
                for cost, box in zip(costs, tried, strict=True)
            ]
        best = costs.index(min(costs))
        filled.append(tried[best])
        chosen.append((label, label.spots[best]))
    return chosen


def clear(
    chosen: Sequence[tuple[Label, tuple[float, float, str]]],
) -> list[tuple[Label, tuple[float, float, str]]]:
    """Those of placed labels that lie over none before them: what has no room is left to the table."""
    kept: list[tuple[Label, tuple[float, float, str]]] = []
    filled: list[Box] = []
    for label, spot in chosen:
        box = label.boxes()[label.spots.index(spot)]
        if not any(box.overlaps(each) for each in filled):
            kept.append((label, spot))
            filled.append(box)
    return kept


def _around(boxes: Sequence[Box], size: float) -> Box:
    return Box(
        min(each.left for each in boxes) - size,
        min(each.top for each in boxes) - size,
        max(each.right for each in boxes) + size,
        max(each.bottom for each in boxes) + size,
    )


def _gap(box: Box, points: Sequence[Point]) -> float:
    """The distance from a rectangle to the nearest of the points."""
    return min(
        math.hypot(max(box.left - x, 0.0, x - box.right), max(box.top - y, 0.0, y - box.bottom))
        for x, y in points
    )


def _cost(
    box: Box, order: int, size: float, points: Sequence[Point], filled: Sequence[Box], page: Box
) -> float:
    clear = CLEARANCE * size
    wider = Box(box.left - 2 * clear, box.top - clear, box.right + 2 * clear, box.bottom + clear)
    return (
        LATER * order
        + ON_LINE * sum(box.holds(point) for point in points)
        + sum(wider.holds(point) for point in points)
        + ON_WORDS * sum(box.overlaps(each) for each in filled)
        + (0.0 if page.covers(box) else OUTSIDE)
    )


def written(chosen: Sequence[tuple[Label, tuple[float, float, str]]]) -> str:
    """The placed labels as SVG, each with a rim of paper around its letters; leaders lie beneath all words."""
    leaders = "".join(_leader(label, spot) for label, spot in chosen)
    return leaders + "".join(_words(label, spot) for label, spot in chosen)


def _left(label: Label, spot: tuple[float, float, str]) -> float:
    return spot[0] - {"start": 0.0, "middle": label.wide / 2, "end": label.wide}[spot[2]]


def _leader(label: Label, spot: tuple[float, float, str]) -> str:
    """A hairline from the nearest edge of the words to what they speak of, where they stand away from it."""
    if label.target is None:
        return ""
    left, y = _left(label, spot), spot[1]
    at = (
        min(max(label.target[0], left), left + label.wide),
        min(max(label.target[1], y - 0.8 * label.half), y + 0.8 * label.half),
    )
    if math.dist(at, label.target) < LED * label.size:
        return ""
    return marks.rule(*at, *label.target, colour="axis", thick=0.06 * label.size)


def _words(label: Label, spot: tuple[float, float, str]) -> str:
    x, y, anchor = spot
    first = y + 0.35 * label.size - (len(label.lines) - 1) * LEADING / 2 * label.size
    rim = (
        f'stroke="{role("paper")}" stroke-width="{marks.place(0.28 * label.size)}" '
        'stroke-linejoin="round" paint-order="stroke" '
    )
    out = ""
    if label.symbol[0]:
        left = _left(label, spot)
        out = marks.symbol(label.symbol[0], left + 0.36 * label.size, y, 0.34 * label.size, label.symbol[1])
        x, anchor = left + label.indent, "start"
    for index, words in enumerate(label.lines):
        line = marks.text(
            words,
            x,
            first + index * LEADING * label.size,
            label.size,
            weight=label.weight,
            colour=label.colour,
            anchor=anchor,
        )
        out += line.replace("<text ", f"<text {rim}", 1)
    return out
