"""Long text tables in blocks: a block of plain readings is parsed as a whole, anything else row by row.

A block counts as plain only if nothing in it could be read in two ways: ASCII, no quotation mark and no '#',
as many cells in each line as the table has columns, each line beginning with a number. What is plain gives
bit for bit what the careful way gives; whatever isn't goes the careful way, line by line.
"""

from __future__ import annotations

import csv
import os
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from itertools import islice
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from stillroom.errors import StillroomError
from stillroom.readers.grids.grid import Grid, Row
from stillroom.readers.grids.splitting import BLANKS, Splitter
from stillroom.readers.layout import Layout
from stillroom.readers.source import LINE_LIMIT, Source
from stillroom.readers.words.headers import DATE, NOZZLES, TIME
from stillroom.readers.words.numbers import Array
from stillroom.vocabulary import unit

if TYPE_CHECKING:
    import polars

LONG = 4 * 2**20
"""Size from which a text is read in blocks [bytes]."""

BLOCK = 2 * 2**20
"""Bytes of one block."""

AT_ONCE = min(os.cpu_count() or 1, 4)
"""Blocks that are parsed at the same time."""

PIECE = 128 * 2**10
"""Bytes of the pieces into which a block is cut that isn't plain as a whole."""

ENCODINGS = frozenset({"ascii", "utf-8", "utf-8-sig", "cp1252", "iso8859-1", "latin-1", "windows-1252"})
"""Encodings in which an ASCII byte is always that character, so that a text can be cut at any line end."""

_FEW = 16
_LINE_END, _BLANK, _DIGIT_0, _DIGIT_9, _MINUS = 10, 32, 48, 57, 45


@dataclass(frozen=True)
class Run:
    """Readings that lie one after another and were parsed together.

    Parameters
    ----------
    first : the line of the first of them; each next one is a line further.
    columns : {quantity: values (readings,) [SI]}.
    frame : the raw texts of the other columns.
    blanks : whether texts may have blanks around them.
    kinds : {index of a column of nozzles: (the raw cells that occur, which of them each reading has)}.
    """

    first: int
    columns: dict[str, Array]
    frame: polars.DataFrame
    blanks: bool
    kinds: dict[int, tuple[list[str], NDArray[np.uint16]]]

    def __len__(self) -> int:
        """The number of readings."""
        return self.frame.height

    @property
    def lines(self) -> range:
        """The line of each reading."""
        return range(self.first, self.first + len(self))

    def cells(self, column: int) -> list[str]:
        """The raw cells of a text column (from 0)."""
        return [cell or "" for cell in self.frame.to_series(column).to_list()]

    def texts(self, column: int) -> list[str] | polars.Series:
        """The texts of a column (from 0), without blanks around them."""
        series = self.frame.to_series(column)
        if self.blanks or series.null_count():
            return [cell.strip() for cell in self.cells(column)]
        return series


class RunRow(Row):
    """The first row of a run: it stands for all of them wherever rows are told apart."""

    run: Run


def is_long(grid: Grid, layout: Layout) -> bool:
    """Whether a text is long enough to be read in blocks, and written so that it can be cut into them."""
    return (
        not grid.sheet
        and grid.source.size >= LONG
        and layout.delimiter not in {"", BLANKS}
        and grid.encoding.casefold() in ENCODINGS
        and (not layout.date_order or layout.is_log)  # local dates are told cell by cell, but a log's
    )


def parts(rows: Iterable[Row], most: int) -> Iterator[list[Row] | Run]:
    """Rows in lists of at most so many, and runs between them, in their order."""
    gathered: list[Row] = []
    for row in rows:
        run = row.run if isinstance(row, RunRow) else None
        if gathered and (run or len(gathered) == most):
            yield gathered
            gathered = []
        if run:
            yield run
        else:
            gathered.append(row)
    if gathered:
        yield gathered


def bulk_rows(grid: Grid, layout: Layout) -> Iterator[Row]:
    """All rows of a long text, those of a plain block as one `RunRow`.

    Parameters
    ----------
    grid : the text; `is_long` holds for it.
    layout : how it is read.

    Raises
    ------
    StillroomError : exactly what the careful way raises.
    """
    reading = _Reading(grid, layout)
    try:
        yield from reading.rows()
        return
    except _Entangled:
        pass  # cells that span lines, or lines that end oddly: the careful way from here on
    except StillroomError:
        pass  # the careful way says it with the place in the whole file
    for row in grid.rows():
        if row.line >= reading.line:
            yield row


