"""A Source as a grid of raw cells: text tables by their delimiter, workbooks by their sheet.

The cells stay the strings that the file holds; nothing is turned into a number here. The rows of a file of
usual size are parted once and held; those of a long one are streamed, each time from the file.
"""

from __future__ import annotations

import codecs
import csv
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import chain, islice
from typing import NamedTuple

from stillroom.errors import BadInput, UnreadableFile
from stillroom.readers.grids.sniff import delimiter_of, list_decimal
from stillroom.readers.grids.splitting import BLANKS, Splitter
from stillroom.readers.source import LINE_LIMIT, Source, place_of
from stillroom.readers.workbooks.workbook import choose_sheet, sheet_names, sheet_rows

HEAD_ROWS = 500
"""Rows that are looked at to tell how a file is written."""

SMALL = 4 * 2**20
"""Size of a text up to which all its rows are held at once [bytes]."""

SMALL_ROWS = 50_000
"""Rows of a text or sheet up to which all are held at once."""

COLUMN_LIMIT = 500
"""Most columns that a table may have."""

ROW_LIMIT = 20_000_000
"""Most rows that a table may have."""

_SHEET_ERRORS = ("#DIV/0!", "#N/A", "#REF!", "#VALUE!", "#NAME?", "#NUM!", "#NULL!")

DELIMITER_WORDS = {
    "\t": "tab",
    ";": "semicolon",
    ",": "comma",
    "|": "bar",
    BLANKS: "blanks",
    "": "cells of a sheet",
}


class Row(NamedTuple):
    """One row: its line in the file (or row in the sheet), from 1, and its raw cells."""

    line: int
    cells: list[str]

    @property
    def blank(self) -> bool:
        """Whether no cell holds anything."""
        return not any(cell.strip() for cell in self.cells)

    @property
    def comment(self) -> bool:
        """Whether the row is a comment ('# …').

        The error values of spreadsheets, a cell of ### and a column that is called # are none.
        """
        first = self.cells[0].strip() if self.cells else ""
        if not first.startswith("#") or first.startswith(_SHEET_ERRORS):
            return False
        return len(self.cells) == 1 or set(first) != {"#"}


@dataclass(frozen=True)
class Grid:
    """The raw cells of one text or sheet.

    Parameters
    ----------
    source : the file.
    sheet : the sheet's name in a workbook; empty for text.
    delimiter, encoding : how the text is written; empty in a workbook.
    said_decimal : the decimal mark that was said by hand, or empty.
    """

    source: Source
    sheet: str
    delimiter: str
    encoding: str
    said_decimal: str = ""

    @cached_property
    def head(self) -> tuple[Row, ...]:
        """The first rows that hold something, comments included."""
        rows = self.rows() if self.sheet else self._parted()  # a text is parted no further than is asked
        return tuple(islice((row for row in rows if not row.blank), HEAD_ROWS))

    @cached_property
    def small(self) -> tuple[Row, ...] | None:
        """All rows of a file of a few thousand lines, parted once; None for a longer one."""
        if not self.sheet and self.source.size > SMALL:
            return None
        found = tuple(islice(self._parted(), SMALL_ROWS + 1))
        return found if len(found) <= SMALL_ROWS else None

    @cached_property
    def decimal(self) -> str:
        """The decimal mark of a lab's list (a measurement file's is told by `marks.py`); raises as that."""
        if self.said_decimal or self.sheet:
            return self.said_decimal or "."
        return list_decimal(_first_lines(self.source, self.encoding), self.delimiter, self.source.name)

    @cached_property
    def ended(self) -> bool:
        """Whether the last line of a text has its line end, so that it isn't cut."""
        if self.sheet:
            return True
        with self.source.open() as stream:
            stream.seek(max(0, self.source.size - 4))
            return stream.read().rstrip(b"\0").endswith((b"\n", b"\r", b"\x1a"))

    def rows(self) -> Iterator[Row]:
        """All rows that the file has, blank ones too.

        Raises
        ------
        UnreadableFile : a line can't be split into cells.
        BadInput : there are more columns or rows than a table may have.
        """
        return iter(self.small) if self.small is not None else self._parted()

    def _parted(self) -> Iterator[Row]:
        if self.sheet:
            return _sheet(self.source, self.sheet)
        return _text(self.source, self.encoding, self.delimiter)

    def place(self, line: int = 0, column: int = 0) -> str:
        """A cell's place in words: file, sheet, line, column (from 1)."""
        return place_of(self.source, line, column, sheet=self.sheet)


def open_grid(
    source: Source, *, encoding: str = "", delimiter: str = "", decimal: str = "", sheet: str = ""
) -> Grid:
    """The grid of a source; what isn't said is recognised from the file.

    Parameters
    ----------
    encoding, delimiter, decimal : how a text is written, where it was said by hand.
    sheet : the sheet of a workbook, where it was said by hand.

    Raises
    ------
    UnreadableFile : the file is binary, damaged, empty or doesn't fit what was said.
    BadInput : what was said can't be used, or the file leaves open what must be said.
    """
    grid = grids_of(source, encoding=encoding, delimiter=delimiter, decimal=decimal, sheet=sheet, one=True)[0]
    refuse_without_rows(grid)
    return grid


