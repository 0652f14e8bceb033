"""Read a measurement file by its layout: a Recording in SI that keeps the place of every raw cell."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import islice

import numpy as np

from stillroom.errors import BadInput, Contradiction, UnreadableFile
from stillroom.readers.bounds import expected_words, first_outside, looks_swapped
from stillroom.readers.grid import HEAD_ROWS, Grid, Row, open_grid
from stillroom.readers.headers import NOZZLES
from stillroom.readers.kinds import Kind, kind_of
from stillroom.readers.layout import Column, Layout
from stillroom.readers.numbers import Array, parse_numbers
from stillroom.readers.source import Source
from stillroom.vocabulary import unit

READER_VERSION = 1
"""Raised when the same file and layout would give other readings."""

CLOSED = frozenset({"none", "-", "0", "closed", "shut", "all closed"})
"""Words in a nozzle column that say that no nozzle is open."""

_CHUNK = 20_000
_BETWEEN_NOZZLES = re.compile(r"[+;,&\s]+")


@dataclass(frozen=True)
class LeftOut:
    """A line of the file that isn't a reading, and why."""

    line: int
    why: str


@dataclass(frozen=True)
class RawCell:
    """A cell as it stands in the file, with its place."""

    text: str
    place: str
    line: int
    column: int
    header: str
    unit: str


@dataclass(frozen=True)
class Recording:
    """The readings of one file.

    Parameters
    ----------
    source : the file.
    layout : how it was read.
    kind : what kind of measurement it is.
    columns : {quantity: values (readings,) [SI]}.
    nozzles : the open nozzles of each reading; an empty tuple where the file has no such column.
    texts : {"point" or "time": raw text of each reading} where the file has these columns.
    lines : the line of each reading in the file (row in a sheet), from 1.
    left_out : the lines that are no readings: comments and blank lines among them.
    notes : the "key: value" lines and titles that stand above this table.
    """

    source: Source
    layout: Layout
    kind: Kind
    columns: dict[str, Array]
    nozzles: tuple[tuple[str, ...], ...]
    texts: dict[str, tuple[str, ...]]
    lines: tuple[int, ...]
    left_out: tuple[LeftOut, ...] = ()
    notes: dict[str, str] = field(default_factory=dict)
    version: int = READER_VERSION

    def __len__(self) -> int:
        """The number of readings."""
        return len(self.lines)

    @property
    def units(self) -> dict[str, str]:
        """{quantity: the unit in the file}."""
        return self.layout.units

    @property
    def headers(self) -> dict[str, str]:
        """{quantity or text column: its header in the file}."""
        return self.layout.headers

    def raw(self, reading: int, quantity: str) -> RawCell:
        """The raw cell of a reading (from 0), read again from the file.

        Raises
        ------
        BadInput : there is no such reading or column.
        UnreadableFile : the file no longer has that line.
        """
        if quantity not in self.headers or not 0 <= reading < len(self):
            found = f"reading {reading} of {quantity!r}"
            raise BadInput("raw cell", place=self.source.name, found=found, expected="a reading of this file")
        grid = _grid(self.source, self.layout)
        return _raw(grid, self.layout, self.lines[reading], quantity)


@dataclass
class _Gathering:
    """What has been gathered so far while a file is streamed."""

    numbers: dict[str, list[Array]] = field(default_factory=dict)
    nozzles: list[tuple[str, ...]] = field(default_factory=list)
    texts: dict[str, list[str]] = field(default_factory=dict)
    lines: list[int] = field(default_factory=list)
    left_out: list[LeftOut] = field(default_factory=list)
    patterns: dict[str, tuple[str, ...]] = field(default_factory=dict)


