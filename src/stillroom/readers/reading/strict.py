"""Strictness of reading by a layout: the header, the units, the cells of a row and what was left out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from stillroom.errors import BadInput, Contradiction, UnreadableFile
from stillroom.readers.grids.grid import Grid, Row
from stillroom.readers.grids.locating import is_numberlike
from stillroom.readers.grids.splitting import BLANKS
from stillroom.readers.grids.starts import LeftOut, Start, names_of
from stillroom.readers.layout import EMPTY, Column, Layout
from stillroom.readers.reading.twins import last_digit, same_values
from stillroom.readers.words.absent import absence, log_absence
from stillroom.readers.words.control import is_open
from stillroom.readers.words.headers import TIME
from stillroom.readers.words.kinds import may_be_control
from stillroom.readers.words.marks import Marks
from stillroom.readers.words.numbers import part_unit
from stillroom.vocabulary import is_unit, unit

MAY_BE_MISSING = frozenset({"background_level", "c_level", "distance"})
"""Quantities of sound that a reading may be without: the level stands all the same."""

MISSING_IN_CONTROL = frozenset(
    {
        *("duty", "voltage", "speed", "optical_speed", "current", "pwm_frequency"),
        *("rest_time", "reached_speed", "peak_current"),
    }
)
"""Quantities that a step of a control test may be without: no duty is told of an open control wire."""


def may_be_missing(layout: Layout) -> frozenset[str]:
    """The quantities that a reading may be without, in a table of such columns: in a log all but the time."""
    if layout.is_log:
        return frozenset(layout.units) - {TIME}
    return MAY_BE_MISSING | MISSING_IN_CONTROL if may_be_control(layout.headers) else MAY_BE_MISSING


def find(grid: Grid, layout: Layout, walk: Iterator[Start | Row | LeftOut]) -> Start:
    """Go on to the layout's table; its header and units have to be as the layout says.

    Raises
    ------
    UnreadableFile : there is no such table, or its header differs.
    Contradiction : its row of units differs.
    """
    wanted = [column.header for column in layout.columns]
    last: Start | None = None
    for each in walk:
        if not isinstance(each, Start):
            continue
        last = each
        same = names_of(each.header.cells) == wanted
        if each.number == layout.block or (layout.block == 0 and same):
            if not same:
                break
            _check_units(grid, layout, each)
            return each
    if last is not None and last.number < layout.block:
        raise UnreadableFile(
            "table",
            place=grid.place(),
            found=f"{last.number} of them",
            expected=f"table {layout.block}, as in the layout",
        )
    raise _other_header(grid, wanted, last.header if last else _first_full(grid))


def _first_full(grid: Grid) -> Row:
    return next((row for row in grid.head if not row.comment), Row(0, []))


def _other_header(grid: Grid, wanted: Sequence[str], row: Row) -> UnreadableFile:
    found = names_of(row.cells)
    pairs = enumerate(zip(found, wanted, strict=False))
    column = next((i for i, (one, other) in pairs if one != other), -1)
    differs = column >= 0
    return UnreadableFile(
        "header",
        place=grid.place(row.line, column + 1),
        found=repr(found[column]) if differs else f"{len(found)} columns",
        expected=f"{wanted[column]!r} as in the layout" if differs else f"the layout's {len(wanted)} columns",
    )


def _check_units(grid: Grid, layout: Layout, start: Start) -> None:
    row = start.units
    if (row is not None) != layout.unit_row:
        raise UnreadableFile(
            "row of units",
            place=grid.place(start.header.line),
            found="one" if row else "none",
            expected="one under the header, as in the layout" if layout.unit_row else "none as in the layout",
        )
    cells = [cell.strip() for cell in row.cells] if row else []
    cells += [""] * (len(layout.columns) - len(cells))
    for number, (cell, column) in enumerate(zip(cells, layout.columns, strict=False), 1):
        if cell != column.stated:
            raise Contradiction(
                f"unit of column {column.header!r}",
                place=grid.place(row.line if row else start.header.line, number),
                found=repr(cell),
                expected=f"{column.stated!r} as in the layout",
            )


def shape(grid: Grid, layout: Layout, rows: Iterable[Row], remarks: dict[int, str]) -> Iterator[Row]:
    """The rows, each with as many cells as there are columns.

    A row may be short by cells of columns that are left out, and long by empty cells or by one of words
    (which goes to `remarks`). It may not be short where the cells that it lacks are numbers in other rows: a cell
    may be missing further left. Where blanks part the columns it may be neither: a cell that is missing in the
    middle would shift all that follow.

    Raises
    ------
    BadInput : a row is short or long otherwise, or the last one seems to be cut.
    """
    width = len(layout.columns)
    needed = max((i + 1 for i, each in enumerate(layout.columns) if each.quantity), default=width)
    short = 0
    whole = 0
    last: Row | None = None
    shortest: Row | None = None
    numbers = needed  # so many columns, counted from the left, have held numbers or are read
    for row in rows:
        if numbers < width:
            numbers = _last_number(row.cells[:width], numbers)
        count = len(row.cells)
        last = row
        if count == width:
            whole += 1
            yield row
        elif layout.delimiter == BLANKS:
            raise _wrong_width(grid, row, width)
        elif needed <= count < width:
            short += 1
            shortest = row if shortest is None or count < len(shortest.cells) else shortest
            yield Row(row.line, row.cells + [""] * (width - count))
        elif count < needed:
            raise _wrong_width(grid, row, width)
        else:
            beyond = [cell.strip() for cell in row.cells[width:] if cell.strip()]
            if len(beyond) > 1 or (beyond and is_numberlike(beyond[0])):
                raise _wrong_width(grid, row, width)
            if beyond:
                remarks[row.line] = beyond[0]
            yield Row(row.line, row.cells[:width])
    if shortest is not None and len(shortest.cells) < numbers:
        raise _wrong_width(grid, shortest, width)
    if last is not None and not grid.ended:
        _check_end(grid, layout, last, only_short=len(last.cells) < width and short == 1 and whole > 0)


def _last_number(cells: Sequence[str], begin: int) -> int:
    """The number of the last column from `begin` on that holds a number in a row, or `begin`."""
    found = (i + 1 for i in range(len(cells) - 1, begin - 1, -1) if is_numberlike(cells[i].strip()))
    return next(found, begin)


def _wrong_width(grid: Grid, row: Row, width: int) -> BadInput:
    return BadInput(
        "cells of a row",
        place=grid.place(row.line),
        found=f"{len(row.cells)} of them",
        expected=f"{width}, as many as the header has",
    )


def _check_end(grid: Grid, layout: Layout, row: Row, *, only_short: bool) -> None:
    """Refuse a last line that seems to be cut: no line end, and shorter than all lines before it.

    Raises
    ------
    BadInput : says what the line is short of.
    """
    last = len(row.cells) - 1
    others = [each for each in grid.small or () if each.line < row.line and len(each.cells) == len(row.cells)]
    before = [each.cells[last].strip() for each in others[-8:] if is_numberlike(each.cells[last].strip())]
    cell = row.cells[last].strip()
    steps = {last_digit(each, layout.decimal) for each in before}
    fewer = (
        len(before) >= 3
        and len(steps) == 1
        and is_numberlike(cell)
        and last_digit(cell, layout.decimal) > steps.pop()
    )
    if only_short or fewer:
        found = (
            f"{len(row.cells)} cells" if only_short else f"{cell!r} with fewer digits than all lines before"
        )
        raise BadInput(
            "last line",
            place=grid.place(row.line, last + 1),
            found=f"{found}, and no line end",
            expected="a whole line: the file seems to be cut",
        )


def number_cells(
    grid: Grid, chunk: Sequence[Row], index: int, column: Column, *, may_lack: bool = False
) -> list[str]:
    """The cells of a column as the texts of their numbers; where the cells carry the unit, it must be it.

    Parameters
    ----------
    may_lack : whether a reading may be without it.

    Raises
    ------
    BadInput : a cell lacks the unit.
    Contradiction : a cell carries another.
    """
    cells = [row.cells[index] for row in chunk]
    if not column.in_cells:
        return cells
    texts = []
    for row, cell in zip(chunk, cells, strict=True):
        if may_lack and (not cell.strip() or is_open(cell) or log_absence(cell)):
            texts.append(cell)
            continue
        text, words = part_unit(cell)
        if not absence(cell) and not (is_unit(words) and unit(words) == unit(column.unit)):
            kind = Contradiction if words else BadInput
            raise kind(
                f"column {column.header!r}",
                place=grid.place(row.line, index + 1),
                found=repr(cell[:80]) if cell.strip() else "an empty cell",
                expected=f"a number with its unit {column.unit}, as in the other cells",
            )
        texts.append(text)
    return texts


def no_number(grid: Grid, layout: Layout, row: Row, index: int) -> BadInput:
    """The error for a cell that is no number."""
    column = layout.columns[index]
    cell = row.cells[index]
    mark = "comma" if layout.decimal == "," else "point"
    hint = f" (or --as 'column:{column.header}=none' to leave the column out)" if not cell.strip() else ""
    return BadInput(
        f"column {column.header!r}",
        place=grid.place(row.line, index + 1),
        found=repr(cell[:80]) if cell.strip() else "an empty cell",
        expected=f"a finite number with decimal {mark}, in {column.unit}{hint}",
    )


def check_left(grid: Grid, layout: Layout, chunk: Sequence[Row], index: int) -> None:
    """Hold a column that is left out to its reason: still empty, or still the same as its twin.

    Raises
    ------
    BadInput : a cell of an empty column holds something.
    Contradiction : a cell differs from its twin.
    """
    column = layout.columns[index]
    cells = [row.cells[index] for row in chunk]
    if column.left == EMPTY:
        bad = next((i for i, cell in enumerate(cells) if cell.strip() and not absence(cell)), -1)
        if bad >= 0:
            raise BadInput(
                f"column {column.header!r}",
                place=grid.place(chunk[bad].line, index + 1),
                found=repr(cells[bad][:80]),
                expected="an empty cell, as in the layout; or understand the file anew",
            )
        return
    twin = column.twin
    other = [row.cells[twin] for row in chunk]
    if column.unit:
        marks = Marks(layout.decimal, layout.thousands)
        bad = same_values(other, layout.columns[twin].unit, cells, column.unit, marks)
    else:
        bad = next(
            (i for i, (a, b) in enumerate(zip(other, cells, strict=True)) if a.strip() != b.strip()), -1
        )
    if bad >= 0:
        raise Contradiction(
            f"columns {twin + 1} and {index + 1} ({column.header!r})",
            place=grid.place(chunk[bad].line, index + 1),
            found=f"{other[bad].strip()!r} and {cells[bad].strip()!r}",
            expected="the same value twice, as in the layout",
        )