class _Entangled(Exception):
    """The text can't be cut at its line ends."""


def _done(block: bytes, whole: bool, parsed: Future[Run | None]) -> tuple[bytes, bool, Run | None]:
    return block, whole, parsed.result()


class _Reading:
    """One pass through a text; `line` is the line that comes next."""

    def __init__(self, grid: Grid, layout: Layout) -> None:
        self.line = 1
        self._grid = grid
        self._plan = _Plan(layout)
        encoding = grid.encoding
        self._onward = "utf-8" if encoding == "utf-8-sig" else encoding

    def rows(self) -> Iterator[Row]:
        blocks = _blocks(self._grid.source)
        for block, _ in islice(blocks, 1):
            _refuse_entangled(block)
            yield from self._first(block)
        for block, whole, run in self._ahead(blocks):
            if run:
                yield self._one(run)
                continue
            _refuse_entangled(block)
            if whole:
                yield from self._in_pieces(block)
            else:
                yield from self._carefully(block)

    def _ahead(self, blocks: Iterator[tuple[bytes, bool]]) -> Iterator[tuple[bytes, bool, Run | None]]:
        """The blocks in their order, with their readings; the next ones are parsed meanwhile."""
        waiting: deque[tuple[bytes, bool, Future[Run | None]]] = deque()
        with ThreadPoolExecutor(AT_ONCE) as pool:
            for block, whole in blocks:
                waiting.append((block, whole, pool.submit(self._plan.parse, block)))
                if len(waiting) > AT_ONCE:
                    yield _done(*waiting.popleft())
            yield from (_done(*each) for each in waiting)

    def _in_pieces(self, block: bytes) -> Iterator[Row]:
        for piece in _pieces(block):
            if run := self._plan.parse(piece):
                yield self._one(run)
            else:
                yield from self._carefully(piece)

    def _one(self, run: Run) -> RunRow:
        row = RunRow(self.line, self._plan.first_cells(run))
        row.run = replace(run, first=self.line)
        self.line += len(run)
        return row

    def _first(self, block: bytes) -> Iterator[Row]:
        """The first lines, as the grid reads them: comments before the table are kept whole."""
        head = block[: block.find(b"\n", PIECE) + 1] if len(block) > PIECE else block
        after = 1 + head.count(b"\n")
        for row in replace(self._grid, source=Source(self._grid.source.name, head)).rows():
            self.line = row.line + 1
            yield row
        self.line = after
        yield from self._in_pieces(block[len(head) :])

    def _carefully(self, piece: bytes) -> Iterator[Row]:
        lines = Source(self._grid.source.name, piece).lines(self._onward)
        after = self.line + piece.count(b"\n")
        splitter = Splitter(lines, self._grid.delimiter, self.line - 1)
        try:
            for number, cells in splitter:
                self.line = number + 1
                yield Row(number, cells)
        except csv.Error:
            raise _Entangled from None
        self.line = after


def _blocks(source: Source) -> Iterator[tuple[bytes, bool]]:
    """Blocks that end at a line end; the last, which may be without one, is told by False."""
    with source.open() as stream:
        while read := stream.read(BLOCK):
            block = read if read.endswith(b"\n") else read + stream.readline(LINE_LIMIT)
            whole = block.endswith(b"\n")
            if not whole and stream.read(1):
                raise _Entangled
            yield block, whole


def _pieces(block: bytes) -> Iterator[bytes]:
    at = 0
    while at < len(block):
        end = block.find(b"\n", at + PIECE) + 1 or len(block)
        yield block[at:end]
        at = end


def _refuse_entangled(block: bytes) -> None:
    if block.count(b'"') % 2 or (b"\r" in block and block.count(b"\r") != block.count(b"\r\n")):
        raise _Entangled


def _finite(numbers: Array) -> bool:
    with np.errstate(over="ignore", invalid="ignore"):
        total = numbers.sum()  # not finite where one isn't, and seldom where all are
    return bool(np.isfinite(total)) or bool(np.isfinite(numbers).all())


