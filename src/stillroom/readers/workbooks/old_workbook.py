"""Old binary workbooks (XLS): their records checked before they are read, and what would do harm blotted out.

[MS-XLS] Excel Binary File Format, revision 11.1: the workbook stream (2.1.7.20), records (2.3 and 2.4). Only
records that carry sheets, cells, texts and formats are kept; all others are renamed to one that nobody reads.
"""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import dataclass, field

from stillroom.errors import BadInput
from stillroom.readers.workbooks.compound import CompoundFile, compound_file
from stillroom.readers.workbooks.zipped import damaged

COLUMNS = 256
"""Columns of a sheet in an old workbook."""

CELL_LIMIT = 4_000_000
"""Most cells in the rectangle that a sheet of an old workbook spans."""

_BEGIN, _END, _SHEET, _PASSWORD, _TEXTS, _MORE = 0x0809, 0x000A, 0x0085, 0x002F, 0x00FC, 0x003C
_FORMULA, _NUMBER, _TRUE_OR_ERROR, _MERGED, _SEVERAL = 0x0006, 0x0203, 0x0205, 0x00E5, 0x00BD
_LONGER_TEXT, _KEPT_TEXT = 0x00D6, 0x0207
_NOBODY = 0x0FFE

_CELLS = frozenset({_FORMULA, _NUMBER, _TRUE_OR_ERROR, _SEVERAL, _LONGER_TEXT, 0x0204, 0x00FD, 0x027E})
_KEPT = _CELLS | {
    _BEGIN,
    _END,
    _SHEET,
    _TEXTS,
    _MORE,
    _MERGED,
    _KEPT_TEXT,
    0x0042,
    0x0022,
    0x041E,
    0x00E0,
}
_SMALLEST = {
    _FORMULA: 22,
    _NUMBER: 14,
    _TRUE_OR_ERROR: 8,
    _SEVERAL: 12,
    _LONGER_TEXT: 8,
    0x0204: 8,
    0x00FD: 10,
    0x027E: 10,
    _BEGIN: 4,
    _SHEET: 8,
    _TEXTS: 8,
    _MERGED: 2,
    0x0042: 2,
    0x0022: 2,
    0x041E: 4,
    0x00E0: 4,
}
OLD = "an old binary workbook"
"""What the file is, in messages."""

ERRORS = {
    0x00: "#NULL!",
    0x07: "#DIV/0!",
    0x0F: "#VALUE!",
    0x17: "#REF!",
    0x1D: "#NAME?",
    0x24: "#NUM!",
    0x2A: "#N/A",
}
"""The errors of cells by their code ([MS-XLS] 2.5.10)."""


@dataclass
class OldWorkbook:
    """An old workbook that is safe to read.

    Parameters
    ----------
    data : a clean container with the workbook's checked records.
    said : {where a sheet begins in the stream: {(row, column) from 1: text} of its cells with an error}.
    begins : where the sheets begin, in the order of the workbook's list.
    """

    data: bytes
    said: dict[int, dict[tuple[int, int], str]] = field(default_factory=dict)
    begins: list[int] = field(default_factory=list)


def check_old_workbook(name: str, data: bytes) -> OldWorkbook:
    """Go through an old workbook's records.

    Parameters
    ----------
    name : the file's name, for messages.
    data : its bytes.

    Raises
    ------
    UnreadableFile : it is damaged, protected by a password, or another kind of document.
    BadInput : its cells span too much.
    """
    try:
        box = CompoundFile(data)
        found = [each for each in ("Workbook", "Book") if each in box.names]
        if "EncryptedPackage" in box.names:
            raise damaged(name, "protected by a password", OLD)
        if not found:
            raise damaged(name, "no workbook in it", OLD)
        stream = bytearray(box.stream(found[0]))
        book = OldWorkbook(b"")
        _Check(name, stream, book).run()
    except (struct.error, ValueError, IndexError) as problem:
        raise damaged(name, str(problem), OLD) from None
    book.data = compound_file(bytes(stream), found[0])
    return book


