"""A curve and points in letters, for a terminal at the rig: small, without colour, in any monospaced font."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from stillroom.wording import bare

WIDTH, HEIGHT = 60, 15
"""Letters across and down, axes included."""

POINT = "o"
DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
"""The bits of a braille letter, four rows of two."""

_BRAILLE = 0x2800

Line = Sequence[tuple[float, float]]


def text_plot(
    points: Line,
    line: Line,
    *,
    x_words: str,
    y_words: str,
    width: int = WIDTH,
    height: int = HEIGHT,
    pale: str = "",
) -> tuple[str, ...]:
    """Points over a line, as lines of text.

    Parameters
    ----------
    points : drawn as "o". line : drawn in fine dots beneath them; may be empty.
    x_words, y_words : what the axes show, with the unit. pale : what the line is, for the last line.
    width, height : letters across and down.
    """
    whole = [*points, *line]
    if not whole:
        return ()
    top_x = max(*(x for x, _ in whole), 0.0) or 1.0
    top_y = max(*(y for _, y in whole), 0.0) or 1.0
    margin = max(len(bare(top_y)), 1) + 1
    across, down = width - margin - 1, height - 3
    bits = [[0] * across for _ in range(down)]
    for x, y in _filled(line, 2 * across):
        column, row = _place(x / top_x, 2 * across), 4 * down - 1 - _place(y / top_y, 4 * down)
        bits[row // 4][column // 2] |= DOTS[row % 4][column % 2]
    letters = [[chr(_BRAILLE + each) if each else " " for each in row] for row in bits]
    for x, y in points:
        letters[down - 1 - _place(y / top_y, down)][_place(x / top_x, across)] = POINT
    marks = [bare(top_y), *[""] * (down - 2), "0"]
    drawn = [
        f"{mark:>{margin - 1}} |{''.join(row)}".rstrip() for mark, row in zip(marks, letters, strict=True)
    ]
    axis = " " * margin + "+" + "-" * across
    scale = f"{'':{margin}} 0{bare(top_x):>{across - 1}}"
    key = f"{y_words} against {x_words}: {POINT} read" + (f", dots {pale}" if line and pale else "")
    return (*drawn, axis, scale, key)


def _place(share: float, steps: int) -> int:
    return min(steps - 1, max(0, round(share * (steps - 1))))


def _filled(line: Line, steps: int) -> list[tuple[float, float]]:
    """A line with points close enough that no gap is seen."""
    filled: list[tuple[float, float]] = []
    for (x, y), (next_x, next_y) in pairwise(line):
        filled += [(x + (next_x - x) * k / steps, y + (next_y - y) * k / steps) for k in range(steps)]
    return filled + list(line[-1:])
