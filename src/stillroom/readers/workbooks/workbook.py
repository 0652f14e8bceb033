"""Workbooks (XLSX, XLS, ODS) as rows of raw strings, with guards against files that would do harm.

Every kind is checked here before a library sees it: sizes and checksums of containers, well-formed XML, the
rectangle that the cells of a sheet span. Formulas are never executed: what the program kept of them is read.
"""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, Protocol

from stillroom.errors import BadInput, Contradiction, UnknownThing, UnreadableFile
from stillroom.readers.source import Source
from stillroom.readers.workbooks.merged import SheetRow, Span, spread
from stillroom.readers.workbooks.old_workbook import check_old_workbook
from stillroom.readers.workbooks.open_document import (
    CONTENT,
    OpenSheet,
    duration_text,
    moment_text,
    number_text,
    read_open_document,
)
from stillroom.readers.workbooks.zipped import (
    WORKBOOK,
    SheetScan,
    container,
    damaged,
    parse,
    parser,
    parts_of_sheets,
)

if TYPE_CHECKING:
    from python_calamine import CalamineSheet

SHEET_LIMIT = 1000
"""Most sheets that a workbook may have."""

BLANK_ROWS = 100
"""Most blank rows in a row that are handed on; a longer gap is cut to that, row numbers kept."""

SheetValue = int | float | str | bool | dt.time | dt.date | dt.datetime | dt.timedelta
Said = Mapping[tuple[int, int], str]


class _Sheet(Protocol):
    """A sheet of any kind of workbook."""

    @property
    def name(self) -> str: ...

    @property
    def why(self) -> str:
        """Why it is passed over; empty where it is to be read."""

    @property
    def spans(self) -> list[Span]: ...

    def rows(self) -> Iterator[SheetRow]: ...


def sheet_names(source: Source) -> tuple[str, ...]:
    """The sheets that are to be read, in the workbook's order: those that are shown and hold something.

    Raises
    ------
    UnreadableFile : the workbook is damaged, or protected by a password.
    BadInput : it would fill the memory.
    """
    return tuple(sheet.name for sheet in _sheets(source) if not sheet.why)


def passed_over(source: Source) -> tuple[str, ...]:
    """The sheets that aren't read, and why, one sentence each; raises as `sheet_names`."""
    return tuple(f"sheet {sheet.name!r}: {sheet.why}" for sheet in _sheets(source) if sheet.why)


def choose_sheet(source: Source, wanted: str = "") -> str:
    """The sheet to read where one is wanted: the one that was said, else the only one that is to be read.

    Raises
    ------
    UnknownThing : there is no such sheet.
    Contradiction : several sheets are to be read and none was said.
    UnreadableFile : the workbook holds nothing, or is damaged.
    """
    names = sheet_names(source)
    if wanted:
        return _named(source, wanted).name
    if not names:
        raise UnreadableFile(
            "workbook",
            place=source.name,
            found="; ".join(passed_over(source))[:300],
            expected="a sheet with a header and readings",
        )
    if len(names) > 1:
        raise Contradiction(
            "workbook",
            place=source.name,
            found="several sheets that hold something: " + ", ".join(map(repr, names)),
            expected=f"one, or --as 'sheet={names[0]}'",
        )
    return names[0]


def sheet_rows(source: Source, name: str) -> Iterator[SheetRow]:
    """The rows of a sheet as (row number, raw cells from column A), blank rows too.

    Merged cells stand wherever they count (`merged.py`). An error is its own words ("#DIV/0!"), a formula whose
    value the program didn't keep is its text ("=B2*2"); neither is a number.

    Raises
    ------
    UnknownThing : there is no such sheet.
    UnreadableFile : the workbook is damaged, or protected by a password.
    """
    sheet = _named(source, name)
    return spread(_with_gaps(sheet.rows()), sheet.spans)