@dataclass
class _Check:
    """Goes through the records, blots out the unknown ones, and gathers the errors of cells."""

    name: str
    stream: bytearray
    book: OldWorkbook
    depth: int = 0
    begun: int = 0
    rows: int = 0
    columns: int = 0
    texts_at: int = -1
    texts_length: int = 0
    starts: set[int] = field(default_factory=set)

    def run(self) -> None:
        """Check all records; raises as `check_old_workbook`."""
        at = before = 0
        while at + 4 <= len(self.stream):
            kind, length = struct.unpack_from("<HH", self.stream, at)
            if kind == 0 and self.depth == 0:
                break  # filled up after the last record
            if at + 4 + length > len(self.stream):
                raise ValueError("cut short")
            if length < _SMALLEST.get(kind, 0):
                raise ValueError(f"a record of {length} bytes at {at}")
            if kind == _MORE and before == _TEXTS:
                self.texts_length += length
            elif kind in _STEPS:
                _STEPS[kind](self, at, length)
            elif kind in _CELLS:
                self.cell(kind, at, length)
            if kind not in _KEPT:
                struct.pack_into("<H", self.stream, at, _NOBODY)
            before = before if kind == _MORE else kind
            at += 4 + length
        if not self.book.begins or not set(self.book.begins) <= self.starts:
            raise ValueError("sheets that begin nowhere")
        if self.texts_at >= 0:
            (count,) = struct.unpack_from("<i", self.stream, self.texts_at + 4)
            if not 0 <= count <= self.texts_length // 3 + 1:
                raise ValueError("more texts than the file holds")

    def begin(self, at: int, _: int) -> None:
        if self.depth == 0:
            self.starts.add(at)
            self.begun, self.rows, self.columns = at, 0, 0
        self.depth += 1

    def end(self, _at: int, _: int) -> None:
        self.depth -= 1

    def sheet(self, at: int, _: int) -> None:
        self.book.begins.append(struct.unpack_from("<I", self.stream, at + 4)[0])

    def texts(self, at: int, length: int) -> None:
        self.texts_at, self.texts_length = at + 4, length

    def merged(self, at: int, length: int) -> None:
        if struct.unpack_from("<H", self.stream, at + 4)[0] * 8 + 2 > length:
            raise ValueError("merged cells cut short")

    def password(self, _at: int, _: int) -> None:
        raise damaged(self.name, "protected by a password", OLD)

    def cell(self, kind: int, at: int, length: int) -> None:
        row, column = struct.unpack_from("<HH", self.stream, at + 4)
        last = column + (length - 6) // 6 if kind == _SEVERAL else column + 1
        self.rows, self.columns = max(self.rows, row + 1), max(self.columns, last)
        if self.rows * self.columns > CELL_LIMIT or self.columns > COLUMNS:
            raise BadInput(
                "workbook",
                place=self.name,
                found=f"a sheet of {self.rows:,} rows and {self.columns:,} columns",
                expected=f"at most {CELL_LIMIT:,} cells and {COLUMNS} columns",
            )
        code = _error_code(self.stream, kind, at + 4)
        if code >= 0:
            words = ERRORS.get(code, "#VALUE!")
            self.book.said.setdefault(self.begun, {})[row + 1, column + 1] = words
        if kind == _FORMULA:
            _disarm(self.stream, at)


_STEPS: dict[int, Callable[[_Check, int, int], None]] = {
    _BEGIN: _Check.begin,
    _END: _Check.end,
    _SHEET: _Check.sheet,
    _TEXTS: _Check.texts,
    _MERGED: _Check.merged,
    _PASSWORD: _Check.password,
}


def _error_code(stream: bytearray, kind: int, body: int) -> int:
    """The code of a cell's error, or -1."""
    if kind == _TRUE_OR_ERROR and stream[body + 7]:
        return stream[body + 6]
    if kind == _FORMULA and stream[body + 12 : body + 14] == b"\xff\xff" and stream[body + 6] == 2:
        return stream[body + 8]
    return -1


def _disarm(stream: bytearray, at: int) -> None:
    """Leave of a formula what was kept of it: its value."""
    if stream[at + 16 : at + 18] != b"\xff\xff":
        struct.pack_into("<H", stream, at, _NUMBER)
    else:
        struct.pack_into("<H", stream, at + 24, 0)