def _kinds(series: polars.Series) -> tuple[list[str], NDArray[np.uint16]]:
    """The raw cells that occur in a column, as they come, and which of them each reading has."""
    if series.null_count():
        series = series.fill_null("")
    found: list[str] = series.unique(maintain_order=True).to_list()
    if len(found) > _FEW:
        numbers = {cell: code for code, cell in enumerate(found)}
        return found, np.fromiter(map(numbers.__getitem__, series.to_list()), np.uint16, len(series))
    codes = np.zeros(len(series), np.uint16)
    for code, cell in enumerate(found[1:], 1):
        codes[(series == cell).to_numpy()] = code
    return found, codes


class _Plan:
    """How the readings of a layout are parsed together."""

    def __init__(self, layout: Layout) -> None:
        self._layout = layout
        self._names = [str(number) for number in range(len(layout.columns))]
        self._numbers = {i: each for i, each in enumerate(layout.columns) if each.unit and each.quantity}
        self._unclear = (b'"', b"#", b"\r", *((b".",) if layout.decimal == "," else ()))
        self._nozzles = [i for i, each in enumerate(layout.columns) if each.quantity == NOZZLES]
        self._clocks = [
            i for i, each in enumerate(layout.columns) if each.quantity in {TIME, DATE} and not each.unit
        ]
        # A column that must hold something although it is left out is looked at row by row.
        self._usable = not any(each.in_cells or each.left for each in layout.columns)

    def parse(self, block: bytes) -> Run | None:
        """The readings of a block of whole lines, or None where it isn't plain."""
        block = block.replace(b"\r\n", b"\n") if b"\r" in block else block
        if not self._usable or not block.isascii() or any(mark in block for mark in self._unclear):
            return None
        letters = np.frombuffer(block, np.uint8)
        ends = np.flatnonzero(letters == _LINE_END)
        cells = int(np.count_nonzero(letters == ord(self._layout.delimiter))) + ends.size
        if cells != ends.size * len(self._names) or not self._begin_with_numbers(letters, ends):
            return None
        frame = self._frame(block)
        if frame is None or frame.height != ends.size:
            return None
        if len(self._names) > 1 and frame.to_series(1).null_count():
            return None
        if not self._layout.is_log and (b"m" in block or b"M" in block) and self._has_halves(frame):
            return None
        parting = len(self._names) if self._layout.delimiter == "\t" else 1
        blanks = int(np.count_nonzero(letters <= _BLANK)) != ends.size * parting
        columns: dict[str, Array] = {}
        for i, column in self._numbers.items():
            values = frame.to_series(i)
            numbers = values.to_numpy()
            if values.null_count() or not _finite(numbers):
                return None
            known = unit(column.unit)
            scaled = numbers if known.factor == 1.0 else numbers * known.factor
            columns[column.quantity] = scaled + known.offset
        kinds = {i: _kinds(frame.to_series(i)) for i in self._nozzles}
        return Run(1, columns, frame, blanks, kinds)

    def first_cells(self, run: Run) -> list[str]:
        """Cells that tell a plain reading as its first row would."""
        return ["" if cell is None else str(cell) for cell in run.frame.row(0)]

    def _has_halves(self, frame: polars.DataFrame) -> bool:
        """Whether a time may be one such as "2:05 PM", which is turned into another."""
        return any(frame.to_series(i).str.contains(r"[mM]\.?\s*$").any() for i in self._clocks)

    def _begin_with_numbers(self, letters: NDArray[np.uint8], ends: NDArray[np.intp]) -> bool:
        """Whether each line begins with a number, so that it can be neither title nor footer."""
        firsts = letters[np.concatenate(([0], ends[:-1] + 1))]
        digits = (firsts >= _DIGIT_0) & (firsts <= _DIGIT_9)
        if 0 in self._numbers:
            digits |= firsts == _MINUS
        return bool(digits.all())

    def _frame(self, block: bytes) -> polars.DataFrame | None:
        """The cells of a block, numbers parsed; None where a cell is no number or a line has more cells."""
        import polars

        kinds = {
            name: polars.Float64 if i in self._numbers else polars.String
            for i, name in enumerate(self._names)
        }
        try:
            return polars.read_csv(
                block,
                has_header=False,
                separator=self._layout.delimiter,
                quote_char=None,
                schema=kinds,
                decimal_comma=self._layout.decimal == ",",
            )
        except polars.exceptions.PolarsError:
            return None
