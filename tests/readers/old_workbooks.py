"""Old binary workbooks (XLS) and open ones (ODS), written here so that the reader has something to read.

The binary layout is the published one: a compound file ([MS-CFB] 2.2 to 2.6: header, sectors of 512 bytes, an
allocation table, a directory) that holds one stream `Workbook` of records ([MS-XLS] 2.4). Only what the
tests need is written: numbers, texts, truth values, errors, dates, formulas with their kept value, merges.
"""

from __future__ import annotations

import datetime as dt
import io
import struct
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

FREE, END, TABLE = 0xFFFFFFFF, 0xFFFFFFFE, 0xFFFFFFFD
SECTOR = 512


@dataclass(frozen=True)
class Formula:
    """A formula with the value that the program kept, or None where it kept none."""

    kept: float | None
    text: str = "SUM(A1:A2)"


@dataclass(frozen=True)
class Error:
    """An error cell, by its code ([MS-XLS] 2.5.10: 7 is #DIV/0!) and its words."""

    code: int = 7
    words: str = "#DIV/0!"


@dataclass(frozen=True)
class Percent:
    """A number that the program shows as a percentage."""

    value: float


Value = str | float | int | bool | dt.datetime | dt.date | dt.timedelta | Formula | Error | Percent | None
Rows = Sequence[Sequence[Value]]
Merges = Sequence[tuple[int, int, int, int]]
"""First and last row, first and last column, from 0."""


def _record(kind: int, body: bytes = b"") -> bytes:
    return struct.pack("<HH", kind, len(body)) + body


def _text(words: str) -> bytes:
    return struct.pack("<HB", len(words), 1) + words.encode("utf-16-le")


def _cell(row: int, column: int, value: Value) -> bytes:
    at = struct.pack("<HHH", row, column, 0)
    if isinstance(value, bool):
        return _record(0x0205, at + bytes([value, 0]))
    if isinstance(value, str):
        return _record(0x0204, at + _text(value))
    if isinstance(value, Error):
        return _record(0x0205, at + bytes([value.code, 1]))
    if isinstance(value, Formula):
        kept = struct.pack("<d", value.kept) if value.kept is not None else b"\x03\0\0\0\0\0\xff\xff"
        return _record(0x0006, at + kept + struct.pack("<HIH", 0, 0, 3) + b"\x1e\x01\x00")
    if value is None:
        return b""
    number, style = _number(value)
    return _record(0x0203, struct.pack("<HHHd", row, column, style, number))


def _number(value: float | Percent | dt.timedelta | dt.date) -> tuple[float, int]:
    """A number and its style: 0 general, 1 a date, 2 a percentage, 3 a duration."""
    day = dt.timedelta(days=1)
    if isinstance(value, Percent):
        return value.value, 2
    if isinstance(value, dt.timedelta):
        return value / day, 3
    if isinstance(value, dt.date):
        moment = value if isinstance(value, dt.datetime) else dt.datetime(value.year, value.month, value.day)
        return (moment - dt.datetime(1899, 12, 30)) / day, 1
    return value, 0


def _sheet(rows: Rows, merges: Merges) -> bytes:
    width = max((len(row) for row in rows), default=0)
    body = _record(0x0809, struct.pack("<HHHHII", 0x0600, 0x0010, 0, 0, 0, 0))
    body += _record(0x0200, struct.pack("<IIHHH", 0, len(rows), 0, width, 0))
    body += b"".join(_cell(i, j, value) for i, row in enumerate(rows) for j, value in enumerate(row))
    if merges:
        body += _record(
            0x00E5, struct.pack("<H", len(merges)) + b"".join(struct.pack("<4H", *m) for m in merges)
        )
    return body + _record(0x000A)


def xls_stream(
    sheets: Mapping[str, Rows], *, hidden: Sequence[str] = (), merges: Mapping[str, Merges] | None = None
) -> bytes:
    """The records of a workbook."""
    # Formats: 14 a date, 9 a percentage, 46 a duration ([h]:mm:ss), by their built-in numbers.
    head = _record(0x0809, struct.pack("<HHHHII", 0x0600, 0x0005, 0, 0, 0, 0))
    head += _record(0x0042, struct.pack("<H", 1200))
    head += b"".join(_record(0x00E0, struct.pack("<HH16x", 0, each)) for each in (0, 14, 9, 46))
    bodies = [_sheet(rows, (merges or {}).get(name, ())) for name, rows in sheets.items()]
    names = [bytes([len(name), 1]) + name.encode("utf-16-le") for name in sheets]
    at = len(head) + sum(4 + 6 + len(name) for name in names) + 4
    for name, words, body in zip(sheets, names, bodies, strict=True):
        head += _record(0x0085, struct.pack("<IBB", at, name in hidden, 0) + words)
        at += len(body)
    return head + _record(0x000A) + b"".join(bodies)