def read(source: Source, layout: Layout) -> Recording:
    """Read a measurement file strictly by a layout.

    Raises
    ------
    UnreadableFile : the file doesn't have the layout's shape, is cut, binary, or holds no readings.
    BadInput : a row is short or long; a cell is empty, no number, or physically impossible.
    Contradiction : two columns are swapped, or one nozzle is listed twice in a reading.
    """
    kind = kind_of(layout.headers, source.name)
    grid = _grid(source, layout)
    rows = grid.rows()
    _pass_header(grid, layout, rows)
    gathered = _Gathering()
    readings = _readings(grid, layout, rows, gathered.left_out)
    while chunk := list(islice(readings, _CHUNK)):
        _take(grid, layout, chunk, gathered)
    if not gathered.lines:
        raise UnreadableFile(
            "table", place=source.name, found="no readings under the header", expected="at least one"
        )
    columns = {name: np.concatenate(parts) for name, parts in gathered.numbers.items()}
    recording = Recording(
        source=source,
        layout=layout,
        kind=kind,
        columns=columns,
        nozzles=tuple(gathered.nozzles),
        texts={name: tuple(cells) for name, cells in gathered.texts.items()},
        lines=tuple(gathered.lines),
        left_out=tuple(each for each in gathered.left_out if each.line < gathered.lines[-1]),
    )
    _check(recording)
    return recording


def fits(source: Source, layout: Layout) -> bool:
    """Whether a file has the shape of a layout, so that it can be proposed for it."""
    try:
        grid = _grid(source, layout)
        _pass_header(grid, layout, grid.rows())
    except BadInput:
        return False
    return True


def _grid(source: Source, layout: Layout) -> Grid:
    if source.is_workbook != (layout.delimiter == ""):
        kind = {True: "a workbook", False: "a text table"}
        raise UnreadableFile(
            "file",
            place=source.name,
            found=kind[source.is_workbook],
            expected=f"{kind[not source.is_workbook]} (layout)",
        )
    return open_grid(
        source,
        encoding=layout.encoding,
        delimiter=layout.delimiter,
        decimal=layout.decimal,
        sheet=layout.sheet,
    )


def _headers(row: Row) -> list[str]:
    return [" ".join(cell.split()) for cell in row.cells]


def _pass_header(grid: Grid, layout: Layout, rows: Iterator[Row]) -> None:
    """Go past the header and the row of units; both have to be as the layout says."""
    wanted = [column.header for column in layout.columns]
    nearest: Row | None = None
    for row in islice(rows, HEAD_ROWS):
        if row.blank or row.comment:
            continue
        if _headers(row) == wanted:
            if layout.unit_row:
                _pass_units(grid, layout, rows)
            return
        if nearest is None or row.line == layout.header_line:
            nearest = row
    found = _headers(nearest) if nearest else []
    column = next((i for i, pair in enumerate(zip(found, wanted, strict=False)) if pair[0] != pair[1]), -1)
    differs = column >= 0
    raise UnreadableFile(
        "header",
        place=grid.place(nearest.line if nearest else 0, column + 1),
        found=repr(found[column]) if differs else f"{len(found)} columns",
        expected=f"{wanted[column]!r} as in the layout" if differs else f"the layout's {len(wanted)} columns",
    )


def _pass_units(grid: Grid, layout: Layout, rows: Iterator[Row]) -> None:
    row = next((row for row in rows if not row.blank), Row(0, []))
    cells = [cell.strip() for cell in row.cells] + [""] * (len(layout.columns) - len(row.cells))
    for number, (cell, column) in enumerate(zip(cells, layout.columns, strict=False), 1):
        if cell != column.stated:
            raise Contradiction(
                f"unit of column {column.header!r}",
                place=grid.place(row.line, number),
                found=repr(cell),
                expected=f"{column.stated!r} as in the layout",
            )


def _readings(grid: Grid, layout: Layout, rows: Iterator[Row], left_out: list[LeftOut]) -> Iterator[Row]:
    """The rows that are readings, each with as many cells as there are columns."""
    width = len(layout.columns)
    for row in rows:
        if len(row.cells) == width and row.cells[0][:1].isalnum():
            yield row  # neither blank nor a comment: the quick way for nearly all rows
        elif row.blank:
            left_out.append(LeftOut(row.line, "blank line"))
        elif row.comment:
            left_out.append(LeftOut(row.line, "comment"))
        elif len(row.cells) == width:
            yield row
        elif any(cell.strip() for cell in row.cells[width:]) or len(row.cells) < width:
            raise BadInput(
                "cells of a row",
                place=grid.place(row.line),
                found=f"{len(row.cells)} of them" if row.cells else "none",
                expected=f"{width}, as many as the header has",
            )
        else:
            yield Row(row.line, row.cells[:width])


