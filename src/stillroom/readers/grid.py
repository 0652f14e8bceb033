"""A Source as a grid of raw cells: text tables by their delimiter, workbooks by their sheet.

The cells stay the strings that the file holds; nothing is turned into a number here. A grid is streamed:
`head` holds the first rows, for understanding; `rows()` goes through all of them again from the file.
"""

from __future__ import annotations

import codecs
import csv
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from typing import NamedTuple

from stillroom.errors import BadInput, UnreadableFile
from stillroom.readers.sniff import Sniffed, sniff
from stillroom.readers.source import LINE_LIMIT, Source, place_of
from stillroom.readers.workbook import choose_sheet, sheet_rows

HEAD_ROWS = 500
"""Rows that are looked at to understand a file."""

COLUMN_LIMIT = 500
"""Most columns that a table may have."""

ROW_LIMIT = 20_000_000
"""Most rows that a table may have."""

_SHEET_ERRORS = ("#DIV/0!", "#N/A", "#REF!", "#VALUE!", "#NAME?", "#NUM!", "#NULL!")

DELIMITER_WORDS = {"\t": "tab", ";": "semicolon", ",": "comma", "|": "bar", "": "cells of a sheet"}


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
        """Whether the row is a comment ('# …'); the error values of spreadsheets are none."""
        first = self.cells[0].lstrip() if self.cells else ""
        return first.startswith("#") and not first.startswith(_SHEET_ERRORS)


@dataclass(frozen=True)
class Grid:
    """The raw cells of one table.

    Parameters
    ----------
    source : the file.
    sheet : the sheet's name in a workbook; empty for text.
    delimiter, decimal, encoding : how the text is written; delimiter and encoding are empty in a workbook.
    head : the first rows that hold something, comments included.
    """

    source: Source
    sheet: str
    delimiter: str
    decimal: str
    encoding: str
    head: tuple[Row, ...]

    def rows(self) -> Iterator[Row]:
        """All rows that the file has, blank ones too, from the file.

        Raises
        ------
        UnreadableFile : a line can't be split into cells.
        BadInput : there are more columns or rows than a table may have.
        """
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
    _check_said(source, delimiter, decimal)
    if source.is_zip:
        name = choose_sheet(source, sheet)
        grid = Grid(source, name, "", decimal or ".", "", ())
    else:
        if sheet:
            raise BadInput("sheet", place=source.name, found=repr(sheet), expected="no sheet in a text file")
        said = _known_encoding(source, encoding) or source.encoding
        seen = _sniffed(source, said, delimiter, decimal)
        grid = Grid(source, "", seen.delimiter, seen.decimal, said, ())
    head = tuple(islice((row for row in grid.rows() if not row.blank), HEAD_ROWS))
    if not any(not row.comment for row in head):
        raise UnreadableFile("table", place=source.name, found="no rows", expected="a header and readings")
    return Grid(grid.source, grid.sheet, grid.delimiter, grid.decimal, grid.encoding, head)


def _check_said(source: Source, delimiter: str, decimal: str) -> None:
    if delimiter and delimiter not in DELIMITER_WORDS:
        expected = "one of ',' ';' '|' or a tab"
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


def _sniffed(source: Source, encoding: str, delimiter: str, decimal: str) -> Sniffed:
    lines = list(islice((line for line in source.lines(encoding) if line.strip()), HEAD_ROWS))
    if not lines:
        raise UnreadableFile(
            "table", place=source.name, found="only blanks", expected="a header and readings"
        )
    return sniff(
        [line for line in lines if not line.lstrip().startswith("#")], delimiter, decimal, source.name
    )


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
        if line.lstrip().startswith("#") or not line.strip():
            skipped += 1
            yield Row(skipped, [line.strip()] if line.strip() else [])
        else:
            first = line
            break
    yield from _split(source, _chain(first, lines), delimiter, skipped)


def _chain(first: str, rest: Iterator[str]) -> Iterator[str]:
    if first:
        yield first
    yield from rest


def _split(source: Source, lines: Iterator[str], delimiter: str, skipped: int) -> Iterator[Row]:
    csv.field_size_limit(LINE_LIMIT)
    reader = csv.reader(lines, delimiter=delimiter, strict=True)
    line = skipped + 1
    try:
        for cells in reader:
            if len(cells) > COLUMN_LIMIT or line > ROW_LIMIT:
                raise _too_many(source, line, len(cells), "")
            yield Row(line, cells)
            line = skipped + reader.line_num + 1
    except csv.Error as problem:
        raise UnreadableFile(
            "line",
            place=place_of(source, line),
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
