"""Tables with a column for each band: a row is all that was measured at once, and becomes as many readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from stillroom.errors import BadInput, Contradiction, UnreadableFile
from stillroom.readers.grids import lines as words
from stillroom.readers.grids.grid import Grid, Row
from stillroom.readers.grids.locating import bare, is_numberlike
from stillroom.readers.grids.starts import BLANK, FOOTER, LeftOut, names_of
from stillroom.readers.layout import Column, Layout
from stillroom.readers.reading.strict import no_number, number_cells
from stillroom.readers.reading.taking import texts_of
from stillroom.readers.words.absent import absence
from stillroom.readers.words.numbers import Array, parse_numbers
from stillroom.vocabulary import unit


@dataclass
class WideRead:
    """The readings of a wide table, one for each row and band.

    Parameters
    ----------
    columns : {quantity: values (readings,) [SI]}, frequency and band level among them.
    texts : {text column: text of each reading}. lines : of each reading. left_out : lines that are no rows of it.
    notes : the "key: value" lines above it.
    """

    columns: dict[str, Array] = field(default_factory=dict)
    texts: dict[str, tuple[str, ...]] = field(default_factory=dict)
    lines: tuple[int, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    notes: dict[str, str] = field(default_factory=dict)


def read_wide(grid: Grid, layout: Layout) -> WideRead:
    """Read a table with a column for each band, strictly by its layout.

    Raises
    ------
    UnreadableFile : there is no such header. Contradiction : its row of units differs.
    BadInput : a row is short or long, or a cell is no number.
    """
    rows = list(grid.rows())
    start = _start(grid, layout, rows)
    above = [row.cells for row in rows[: start[0]] if not row.blank]
    kept, left_out = _sorted(grid, layout, rows[start[1] :])
    if not kept:
        raise UnreadableFile(
            "table", place=grid.source.name, found="no readings under the header", expected="one"
        )
    found = _melted(grid, layout, kept)
    found.left_out, found.notes = tuple(left_out), words.notes_of(above)
    return found


def has_header(grid: Grid, layout: Layout) -> bool:
    """Whether the grid has the header of a wide layout."""
    wanted = [each.header for each in layout.columns]
    return any(names_of(row.cells) == wanted for row in grid.head)


def _start(grid: Grid, layout: Layout, rows: Sequence[Row]) -> tuple[int, int]:
    """Where the header stands, and where the rows under it begin."""
    wanted = [each.header for each in layout.columns]
    at = next((i for i, row in enumerate(rows) if names_of(row.cells) == wanted), -1)
    if at < 0:
        found = "no such header"
        raise UnreadableFile("header", place=grid.place(), found=found, expected=", ".join(wanted[:8]) + " …")
    if not layout.unit_row:
        return at, at + 1
    units = next((i for i in range(at + 1, len(rows)) if not rows[i].blank), at + 1)
    stated = [bare(cell) for cell in rows[units].cells] if units < len(rows) else []
    stated += [""] * (len(wanted) - len(stated))
    for number, (cell, column) in enumerate(zip(stated, layout.columns, strict=False), 1):
        if cell != bare(column.stated):
            raise Contradiction(
                f"unit of column {column.header!r}",
                place=grid.place(rows[at].line + 1, number),
                found=repr(cell),
                expected=f"{column.stated!r} as in the layout",
            )
    return at, units + 1


def _sorted(grid: Grid, layout: Layout, rows: Sequence[Row]) -> tuple[list[Row], list[LeftOut]]:
    """The rows that are readings, as wide as the header, and the lines that are none."""
    kept: list[Row] = []
    left_out: list[LeftOut] = []
    width = len(layout.columns)
    needed = max(i + 1 for i, each in enumerate(layout.columns) if each.quantity)
    for row in rows:
        some = [cell for cell in row.cells if cell.strip()]
        if not some:
            left_out.append(LeftOut(row.line, BLANK))
        elif row.comment:
            left_out.append(LeftOut(row.line, "comment"))
        elif words.is_footer(some[0].strip()):
            left_out.append(LeftOut(row.line, f"{FOOTER} {some[0].strip()!r}"))
        elif len(row.cells) < needed or any(cell.strip() for cell in row.cells[width:]):
            raise BadInput(
                "cells of a row",
                place=grid.place(row.line),
                found=f"{len(row.cells)} of them",
                expected=f"{width}, as many as the header has",
            )
        else:
            kept.append(Row(row.line, [*row.cells[:width], *[""] * (width - len(row.cells))]))
    while left_out and left_out[-1].why == BLANK and kept and left_out[-1].line > kept[-1].line:
        left_out.pop()
    if kept and not grid.ended and not is_numberlike(kept[-1].cells[needed - 1].strip()):
        raise BadInput(
            "last line", place=grid.place(kept[-1].line), found="no line end", expected="a whole line"
        )
    return kept, left_out


def _melted(grid: Grid, layout: Layout, rows: list[Row]) -> WideRead:
    bands = [(i, each) for i, each in enumerate(layout.columns) if each.band]
    levels = np.column_stack([_numbers(grid, layout, rows, i, each) for i, each in bands])
    there = np.isfinite(levels)
    empty = np.flatnonzero(~there.any(axis=1))
    if empty.size:
        raise BadInput(
            "row of bands",
            place=grid.place(rows[int(empty[0])].line),
            found="no level at all",
            expected="levels",
        )
    at, band = np.nonzero(there)
    columns = {"frequency": np.array([each.band for _, each in bands])[band], "band_level": levels[at, band]}
    texts: dict[str, tuple[str, ...]] = {}
    for i, each in enumerate(layout.columns):
        if each.band or not each.quantity:
            continue
        if each.unit:
            columns[each.quantity] = _numbers(grid, layout, rows, i, each)[at]
        else:
            own = texts_of(grid, layout, [row.cells[i] for row in rows], [row.line for row in rows], i)
            texts[each.quantity] = tuple(own[k] for k in at)
    return WideRead(columns, texts, tuple(rows[k].line for k in at))


def _numbers(grid: Grid, layout: Layout, rows: list[Row], index: int, column: Column) -> Array:
    """The numbers of a column [SI], NaN in cells that are empty or say that nothing was read."""
    cells = number_cells(grid, rows, index, column) if not column.band else [row.cells[index] for row in rows]
    there = [i for i, cell in enumerate(cells) if cell.strip() and not absence(cell)]
    found, bad = parse_numbers([cells[i] for i in there], layout.decimal, layout.thousands)
    if bad >= 0:
        raise no_number(grid, layout, rows[there[bad]], index)
    known = unit(column.unit)
    values = np.full(len(rows), np.nan)
    values[there] = found * known.factor + known.offset
    return values