def compound_file(stream: bytes, name: str = "Workbook") -> bytes:
    """A compound file with one stream; padded so that it needs no sectors for short streams."""
    stream = stream.ljust(4096, b"\0")
    count = -(-len(stream) // SECTOR)
    tables = 1
    while tables * 128 < tables + 1 + count:
        tables += 1
    chain = [TABLE] * tables + [END] + [tables + 2 + i for i in range(count - 1)] + [END]
    chain += [FREE] * (tables * 128 - len(chain))
    header = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(16)
    header += struct.pack("<5H6x7I", 0x3E, 3, 0xFFFE, 9, 6, 0, tables, tables, 0, 4096, END, 0)
    header += struct.pack("<2I", END, 0)
    header += b"".join(struct.pack("<I", i if i < tables else FREE) for i in range(109))
    directory = _entry("Root Entry", 5, 1, END, 0) + _entry(name, 2, FREE, tables + 1, len(stream))
    directory = directory.ljust(SECTOR, b"\0")
    return header + struct.pack(f"<{len(chain)}I", *chain) + directory + stream.ljust(count * SECTOR, b"\0")


def _entry(name: str, kind: int, child: int, start: int, size: int) -> bytes:
    words = name.encode("utf-16-le")
    entry = words.ljust(64, b"\0") + struct.pack("<HBB3I", len(words) + 2, kind, 1, FREE, FREE, child)
    return entry + bytes(36) + struct.pack("<IQ", start, size)


def xls(
    sheets: Mapping[str, Rows], *, hidden: Sequence[str] = (), merges: Mapping[str, Merges] | None = None
) -> bytes:
    """An old binary workbook."""
    return compound_file(xls_stream(sheets, hidden=hidden, merges=merges))


ODS_KIND = "application/vnd.oasis.opendocument.spreadsheet"
_SPACES = " ".join(
    f'xmlns:{short}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
    for short, name in (
        ("office", "office"),
        ("table", "table"),
        ("text", "text"),
        ("style", "style"),
    )
)
_SPACES += ' xmlns:calcext="urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0"'


def _ods_cell(value: Value, span: str) -> str:
    of, shown = "", ""
    if isinstance(value, Formula):
        of = f" table:formula={quoteattr('of:=' + value.text)}"
        value = value.kept
    if isinstance(value, Error):
        error = 'office:value-type="string" office:string-value="" calcext:value-type="error"'
        text = f"<text:p>{value.words}</text:p>"
        return f'<table:table-cell{span} table:formula="of:=1/0" {error}>{text}</table:table-cell>'
    if value is None:
        return f"<table:table-cell{of}{span}/>"
    if isinstance(value, bool):
        kind, shown = f'"boolean" office:boolean-value="{str(value).lower()}"', str(value).upper()
    elif isinstance(value, int | float):
        kind, shown = f'"float" office:value="{value!r}"', f"{value:g}"
    elif isinstance(value, Percent):
        kind, shown = f'"percentage" office:value="{value.value!r}"', f"{value.value:.0%}"
    elif isinstance(value, dt.timedelta):
        minutes, seconds = divmod(int(value.total_seconds()), 60)
        hours, minutes = divmod(minutes, 60)
        kind, shown = f'"time" office:time-value="PT{hours:02}H{minutes:02}M{seconds:02}S"', str(value)
    elif isinstance(value, dt.date):
        kind, shown = f'"date" office:date-value="{value.isoformat()}"', value.isoformat()
    else:
        kind, shown = '"string"', str(value)
    text = f"<text:p>{escape(shown)}</text:p>"
    return f"<table:table-cell{of}{span} office:value-type={kind}>{text}</table:table-cell>"


def _ods_row(rows: Rows, i: int, merges: Merges) -> str:
    cells = ""
    for j, value in enumerate(rows[i]):
        span = ""
        for top, bottom, left, right in merges:
            if (i, j) == (top, left):
                span = f' table:number-columns-spanned="{right - left + 1}"'
                span += f' table:number-rows-spanned="{bottom - top + 1}"'
            elif top <= i <= bottom and left <= j <= right:
                span = "covered"
        cells += "<table:covered-table-cell/>" if span == "covered" else _ods_cell(value, span)
    return f"<table:table-row>{cells}</table:table-row>"


def ods_content(
    sheets: Mapping[str, Rows], *, hidden: Sequence[str] = (), merges: Mapping[str, Merges] | None = None
) -> str:
    """The XML of an open workbook's sheets."""
    tables = ""
    for name, rows in sheets.items():
        style = ' table:style-name="off"' if name in hidden else ' table:style-name="on"'
        lines = "".join(_ods_row(rows, i, (merges or {}).get(name, ())) for i in range(len(rows)))
        tables += f"<table:table table:name={quoteattr(name)}{style}>{lines}</table:table>"
    styles = "".join(
        f'<style:style style:name="{name}" style:family="table">'
        f'<style:table-properties table:display="{shown}"/></style:style>'
        for name, shown in (("on", "true"), ("off", "false"))
    )
    return (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {_SPACES} office:version="1.3">'
        f"<office:automatic-styles>{styles}</office:automatic-styles>"
        f"<office:body><office:spreadsheet>{tables}</office:spreadsheet></office:body></office:document-content>"
    )


def ods_of(content: str) -> bytes:
    """The container of an open workbook with this content."""
    stream = io.BytesIO()
    manifest = (
        '<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">'
        f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{ODS_KIND}"/></manifest:manifest>'
    )
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as box:
        box.writestr("mimetype", ODS_KIND, zipfile.ZIP_STORED)
        box.writestr("META-INF/manifest.xml", manifest)
        box.writestr("content.xml", content)
    return stream.getvalue()


def ods(
    sheets: Mapping[str, Rows], *, hidden: Sequence[str] = (), merges: Mapping[str, Merges] | None = None
) -> bytes:
    """An open workbook."""
    return ods_of(ods_content(sheets, hidden=hidden, merges=merges))