def _named(source: Source, name: str) -> _Sheet:
    sheets = _sheets(source)
    for sheet in sheets:
        if sheet.name == name:
            return sheet
    expected = "one of " + ", ".join(repr(sheet.name) for sheet in sheets)
    raise UnknownThing("sheet", place=source.name, found=repr(name), expected=expected)


def _with_gaps(rows: Iterator[SheetRow]) -> Iterator[SheetRow]:
    """Rows in their order with the blank ones between them, long gaps cut."""
    reached = 0
    for number, cells in rows:
        if any(cells):
            yield from ((blank, []) for blank in range(max(reached + 1, number - BLANK_ROWS), number))
            yield number, cells
            reached = number


def _sheets(source: Source) -> tuple[_Sheet, ...]:
    return _parsed(source.name, source.content())


@lru_cache(maxsize=1)
def _parsed(name: str, data: bytes) -> tuple[_Sheet, ...]:
    """The sheets of the workbook that was asked for last: it is understood, then read."""
    sheets = _read(name, data)
    if len(sheets) > SHEET_LIMIT:
        expected = f"at most {SHEET_LIMIT}"
        raise BadInput("workbook", place=name, found=f"{len(sheets):,} sheets", expected=expected)
    twice = [each for each, times in Counter(sheet.name for sheet in sheets).items() if times > 1]
    if twice:
        raise damaged(name, f"two sheets called {twice[0]!r}", "a workbook")
    return sheets


def _read(name: str, data: bytes) -> tuple[_Sheet, ...]:
    if not data.startswith(b"PK"):
        return _of_old(name, data)
    with container(name, data) as box:
        parts = {part.filename for part in box.infolist()}
    return _of_open_document(name, data) if CONTENT in parts else _of_xlsx(name, data)


def raw(cell: SheetValue) -> str:
    """The text of a cell: numbers in their shortest exact form, dates and times in ISO 8601."""
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "TRUE" if cell else "FALSE"
    if isinstance(cell, float):
        return number_text(cell)
    if isinstance(cell, dt.datetime):
        return moment_text(cell)
    if isinstance(cell, dt.timedelta):
        return duration_text(cell)
    return cell.isoformat() if isinstance(cell, dt.date | dt.time) else str(cell)


@dataclass(frozen=True)
class _Open:
    """A sheet of an ODS workbook."""

    sheet: OpenSheet
    hidden: bool

    @property
    def name(self) -> str:
        return self.sheet.name

    @property
    def why(self) -> str:
        return "hidden" if self.hidden else "" if self.sheet.rows else "empty"

    @property
    def spans(self) -> list[Span]:
        return self.sheet.spans

    def rows(self) -> Iterator[SheetRow]:
        width = max((len(cells) for _, cells in self.sheet.rows), default=0)
        for number, cells in self.sheet.rows:
            yield number, cells + [""] * (width - len(cells))


def _of_open_document(name: str, data: bytes) -> tuple[_Sheet, ...]:
    sheets, hidden = read_open_document(name, data)
    return tuple(_Open(sheet, sheet.style in hidden) for sheet in sheets)


@dataclass(frozen=True)
class _Read:
    """A sheet that the library reads; `said` holds what it leaves out: errors, formulas without a value."""

    file: str
    name: str
    why: str
    sheet: CalamineSheet | None
    said: Said = field(default_factory=dict)

    @property
    def spans(self) -> list[Span]:
        ranges = (self.sheet.merged_cell_ranges if self.sheet else None) or []
        return [Span(a[0] + 1, b[0] + 1, a[1] + 1, min(b[1], 500) + 1) for a, b in ranges]

    def rows(self) -> Iterator[SheetRow]:
        said: dict[int, list[tuple[int, str]]] = {}
        for (row, column), words in sorted(self.said.items()):
            said.setdefault(row, []).append((column, words))
        yield from _overlaid(self._values(), said)
        yield from sorted((row, _put([], cells)) for row, cells in said.items())

    def _values(self) -> Iterator[SheetRow]:
        if self.sheet is None or not self.sheet.height or self.sheet.start is None:
            return
        # The rows come from row 1 on, but each begins at the first column that holds anything.
        padding = [""] * self.sheet.start[1]
        rows = self.sheet.iter_rows()
        for number in range(1, 2**31):
            try:
                cells = next(rows, None)
            except BaseException as problem:
                raise _ours(self.file, problem) from None
            if cells is None:
                return
            yield number, padding + [raw(cell) for cell in cells]