def _take(grid: Grid, layout: Layout, chunk: list[Row], gathered: _Gathering) -> None:
    """Turn a chunk of rows into numbers, column by column."""
    gathered.lines += [row.line for row in chunk]
    for index, column in enumerate(layout.columns):
        if not column.quantity:
            continue
        cells = [row.cells[index] for row in chunk]
        if column.unit:
            known = unit(column.unit)
            values, bad = parse_numbers(cells, layout.decimal)
            if bad >= 0:
                raise _no_number(grid, layout, chunk[bad], index, column)
            gathered.numbers.setdefault(column.quantity, []).append(values * known.factor + known.offset)
        elif column.quantity == NOZZLES:
            for row, cell in zip(chunk, cells, strict=True):
                if cell not in gathered.patterns:
                    place = grid.place(row.line, index + 1)
                    gathered.patterns[cell] = parse_nozzles(cell, place)
                gathered.nozzles.append(gathered.patterns[cell])
        else:
            gathered.texts.setdefault(column.quantity, []).extend(cell.strip() for cell in cells)


def _no_number(grid: Grid, layout: Layout, row: Row, index: int, column: Column) -> BadInput:
    cell = row.cells[index]
    mark = "comma" if layout.decimal == "," else "point"
    hint = f" (or --as 'column:{column.header}=none' to leave the column out)" if not cell.strip() else ""
    return BadInput(
        f"column {column.header!r}",
        place=grid.place(row.line, index + 1),
        found=repr(cell[:80]) if cell.strip() else "an empty cell",
        expected=f"a finite number with decimal {mark}, in {column.unit}{hint}",
    )


def parse_nozzles(text: str, place: str) -> tuple[str, ...]:
    """The nozzles that a cell lists as open, joined by + or ; or blanks; "none", "-", "0", "closed": none.

    Raises
    ------
    BadInput : the cell is empty.
    Contradiction : a nozzle is listed twice.
    """
    bare = " ".join(text.split())
    if bare.casefold() in CLOSED:
        return ()
    names = tuple(name for name in _BETWEEN_NOZZLES.split(bare) if name)
    if not names:
        found = repr(text[:80]) if bare else "an empty cell"
        raise BadInput("nozzles", place=place, found=found, expected="names such as N25+N40, or none")
    twice = next((name for name in names if names.count(name) > 1), "")
    if twice:
        raise Contradiction(
            "nozzles", place=place, found=f"{twice!r} twice", expected="each open nozzle once"
        )
    return names


def _check(recording: Recording) -> None:
    """Refuse what can't be: swapped columns first, since they name the cause; then single cells."""
    if looks_swapped(recording.columns, recording.units):
        pressure, temperature = (recording.raw(0, name) for name in ("barometric_pressure", "temperature"))
        raise Contradiction(
            f"columns {pressure.header!r} and {temperature.header!r}",
            place=pressure.place,
            found=f"{pressure.text} {pressure.unit} and {temperature.text} {temperature.unit}, as if swapped",
            expected="an air pressure in the first and a temperature in the second",
        )
    for quantity, values in recording.columns.items():
        bad = first_outside(quantity, values)
        if bad >= 0:
            cell = recording.raw(bad, quantity)
            raise BadInput(
                f"column {cell.header!r}",
                place=cell.place,
                found=f"{cell.text} {cell.unit}",
                expected=expected_words(quantity, cell.unit),
            )


def _raw(grid: Grid, layout: Layout, line: int, quantity: str) -> RawCell:
    index = next(i for i, column in enumerate(layout.columns) if column.quantity == quantity)
    row = next((row for row in grid.rows() if row.line == line), None)
    if row is None or len(row.cells) <= index:
        raise UnreadableFile(
            "line", place=grid.place(line), found="nothing", expected="the reading that was here"
        )
    column = layout.columns[index]
    place = grid.place(line, index + 1)
    return RawCell(row.cells[index], place, line, index + 1, column.header, column.unit)
