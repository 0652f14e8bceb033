"""ODS workbooks, read here element by element: the merged cells, errors and formulas as they stand.

OpenDocument 1.3, part 3 (OASIS, 2021): table:table (9.1.2), table:table-row (9.1.3), table:table-cell (9.1.4),
the values of cells (19.385 and its neighbours). Cells and rows may be repeated by an attribute, so what they
unfold to is counted before it is held.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass, field

from stillroom.errors import BadInput
from stillroom.readers.workbooks.merged import SheetRow, Span
from stillroom.readers.workbooks.zipped import SHEET_COLUMNS, container, damaged, parse, parser

CELL_LIMIT = 4_000_000
"""Most cells that the sheets of an open workbook may hold."""

CONTENT = "content.xml"

_URN = "urn:oasis:names:tc:opendocument:xmlns:"
_OFFICE, _TABLE, _TEXT, _STYLE = (f"{_URN}{name}:1.0 " for name in ("office", "table", "text", "style"))
_MORE = "urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0 value-type"
_CELLS = (_TABLE + "table-cell", _TABLE + "covered-table-cell")
_DURATION = re.compile(r"PT(\d{1,6})H(\d{1,2})M(\d{1,2})(?:[.,](\d{1,9}))?S")
_ERROR = re.compile(r"#[A-Z/0!?]+|Err:\d+")


@dataclass
class OpenSheet:
    """One sheet: its rows that hold something, by number, and its merged cells."""

    name: str
    style: str
    rows: list[SheetRow] = field(default_factory=list)
    spans: list[Span] = field(default_factory=list)


class _Content:
    """Goes through content.xml and gathers sheets."""

    def __init__(self, name: str) -> None:
        self.sheets: list[OpenSheet] = []
        self.hidden: set[str] = set()
        self._name = name
        self._style = ""
        self._depth = 0
        self._left = CELL_LIMIT
        self._number = 0
        self._again = 1
        self._cells: list[str] = []
        self._blanks = 0
        self._cell: dict[str, str] | None = None
        self._aside = 0
        self._text: list[str] = []
        self.parser = parser(namespaces=True)
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self._characters

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        if tag in _CELLS:
            if self._depth == 1:
                self._cell, self._text = attributes, []
        elif tag == _TEXT + "p" or tag == _TEXT + "line-break":
            if self._text:
                self._text.append("\n")
        elif tag == _TEXT + "s":
            self._text.append(" " * min(_count(attributes, _TEXT + "c"), 100))
        elif tag == _TABLE + "table-row" and self._depth == 1:
            self._cells, self._blanks = [], 0
            self._again = _count(attributes, _TABLE + "number-rows-repeated")
        elif tag == _TABLE + "table":
            self._depth += 1
            if self._depth == 1:
                self.sheets.append(
                    OpenSheet(attributes.get(_TABLE + "name", ""), attributes.get(_TABLE + "style-name", ""))
                )
                self._number = 0
        elif tag == _OFFICE + "annotation":
            self._aside += 1
        elif tag == _STYLE + "style":
            self._style = attributes.get(_STYLE + "name", "")
        elif tag == _STYLE + "table-properties" and attributes.get(_TABLE + "display") == "false":
            self.hidden.add(self._style)

    def _characters(self, words: str) -> None:
        if self._cell is not None and not self._aside and self._depth == 1:
            self._text.append(words)

    def _end(self, tag: str) -> None:
        if tag in _CELLS and self._depth == 1 and self._cell is not None:
            self._take_cell(self._cell)
            self._cell = None
        elif tag == _TABLE + "table-row" and self._depth == 1:
            self._take_row()
        elif tag == _TABLE + "table":
            self._depth -= 1
        elif tag == _OFFICE + "annotation":
            self._aside -= 1

    def _take_cell(self, attributes: dict[str, str]) -> None:
        again = _count(attributes, _TABLE + "number-columns-repeated")
        column = len(self._cells) + self._blanks + 1
        wide, high = (_count(attributes, _TABLE + f"number-{each}-spanned") for each in ("columns", "rows"))
        if wide > 1 or high > 1:
            top = self._number + 1
            self.sheets[-1].spans.append(Span(top, top + high - 1, column, min(column + wide, 500) - 1))
        text = _value(attributes, "".join(self._text))
        if not text:
            self._blanks += again
            return
        wanted = self._blanks + again
        if len(self._cells) + wanted > SHEET_COLUMNS:
            raise self._too_many(self._again, len(self._cells) + wanted)
        self._cells += [""] * self._blanks + [text] * again
        self._blanks = 0

    def _take_row(self) -> None:
        if self._cells:
            self._left -= len(self._cells) * self._again
            if self._left < 0:
                raise self._too_many(self._number + self._again, len(self._cells))
            first = self._number + 1
            self.sheets[-1].rows += [(first + i, list(self._cells)) for i in range(self._again)]
        self._number += self._again

    def _too_many(self, rows: int, columns: int) -> BadInput:
        return BadInput(
            "workbook",
            place=f"{self._name}, sheet {self.sheets[-1].name!r}",
            found=f"a sheet of {rows:,} rows and {columns:,} columns or more",
            expected=f"at most {CELL_LIMIT:,} cells in {SHEET_COLUMNS:,} columns",
        )


def read_open_document(name: str, data: bytes) -> tuple[list[OpenSheet], set[str]]:
    """The sheets of an open workbook, and the styles by which sheets are hidden.

    Parameters
    ----------
    name : the file's name, for messages.
    data : its bytes.

    Raises
    ------
    UnreadableFile : the file is damaged, or protected by a password.
    BadInput : it would fill the memory.
    """
    content = _Content(name)
    with container(name, data) as box:
        parts = {part.filename: part for part in box.infolist()}
        if CONTENT not in parts:
            raise damaged(name, f"no {CONTENT} in it")
        if "META-INF/manifest.xml" in parts and b"encryption-data" in box.read("META-INF/manifest.xml"):
            raise damaged(name, "protected by a password")
        parse(box, parts[CONTENT], content.parser)
    if not content.sheets:
        raise damaged(name, "no sheet in it")
    return content.sheets, content.hidden


def _count(attributes: dict[str, str], key: str) -> int:
    said = attributes.get(key, "1")
    if not said.isdecimal() or not 1 <= len(said) <= 9:
        raise ValueError(f"{key.rpartition(' ')[2]} of {said[:20]!r}")
    return max(int(said), 1)


def _value(attributes: dict[str, str], text: str) -> str:
    """What a cell holds, as text; the kept value of a formula, or the formula where none was kept."""
    kind = attributes.get(_OFFICE + "value-type", "")
    shown = text.strip()
    if attributes.get(_MORE) == "error" or (kind != "string" and _ERROR.fullmatch(shown)):
        return shown or "#VALUE!"
    if kind in {"float", "percentage", "currency"}:
        return _number(attributes.get(_OFFICE + "value", ""))
    if kind == "date":
        return _moment(attributes.get(_OFFICE + "date-value", ""))
    if kind == "time":
        return _duration(attributes.get(_OFFICE + "time-value", ""))
    if kind == "boolean":
        return attributes.get(_OFFICE + "boolean-value", "").upper()
    if kind or text:
        return attributes.get(_OFFICE + "string-value", "") or text
    formula = attributes.get(_TABLE + "formula", "")
    return "=" + formula.partition("=")[2] if formula else ""


def _number(words: str) -> str:
    try:
        value = float(words)
    except ValueError:
        return words
    return number_text(value)


def number_text(value: float) -> str:
    """A number in its shortest exact form, whole ones without a point."""
    return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)


def _moment(words: str) -> str:
    try:
        moment = dt.datetime.fromisoformat(words)
    except ValueError:
        return words
    return moment_text(moment)


def moment_text(moment: dt.datetime) -> str:
    """A date and time in ISO 8601; the date alone at midnight."""
    return moment.date().isoformat() if moment.time() == dt.time() else moment.isoformat(sep=" ")


def _duration(words: str) -> str:
    hit = _DURATION.fullmatch(words)
    if hit is None:
        return words
    hours, minutes, seconds = (int(each) for each in hit.groups()[:3])
    micro = int((hit[4] or "").ljust(6, "0")[:6])
    return duration_text(dt.timedelta(hours=hours, minutes=minutes, seconds=seconds, microseconds=micro))


def duration_text(span: dt.timedelta) -> str:
    """A time of the day (10:04:30) for what is shorter than a day, else an ISO 8601 duration (PT30H01M00S)."""
    sign, span = ("-", -span) if span < dt.timedelta() else ("", span)
    minutes, seconds = divmod(span.days * 86400 + span.seconds, 60)
    hours, minutes = divmod(minutes, 60)
    part = f".{span.microseconds:06}".rstrip("0") if span.microseconds else ""
    if hours < 24 and not sign:
        return f"{hours:02}:{minutes:02}:{seconds:02}{part}"
    return f"{sign}PT{hours:02}H{minutes:02}M{seconds:02}{part}S"