def _overlaid(rows: Iterator[SheetRow], said: dict[int, list[tuple[int, str]]]) -> Iterator[SheetRow]:
    """Rows with what was said of their cells; what is left in `said` lies beyond them."""
    for number, cells in rows:
        yield number, _put(cells, said.pop(number)) if number in said else cells


def _put(cells: list[str], said: list[tuple[int, str]]) -> list[str]:
    for column, words in said:
        cells += [""] * (column - len(cells))
        cells[column - 1] = cells[column - 1] or words
    return cells


def _of_xlsx(name: str, data: bytes) -> tuple[_Sheet, ...]:
    """The sheets of an XLSX workbook; the parts that count are checked and packed anew for the library."""
    clean = io.BytesIO()
    said: dict[str, Said] = {}
    with container(name, data) as box, zipfile.ZipFile(clean, "w") as checked:
        parts = {part.filename: part for part in box.infolist()}
        if WORKBOOK not in parts:
            raise damaged(name, f"no {WORKBOOK} in it")
        for title, part in parts.items():
            if title.casefold().endswith("sharedstrings.xml"):
                checked.writestr(title, parse(box, part, parser()))
            elif title.casefold().endswith((".xml", ".rels")):
                scan = SheetScan(f"{name}, {title}")
                checked.writestr(title, scan.read(box, part))
                said[title] = scan.said
        said_of = {sheet: said.get(part, {}) for sheet, part in parts_of_sheets(box).items()}
    return _of_library(name, clean.getvalue(), lambda _, sheet: said_of.get(sheet, {}))


def _of_old(name: str, data: bytes) -> tuple[_Sheet, ...]:
    book = check_old_workbook(name, data)
    said = [book.said.get(begin, {}) for begin in book.begins]
    return _of_library(name, book.data, lambda place, _: said[place] if place < len(said) else {})


def _of_library(name: str, data: bytes, said: Callable[[int, str], Said]) -> tuple[_Sheet, ...]:
    """The sheets as the library reads them from a checked container.

    Parameters
    ----------
    said : what the library leaves out of a sheet, by its place among the sheets and its name.
    """
    from python_calamine import SheetTypeEnum, SheetVisibleEnum, load_workbook

    sheets: list[_Sheet] = []
    try:
        book = load_workbook(io.BytesIO(data))
        for place, each in enumerate(book.sheets_metadata):
            words = said(place, each.name)
            table = each.typ == SheetTypeEnum.WorkSheet
            sheet = book.get_sheet_by_name(each.name) if table else None
            empty = not words and (sheet is None or not sheet.height)
            hidden = each.visible != SheetVisibleEnum.Visible
            why = "no table of cells" if not table else "hidden" if hidden else "empty" if empty else ""
            sheets.append(_Read(name, each.name, why, sheet, words))
    except BaseException as problem:
        raise _ours(name, problem) from None
    if not sheets:
        raise damaged(name, "no sheet in it")
    return tuple(sheets)


def _ours(name: str, problem: BaseException) -> BaseException:
    """The library's errors and panics as ours; anything else as it is."""
    from python_calamine import CalamineError

    panic = type(problem).__module__ == "pyo3_runtime"
    if panic or isinstance(problem, CalamineError | ValueError | OverflowError):
        return damaged(name, "a value that can't be read" if panic else str(problem)[:200])
    return problem
