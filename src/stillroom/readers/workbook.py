"""XLSX workbooks as rows of raw strings, with guards against containers that unpack without end."""

from __future__ import annotations

import datetime as dt
import io
import re
import zipfile
import zlib
from collections.abc import Iterator
from typing import TYPE_CHECKING

from stillroom.errors import BadInput, Contradiction, UnknownThing, UnreadableFile
from stillroom.readers.source import Source

if TYPE_CHECKING:
    from python_calamine import CalamineSheet, CalamineWorkbook

UNPACKED_LIMIT = 512 * 2**20
"""Most bytes that a workbook may unpack to."""

RATIO_LIMIT = 300.0
"""Most that one part of a workbook may be compressed (parts over 1 MiB)."""

PART_LIMIT = 2000
"""Most parts that a workbook may hold."""

CELL_LIMIT = 12_000_000
"""Most cells in the rectangle that a sheet spans."""

_CELL = re.compile(rb"\sr=[\"']([A-Z]{0,3})(\d{1,9})[\"']")
_BLOCK = 2**20
_OVERLAP = 64

SheetValue = int | float | str | bool | dt.time | dt.date | dt.datetime | dt.timedelta


def sheet_names(source: Source) -> tuple[str, ...]:
    """The sheets that are to be read, in the workbook's order: those that are shown and hold something.

    Raises
    ------
    UnreadableFile : the workbook is damaged.
    BadInput : it would fill the memory.
    """
    return tuple(name for name, why in _sheets(source) if not why)


def passed_over(source: Source) -> tuple[str, ...]:
    """The sheets that aren't read, and why, one sentence each; raises as `sheet_names`."""
    return tuple(f"sheet {name!r}: {why}" for name, why in _sheets(source) if why)


def _sheets(source: Source) -> tuple[tuple[str, str], ...]:
    """(name, why it is passed over or empty) of each sheet."""
    from python_calamine import SheetVisibleEnum

    book = _open(source)
    found = []
    for each in book.sheets_metadata:
        empty = not _sheet(source, book, each.name).height
        hidden = each.visible != SheetVisibleEnum.Visible
        found.append((each.name, "empty" if empty else "hidden" if hidden else ""))
    return tuple(found)


def choose_sheet(source: Source, wanted: str = "") -> str:
    """The sheet to read: the one that was said, else the only one that holds anything.

    Raises
    ------
    UnknownThing : there is no such sheet.
    Contradiction : several sheets hold something and none was said.
    UnreadableFile : the workbook is empty or damaged.
    """
    book = _open(source)
    names: list[str] = book.sheet_names
    if wanted:
        if wanted not in names:
            raise UnknownThing(
                "sheet",
                place=source.name,
                found=repr(wanted),
                expected="one of " + ", ".join(map(repr, names)),
            )
        return wanted
    filled = [name for name in names if _sheet(source, book, name).height]
    if not filled:
        raise UnreadableFile(
            "workbook",
            place=source.name,
            found="no cell that holds anything",
            expected="a header and readings",
        )
    if len(filled) > 1:
        raise Contradiction(
            "workbook",
            place=source.name,
            found="several sheets that hold something: " + ", ".join(map(repr, filled)),
            expected=f"one, or --as 'sheet={filled[0]}'",
        )
    return filled[0]


def sheet_rows(source: Source, name: str) -> Iterator[tuple[int, list[str]]]:
    """The rows of a sheet as (row number, raw cells from column A), blank rows too."""
    sheet = _sheet(source, _open(source), name)
    if not sheet.height or sheet.start is None:
        return
    # The rows come from row 1 on, but each begins at the first column that holds anything.
    padding = [""] * sheet.start[1]
    for number, cells in enumerate(sheet.iter_rows(), 1):
        yield number, padding + [raw(cell) for cell in cells]


def raw(cell: SheetValue) -> str:
    """The text of a cell: numbers in their shortest exact form, dates in ISO 8601."""
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "TRUE" if cell else "FALSE"
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else repr(cell)
    if isinstance(cell, dt.datetime):
        midnight = cell.time() == dt.time()
        return cell.date().isoformat() if midnight else cell.isoformat(sep=" ")
    if isinstance(cell, dt.date | dt.time):
        return cell.isoformat()
    return str(cell)


def _open(source: Source) -> CalamineWorkbook:
    from python_calamine import CalamineError, load_workbook

    data = source.content()
    _guard(source, data)
    try:
        return load_workbook(io.BytesIO(data))
    except CalamineError as problem:
        raise _damaged(source, str(problem)) from None


def _sheet(source: Source, book: CalamineWorkbook, name: str) -> CalamineSheet:
    from python_calamine import CalamineError

    try:
        return book.get_sheet_by_name(name)
    except CalamineError as problem:
        raise _damaged(source, f"{name}: {problem}") from None


def _damaged(source: Source, reason: str) -> UnreadableFile:
    return UnreadableFile(
        "workbook",
        place=source.name,
        found=f"a ZIP container that can't be read as a workbook ({reason})",
        expected="a whole XLSX workbook",
    )


def _guard(source: Source, data: bytes) -> None:
    """Refuse a container that would fill the memory, before anything of it is unpacked whole."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as box:
            parts = box.infolist()
            if "xl/workbook.xml" not in {part.filename for part in parts}:
                raise _damaged(source, "no xl/workbook.xml in it")
            _guard_sizes(source, parts)
            for part in parts:
                _guard_part(source, box, part)
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, NotImplementedError, RuntimeError) as problem:
        raise _damaged(source, str(problem) or "cut short") from None
    except (ValueError, OverflowError, UnicodeError, MemoryError) as problem:
        raise _damaged(source, type(problem).__name__) from None


def _guard_sizes(source: Source, parts: list[zipfile.ZipInfo]) -> None:
    total = sum(part.file_size for part in parts)
    worst = max((p.file_size / max(p.compress_size, 1) for p in parts if p.file_size > _BLOCK), default=0.0)
    refusals = (
        (len(parts) > PART_LIMIT, f"{len(parts):,} parts", f"at most {PART_LIMIT:,}"),
        (
            total > UNPACKED_LIMIT,
            f"{total / 2**20:,.0f} MiB when unpacked",
            f"at most {UNPACKED_LIMIT / 2**20:,.0f} MiB",
        ),
        (worst > RATIO_LIMIT, f"a part compressed {worst:,.0f} times", f"at most {RATIO_LIMIT:.0f} times"),
    )
    for refused, found, expected in refusals:
        if refused:
            raise BadInput("workbook", place=source.name, found=found, expected=expected)


def _guard_part(source: Source, box: zipfile.ZipFile, part: zipfile.ZipInfo) -> None:
    """Read one part through: its checksum and true size hold, and its cells span no huge rectangle."""
    is_sheet = part.filename.startswith("xl/worksheets/")
    rows = columns = 0
    tail = b""
    with box.open(part) as stream:
        while block := stream.read(_BLOCK):
            if is_sheet:
                for letters, digits in _CELL.findall(tail + block):
                    rows = max(rows, int(digits))
                    columns = max(columns, _column(letters))
                tail = block[-_OVERLAP:]
    if rows * columns > CELL_LIMIT:
        raise BadInput(
            "workbook",
            place=f"{source.name}, {part.filename}",
            found=f"a sheet of {rows:,} rows and {columns:,} columns",
            expected=f"at most {CELL_LIMIT:,} cells",
        )


def _column(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number