def refuse_without_rows(grid: Grid) -> None:
    """Refuse a grid that holds nothing but blanks and comments.

    Raises
    ------
    UnreadableFile : it does.
    """
    if not any(not row.comment for row in grid.head):
        raise UnreadableFile("table", place=grid.place(), found="no rows", expected="a header and readings")


def grids_of(
    source: Source,
    *,
    encoding: str = "",
    delimiter: str = "",
    decimal: str = "",
    sheet: str = "",
    one: bool = False,
) -> tuple[Grid, ...]:
    """The grids of a source: one of a text, one for each sheet of a workbook that is shown and filled.

    Parameters
    ----------
    encoding, delimiter, decimal, sheet : as in `open_grid`.
    one : whether a workbook may have only one such sheet.

    Raises
    ------
    StillroomError : as `open_grid`.
    """
    _check_said(source, delimiter, decimal)
    if source.is_workbook:
        names = (choose_sheet(source, sheet),) if one or sheet else sheet_names(source)
        if not names:
            found = "no sheet that is shown and holds anything"
            raise UnreadableFile("workbook", place=source.name, found=found, expected="a header and readings")
        return tuple(Grid(source, name, "", "", decimal) for name in names)
    if sheet:
        raise BadInput("sheet", place=source.name, found=repr(sheet), expected="no sheet in a text file")
    said = _known_encoding(source, encoding) or source.encoding
    if not delimiter:
        delimiter = delimiter_of(_first_lines(source, said))
    return (Grid(source, "", delimiter, said, decimal),)


def _check_said(source: Source, delimiter: str, decimal: str) -> None:
    if delimiter and delimiter not in DELIMITER_WORDS:
        expected = "one of ',' ';' '|', a tab or a blank"
        raise BadInput("delimiter", place=source.name, found=repr(delimiter), expected=expected)
    if decimal not in {"", ".", ","}:
        raise BadInput("decimal mark", place=source.name, found=repr(decimal), expected="'.' or ','")


def _known_encoding(source: Source, encoding: str) -> str:
    if not encoding:
        return ""
    try:
        known = codecs.lookup(encoding)
        " ".encode(known.name)
    except (LookupError, TypeError, ValueError):
        raise BadInput(
            "encoding",
            place=source.name,
            found=repr(encoding),
            expected="a text encoding such as utf-8, utf-16 or windows-1252",
        ) from None
    if source.container:
        _ = source.encoding  # raises with what the file is
    return known.name


def _first_lines(source: Source, encoding: str) -> list[str]:
    """The first lines that are neither blank nor comments."""
    lines = list(islice((line for line in source.lines(encoding) if line.strip()), HEAD_ROWS))
    if not lines:
        raise UnreadableFile(
            "table", place=source.name, found="only blanks", expected="a header and readings"
        )
    return [line for line in lines if not line.lstrip().startswith("#")]


def _sheet(source: Source, sheet: str) -> Iterator[Row]:
    for line, cells in sheet_rows(source, sheet):
        if len(cells) > COLUMN_LIMIT:
            raise _too_many(source, line, len(cells), sheet)
        yield Row(line, cells)


def _text(source: Source, encoding: str, delimiter: str) -> Iterator[Row]:
    """Rows of a text; comments before the first row are kept whole, whatever quotes they hold."""
    lines = source.lines(encoding)
    skipped = 0
    first = ""
    for line in lines:
        if not line.strip() or _is_comment(line.strip(), delimiter):
            skipped += 1
            yield Row(skipped, [line.strip()] if line.strip() else [])
        else:
            first = line
            break
    yield from _split(source, chain([first] if first else [], lines), delimiter, skipped)


def _is_comment(line: str, delimiter: str) -> bool:
    """Whether a line above the table is a comment; a header may begin with a column called #."""
    return line.startswith("#") and not (delimiter.strip() and line[1:].lstrip().startswith(delimiter))


def _split(source: Source, lines: Iterator[str], delimiter: str, skipped: int) -> Iterator[Row]:
    csv.field_size_limit(LINE_LIMIT)
    splitter = Splitter(lines, delimiter, skipped)
    try:
        for line, cells in splitter:
            if len(cells) > COLUMN_LIMIT or line > ROW_LIMIT:
                raise _too_many(source, line, len(cells), "")
            yield Row(line, cells)
    except csv.Error as problem:
        raise UnreadableFile(
            "line",
            place=place_of(source, splitter.line),
            found=f"cells that can't be told apart ({problem})",
            expected="quotation marks in pairs around a cell",
        ) from None


def _too_many(source: Source, line: int, columns: int, sheet: str) -> BadInput:
    return BadInput(
        "table",
        place=place_of(source, line, sheet=sheet),
        found=f"{columns:,} columns" if columns > COLUMN_LIMIT else "more rows",
        expected=f"at most {COLUMN_LIMIT} columns and {ROW_LIMIT:,} rows",
    )
