"""Merged cells of a sheet: a header or a setting counts for all cells that it spans, a title doesn't."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from stillroom.readers.words.numbers import parse_number
from stillroom.vocabulary import is_unit

SheetRow = tuple[int, list[str]]


@dataclass(frozen=True)
class Span:
    """The rectangle of a merged cell: first and last row and column, from 1, both included."""

    top: int
    bottom: int
    left: int
    right: int


def spread(rows: Iterator[SheetRow], spans: Sequence[Span]) -> Iterator[SheetRow]:
    """Rows in which merged cells stand wherever they count.

    - In a row that holds a number, a merged cell stands in each cell that it spans (a setting beside its
      readings).
    - In a row without numbers, a merged cell stands in each column that it spans, unless it is the row's only
      cell (a title), or a heading over several column names: then the heading's row is left blank, and
      names that are merged downward stand beside the others.
    """
    if not spans:
        yield from rows
        return
    values: dict[Span, str] = {}
    before: SheetRow | None = None
    for number, read in rows:
        cells = read
        here = [span for span in spans if span.top <= number <= span.bottom]
        for span in here:
            if span.top == number:
                values[span] = _at(cells, span.left)
        if before is not None:
            heading = _is_heading(before, (number, cells), spans)
            yield (before[0], []) if heading else before
            if heading:
                cells = _filled(read, [span for span in here if span.top < number], values)
        before = (number, _spread_row(number, cells, here, values))
    if before is not None:
        yield before


def _spread_row(number: int, cells: list[str], here: Sequence[Span], values: dict[Span, str]) -> list[str]:
    if any(_is_number(cell) for cell in cells):
        return _filled(cells, here, values)
    if sum(1 for cell in cells if cell.strip()) > 1:
        return _filled(cells, [span for span in here if span.top == number], values)
    return cells


def _filled(cells: list[str], spans: Sequence[Span], values: dict[Span, str]) -> list[str]:
    """The cells with each span's value in those of its columns that hold nothing."""
    filled = list(cells)
    for span in spans:
        value = values.get(span, "")
        if value:
            filled += [""] * (span.right - len(filled))
            for column in range(span.left - 1, span.right):
                filled[column] = filled[column] or value
    return filled


def _is_heading(before: SheetRow, row: SheetRow, spans: Sequence[Span]) -> bool:
    """Whether a row holds headings over the column names of the next row (no units, no numbers)."""
    number, cells = row
    over = [span for span in spans if span.top == span.bottom == before[0] and span.right > span.left]
    if number != before[0] + 1 or any(_is_number(cell) for cell in (*before[1], *cells)):
        return False
    for span in over:
        below = [_at(cells, column).strip() for column in range(span.left, span.right + 1)]
        if all(below) and not any(is_unit(name.strip("[]()")) for name in below):
            return sum(1 for cell in before[1] if cell.strip()) > span.right - span.left + 1
    return False


def _at(cells: Sequence[str], column: int) -> str:
    return cells[column - 1] if column <= len(cells) else ""


def _is_number(cell: str) -> bool:
    try:
        parse_number(cell)
    except ValueError:
        return False
    return True
