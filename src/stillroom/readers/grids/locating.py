"""Where the parts of a table are: the lines before it, its header, its row of units, its data."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from stillroom.errors import BadInput
from stillroom.readers.grids.grid import Grid, Row
from stillroom.readers.words.headers import DATE, TIME, quantities_for, split_header, text_column_for
from stillroom.readers.words.marks import APOSTROPHES, BLANK_MARKS
from stillroom.readers.words.numbers import part_unit
from stillroom.vocabulary import is_unit

_NUMBERLIKE = re.compile(
    rf"[+\-−–]?[\d.,]*\d[\d.,]*(?:[{APOSTROPHES}{BLANK_MARKS}]\d{{3}})*(?:[.,]\d+)?(?:[eE][+\-]?\d+)?"
)
_LONGEST = 64


@dataclass(frozen=True)
class Located:
    """Where the parts of a table are: its header, its row of units, the lines before, the first data."""

    header: Row
    units: Row | None
    preamble: tuple[Row, ...]
    data: tuple[Row, ...]


def locate(grid: Grid) -> Located:
    """Find the header of a grid: the first full row after comments and "key: value" lines.

    Raises
    ------
    BadInput : the first full row holds numbers, so there is no header.
    """
    rows = [row for row in grid.head if not row.comment]
    width = _usual_width(rows)
    start = next((place for place, row in enumerate(rows) if not _is_preamble(row, width)), 0)
    header = rows[start]
    numbers = [cell for cell in header.cells if is_numberlike(cell.strip())]
    if 2 * len(numbers) >= sum(1 for cell in header.cells if cell.strip()):
        raise BadInput(
            "header",
            place=grid.place(header.line),
            found=f"numbers ({numbers[0]}, …)",
            expected="a row of column names with units, such as 'flow [m³/h]'",
        )
    comments = tuple(row for row in grid.head if row.comment and row.line < header.line)
    data = tuple(rows[start + 1 :])
    units = data[0] if data and is_unit_row(header, data[0]) else None
    return Located(header, units, (*comments, *rows[:start]), data[1:] if units else data)


def locate_log(grid: Grid) -> Row | None:
    """The header of a log whose channels have names that tell nothing: words, a time among them, above a row of as many
    cells with numbers; None where there is none.
    """
    rows = [row for row in grid.head if not row.comment]
    for at, row in enumerate(rows):
        filled = [cell.strip() for cell in row.cells if cell.strip()]
        if (
            len(filled) < 2
            or any(is_numberlike(cell) for cell in filled)
            or not any(map(_tells_time, filled))
        ):
            continue
        below = next((each for each in rows[at + 1 : at + 3] if _has_number(each)), None)
        if below is not None and len(below.cells) == len(row.cells):
            return row
    return None


def _tells_time(cell: str) -> bool:
    name = split_header(cell).name
    return text_column_for(name) in {TIME, DATE} or any(each.name == TIME for each in quantities_for(name))


def _has_number(row: Row) -> bool:
    return any(is_numberlike(cell.strip()) for cell in row.cells)


def _usual_width(rows: Sequence[Row]) -> int:
    counts = Counter(sum(1 for cell in row.cells if cell.strip()) for row in rows)
    often = [count for count, times in counts.items() if times > 1]
    return max(often or counts)


def _is_preamble(row: Row, width: int) -> bool:
    filled = [cell for cell in row.cells if cell.strip()]
    return len(filled) < width and (len(filled) == 1 or ":" in filled[0] or "=" in filled[0])


def is_unit_row(header: Row, row: Row) -> bool:
    """Whether the row after the header states units: words that aren't numbers, some of them units."""
    filled = [
        (split_header(head), bare(cell))
        for head, cell in zip(header.cells, row.cells, strict=False)
        if cell.strip() and not text_column_for(head)
    ]
    measured = [(head, cell) for head, cell in filled if quantities_for(head.name)]
    cells = [cell for _, cell in measured or filled]
    if any((is_numberlike(cell) and cell != "1") or _carries_unit(cell) for cell in cells):
        return False
    some_unit = any(is_unit(cell) and cell not in {"1", "-"} for cell in cells)
    named = (split_header(head).name for head in header.cells if not text_column_for(head))
    if not any(quantities_for(each) for each in named):
        # A table of names: "A" or "m" may be a sample's, so every cell has to be a unit.
        return some_unit and all(is_unit(cell) for cell in cells)
    return bool(measured) and (some_unit or any(not head.unit and cell != "1" for head, cell in measured))


def _carries_unit(cell: str) -> bool:
    """Whether a cell is a reading with its unit ("12.3 Pa"), and no unit itself ("1/min")."""
    words = part_unit(cell)[1]
    return bool(words) and is_unit(words) and not is_unit(cell)


def bare(cell: str) -> str:
    """A unit row's cell without its brackets."""
    cell = cell.strip()
    return cell[1:-1].strip() if cell[:1] + cell[-1:] in {"[]", "()"} else cell


def is_numberlike(cell: str) -> bool:
    """Whether a cell without blanks around it looks like a number in some notation."""
    return len(cell) <= _LONGEST and _NUMBERLIKE.fullmatch(cell) is not None
