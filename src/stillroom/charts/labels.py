"""Where words go in a plot: each label tries a few places and takes the one that covers least."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from stillroom.charts import marks
from stillroom.charts.fonts import REGULAR, width
from stillroom.charts.palette import role

Point = tuple[float, float]
ON_WORDS, ON_LINE, OUTSIDE, LATER = 1000.0, 5.0, 3000.0, 0.6
CLEARANCE = 0.15


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
            self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom
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
    """Words that look for a place: `spots` are (x, y of the middle, anchor), the best liked first."""

    words: str
    spots: tuple[tuple[float, float, str], ...]
    size: float
    weight: int = REGULAR
    colour: str = "ink"

    def box(self, spot: tuple[float, float, str]) -> Box:
        """The rectangle that the words take at a spot."""
        return self._box(spot, width(self.words, self.size, self.weight))

    def boxes(self) -> list[Box]:
        """The rectangles at all spots."""
        wide = width(self.words, self.size, self.weight)
        return [self._box(spot, wide) for spot in self.spots]

    def _box(self, spot: tuple[float, float, str], wide: float) -> Box:
        left = spot[0] - {"start": 0.0, "middle": wide / 2, "end": wide}[spot[2]]
        return Box(left, spot[1] - 0.58 * self.size, left + wide, spot[1] + 0.58 * self.size)


def around(x: float, y: float, size: float, gap: float) -> tuple[tuple[float, float, str], ...]:
    """Spots around a dot: right above, right, left below, left, above, below, and further out."""
    spots: list[tuple[float, float, str]] = []
    for away in (gap, gap + 0.9 * size, gap + 2.0 * size):
        rise = 0.45 * size + 0.55 * away
        spots += [
            (x + away, y - rise, "start"), (x + away, y, "start"), (x - away, y + rise, "end"),
            (x + away, y + rise, "start"), (x - away, y, "end"), (x - away, y - rise, "end"),
            (x, y - away - 0.5 * size, "middle"), (x, y + away + 0.5 * size, "middle"),
        ]  # fmt: skip
    return tuple(spots)


def dense(line: Sequence[Point], spacing: float) -> list[Point]:
    """A line as points no further apart than `spacing`."""
    points = list(line[:1])
    for (x0, y0), (x1, y1) in zip(line, line[1:], strict=False):
        pieces = max(1, int(max(abs(x1 - x0), abs(y1 - y0)) / spacing) + 1)
        points += [(x0 + (x1 - x0) * k / pieces, y0 + (y1 - y0) * k / pieces) for k in range(1, pieces + 1)]
    return points


def placed(
    labels: Sequence[Label], lines: Sequence[Sequence[Point]], taken: Sequence[Box], page: Box, spacing: float
) -> list[tuple[Label, tuple[float, float, str]]]:
    """Give each label, in order, the spot that covers least of words, lines and the page's edge."""
    points = [point for line in lines for point in dense(line, spacing)]
    filled = list(taken)
    chosen = []
    for label in labels:
        tried = label.boxes()
        reach = _around(tried, label.size)
        near = [point for point in points if reach.holds(point)]
        costs = [_cost(box, order, label.size, near, filled, page) for order, box in enumerate(tried)]
        best = costs.index(min(costs))
        filled.append(tried[best])
        chosen.append((label, label.spots[best]))
    return chosen


def _around(boxes: Sequence[Box], size: float) -> Box:
    return Box(
        min(each.left for each in boxes) - size,
        min(each.top for each in boxes) - size,
        max(each.right for each in boxes) + size,
        max(each.bottom for each in boxes) + size,
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
    """The placed labels as SVG, each with a rim of paper around its letters."""
    out = ""
    for label, (x, y, anchor) in chosen:
        plain = marks.text(
            label.words, x, y + 0.35 * label.size, label.size, weight=label.weight, colour=label.colour, anchor=anchor
        )
        rim = (
            f'stroke="{role("paper")}" stroke-width="{marks.place(0.28 * label.size)}" '
            'stroke-linejoin="round" paint-order="stroke" '
        )
        out += plain.replace("<text ", f"<text {rim}", 1)
    return out
