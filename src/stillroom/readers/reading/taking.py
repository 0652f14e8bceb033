"""Rows that belong to a table, turned into numbers in SI, nozzles and texts, column by column."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from stillroom.errors import BadInput
from stillroom.readers.grids.grid import Grid, Row
from stillroom.readers.grids.starts import LeftOut
from stillroom.readers.layout import Layout
from stillroom.readers.reading.bulk import Run
from stillroom.readers.reading.gathering import Gathering, Texts
from stillroom.readers.reading.strict import check_left, may_be_missing, no_number, number_cells
from stillroom.readers.words.absent import absence, log_absence
from stillroom.readers.words.bands import hertz_cells
from stillroom.readers.words.control import is_open
from stillroom.readers.words.dates import clock, is_clock, iso
from stillroom.readers.words.headers import DATE, NOZZLES, TIME
from stillroom.readers.words.nozzle_cells import parse_nozzles
from stillroom.readers.words.numbers import Array, parse_numbers
from stillroom.vocabulary import unit

ABSENT = "reading left out:"
"""How the reason begins for a reading with a cell that says that it wasn't taken."""


def take(grid: Grid, layout: Layout, chunk: list[Row], gathered: Gathering) -> None:
    """Turn a chunk of rows into numbers, column by column."""
    chunk, numbers = _numbers(grid, layout, chunk, gathered)
    gathered.read += len(chunk)
    gathered.lines.extend(row.line for row in chunk)
    for quantity, values in numbers.items():
        gathered.numbers.setdefault(quantity, []).append(values)
    for index, column in enumerate(layout.columns):
        if column.left:
            check_left(grid, layout, chunk, index)
        if not column.quantity or column.unit:
            continue
        cells = [row.cells[index] for row in chunk]
        if column.quantity == NOZZLES:
            for row, cell in zip(chunk, cells, strict=True):
                if cell not in gathered.patterns:
                    place = grid.place(row.line, index + 1)
                    gathered.patterns[cell] = parse_nozzles(cell, place)
                gathered.nozzles.add([gathered.patterns[cell]])
        else:
            gathered.texts.setdefault(column.quantity, Texts()).add(
                texts_of(grid, layout, cells, (row.line for row in chunk), index)
            )


def take_run(grid: Grid, layout: Layout, run: Run, gathered: Gathering) -> None:
    """Take readings that were parsed together; what isn't a number in them is read as `take` reads it."""
    gathered.read += len(run)
    gathered.lines.frombytes(np.arange(run.first, run.first + len(run), dtype=np.int64).tobytes())
    for quantity, values in run.columns.items():
        gathered.numbers.setdefault(quantity, []).append(values)
    for index, column in enumerate(layout.columns):
        if column.quantity == NOZZLES:
            cells, codes = run.kinds[index]
            for code, cell in enumerate(cells):
                if cell not in gathered.patterns:
                    line = run.first + int(np.argmax(codes == code))
                    gathered.patterns[cell] = parse_nozzles(cell, grid.place(line, index + 1))
            gathered.nozzles.add_coded([gathered.patterns[cell] for cell in cells], codes)
        elif column.quantity and not column.unit:
            gathered.texts.setdefault(column.quantity, Texts()).add(run.texts(index))


def _numbers(
    grid: Grid, layout: Layout, chunk: list[Row], gathered: Gathering
) -> tuple[list[Row], dict[str, Array]]:
    """The rows whose cells are all numbers, and the numbers [SI]; readings that weren't taken are left out."""
    numbers: dict[str, Array] = {}
    for index, column in enumerate(layout.columns):
        if not column.unit or not column.quantity:
            continue
        known = unit(column.unit)
        values, bad = _values(grid, layout, chunk, index)
        if bad >= 0:
            if not absence(chunk[bad].cells[index]):
                raise no_number(grid, layout, chunk[bad], index)
            return _numbers(grid, layout, _without_absent(layout, chunk, gathered), gathered)
        numbers[column.quantity] = values * known.factor + known.offset
    return chunk, numbers


def _values(grid: Grid, layout: Layout, chunk: list[Row], index: int) -> tuple[Array, int]:
    """The numbers of a column in its own unit, and the first row whose cell is none, or -1."""
    column = layout.columns[index]
    if column.quantity == "frequency" and column.unit == "Hz":
        return parse_numbers(hertz_cells([row.cells[index] for row in chunk], layout.thousands))
    may_lack = column.quantity in may_be_missing(layout)
    cells = number_cells(grid, chunk, index, column, may_lack=may_lack)
    if may_lack:
        return _some_numbers(cells, layout)
    return parse_numbers(cells, layout.decimal, layout.thousands)


def _some_numbers(cells: list[str], layout: Layout) -> tuple[Array, int]:
    """The numbers of cells that may be empty or say that nothing was read: NaN there."""
    if layout.is_log:
        there = [i for i, cell in enumerate(cells) if cell.strip() and not _is_absent(cell)]
    else:
        there = [
            i for i, cell in enumerate(cells) if cell.strip() and not absence(cell) and not is_open(cell)
        ]
    if len(there) == len(cells):
        return parse_numbers(cells, layout.decimal, layout.thousands)
    found, bad = parse_numbers([cells[i] for i in there], layout.decimal, layout.thousands)
    values = np.full(len(cells), np.nan)
    values[there[: len(found)]] = found
    return values, there[bad] if bad >= 0 else -1


_FIRSTS = frozenset("0123456789+.,")


def _is_absent(cell: str) -> bool:
    """Whether a cell of a log says that there is no value."""
    if cell[:1] in _FIRSTS:
        return False
    return bool(absence(cell) or log_absence(cell)) or is_open(cell)


def _without_absent(layout: Layout, chunk: list[Row], gathered: Gathering) -> list[Row]:
    """The rows without a mark that a reading wasn't taken; the others are noted with the mark."""
    kept = []
    optional = may_be_missing(layout)
    measured = [
        (i, each)
        for i, each in enumerate(layout.columns)
        if each.unit and each.quantity and each.quantity not in optional
    ]
    for row in chunk:
        hit = next(((each, row.cells[i]) for i, each in measured if absence(row.cells[i])), None)
        if hit is None:
            kept.append(row)
            continue
        column, cell = hit
        why = f"{ABSENT} {column.header!r} {absence(cell)} ({cell.strip()!r})"
        gathered.left_out.append(LeftOut(row.line, why))
        gathered.absent += 1
    return kept


def texts_of(grid: Grid, layout: Layout, cells: Iterable[str], lines: Iterable[int], index: int) -> list[str]:
    """The texts of a column; times of the day and dates in ISO 8601, where the layout knows their order."""
    column = layout.columns[index]
    if column.quantity not in {TIME, DATE} or layout.is_log:  # a log's times are read as a whole
        return [cell.strip() for cell in cells]
    texts = []
    for cell, line in zip(map(str.strip, cells), lines, strict=True):
        try:
            texts.append(clock(cell) if is_clock(cell) else iso(cell, layout.date_order))
        except ValueError:
            order = "-".join(layout.date_order)
            raise BadInput(
                f"column {column.header!r}",
                place=grid.place(line, index + 1),
                found=repr(cell[:80]),
                expected=f"a date in the order {order}" if order else "a time of the day",
            ) from None
    return texts
