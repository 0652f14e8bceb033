"""The standings of a release as a workbook: a sheet for each measure, and one that says what they are.

No cell is a formula or a link, whatever a lab calls its fans: texts are written as texts, numbers as numbers.
"""

from __future__ import annotations

import io
import re
from collections.abc import Collection, Sequence
from datetime import datetime
from decimal import Decimal

import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from stillroom.lab.ranking_words import margin_words
from stillroom.lab.registering import NOT_REGISTERED
from stillroom.lab.sound.level_words import unit_at
from stillroom.lab.system_words import conditions_line
from stillroom.publish.contents import Contents, Published
from stillroom.publish.data.cells import Cell
from stillroom.publish.data.standing_rows import FIELDS, headers, standing_rows

ABOUT = "About"
RESERVED = ("history", ABOUT.casefold())
LONGEST_NAME = 31
LONGEST_TEXT = 32_767
"""So many characters a cell holds at the most (ECMA-376, as its makers state it)."""

_NOT_IN_NAMES = re.compile(r"[\[\]:*?/\\]")
_NOT_IN_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
"""Characters that XML 1.0 has no place for."""

_TITLES = {"marks": 40, "why": 40, "standing": 18, "fan": 22, "verdict": 22, "key": 26}
"""Widths of columns in characters; the others are as wide as their header."""


def workbook_bytes(contents: Contents) -> bytes:
    """The workbook; the same contents, the same bytes."""
    data = io.BytesIO()
    safe = {
        "in_memory": True,
        "strings_to_formulas": False,
        "strings_to_urls": False,
        "strings_to_numbers": False,
    }
    book = xlsxwriter.Workbook(data, safe)
    book.set_properties(
        {"title": f"Standings of {contents.name}", "created": datetime.fromisoformat(contents.date[:10])}
    )
    names = sheet_names([each.title for each in contents.published])
    sheets = [book.add_worksheet(name) for name in names]
    for sheet, each in zip(sheets, contents.published, strict=True):
        _standings(_Sheet(book, sheet), contents, each)
    _about(_Sheet(book, book.add_worksheet(ABOUT)), contents, names)
    book.close()
    return data.getvalue()


def sheet_names(titles: Sequence[str]) -> list[str]:
    """Names for sheets: of a length and of characters that workbooks take, each once whatever its case."""
    names: list[str] = []
    for title in titles:
        plain = _NOT_IN_NAMES.sub(" ", _NOT_IN_XML.sub(" ", title)).strip(" '") or "Standings"
        taken = {*RESERVED, *(each.casefold() for each in names)}
        names.append(_free(plain, taken))
    return names


def _free(name: str, taken: Collection[str]) -> str:
    whole = name[:LONGEST_NAME].rstrip(" '")
    number = 2
    while whole.casefold() in taken:
        ending = f" {number}"
        whole = name[: LONGEST_NAME - len(ending)].rstrip(" '") + ending
        number += 1
    return whole


class _Sheet:
    """A sheet that is written cell by cell, with its formats."""

    def __init__(self, book: Workbook, sheet: Worksheet) -> None:
        self.book, self.sheet = book, sheet
        self.head = book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 1})
        self.words = book.add_format({"text_wrap": True, "valign": "top"})
        self._numbers: dict[int, Format] = {}

    def header(self, titles: Sequence[str], row: int = 0) -> None:
        """A row of headers."""
        for column, title in enumerate(titles):
            self.sheet.write_string(row, column, _cell_text(title), self.head)

    def put(self, row: int, column: int, cell: Cell, how: Format | None = None) -> None:
        """A cell: a text as a text, a number as a number that shows the digits it has."""
        if isinstance(cell, Decimal):
            self.sheet.write_number(row, column, float(cell), self._format(cell))
        elif isinstance(cell, bool):
            self.sheet.write_boolean(row, column, cell)
        elif isinstance(cell, int | float):
            self.sheet.write_number(row, column, cell)
        elif cell:
            self.sheet.write_string(row, column, _cell_text(cell), how)

    def _format(self, number: Decimal) -> Format:
        exponent = number.as_tuple().exponent
        places = max(0, -exponent) if isinstance(exponent, int) else 0
        if places not in self._numbers:
            shown = "0" + ("." + "0" * places if places else "")
            self._numbers[places] = self.book.add_format({"num_format": shown})
        return self._numbers[places]


def _cell_text(text: str) -> str:
    """A text that a cell can hold."""
    clean = _NOT_IN_XML.sub("\ufffd", text)
    return clean if len(clean) <= LONGEST_TEXT else clean[: LONGEST_TEXT - 1] + "…"


def _standings(sheet: _Sheet, contents: Contents, published: Published) -> None:
    rows = standing_rows(published.ranking, contents.book.fans)
    sheet.header(headers(published.ranking))
    for at, row in enumerate(rows, start=1):
        for column, each in enumerate(FIELDS):
            sheet.put(at, column, row.get(each.name))
    for column, each in enumerate(FIELDS):
        sheet.sheet.set_column(column, column, _TITLES.get(each.name, max(9, len(each.title) + 2)))
    sheet.sheet.freeze_panes(1, 1)
    sheet.sheet.autofilter(0, 0, max(1, len(rows)), len(FIELDS) - 1)


def _about(sheet: _Sheet, contents: Contents, names: Sequence[str]) -> None:
    """What the release is, what each sheet holds, and what each column means."""
    row = 0
    for title, words in _release_lines(contents):
        sheet.put(row, 0, title, sheet.head)
        sheet.put(row, 1, words, sheet.words)
        row += 1
    row += 1
    sheet.header(
        ("sheet", "measure", "definition", "version", "unit", "conditions", "margin", "registered"), row
    )
    for name, each in zip(names, contents.published, strict=True):
        row += 1
        for column, words in enumerate((name, *_measure_cells(each))):
            sheet.put(row, column, words, sheet.words)
    row += 2
    sheet.header(("column", "meaning"), row)
    for told in FIELDS:
        row += 1
        sheet.put(row, 0, told.title, sheet.words)
        sheet.put(row, 1, told.description, sheet.words)
    for column, width in enumerate((26, 60, 50, 9, 9, 50, 12, 30)):
        sheet.sheet.set_column(column, column, width)
    sheet.sheet.freeze_panes(0, 1)


def _release_lines(contents: Contents) -> list[tuple[str, str]]:
    told = {
        "release": contents.name,
        "date": contents.date,
        "laboratory": contents.settings.name,
        "question": contents.question,
        "corrects": contents.corrects,
        "licence": contents.settings.publish.licence,
        "digits": "Numbers are rounded to the place that their 95 % interval allows.",
    }
    return [(title, words) for title, words in told.items() if words]


def _measure_cells(published: Published) -> tuple[str, ...]:
    ranking, registered = published.ranking, published.registered
    conditions = conditions_line(ranking.conditions).removeprefix("Conditions: ")
    margin = margin_words(ranking.margin, ranking.unit)
    words = registered.words if registered else NOT_REGISTERED
    unit = unit_at(ranking.unit, ranking.conditions)
    return (published.title, ranking.definition, ranking.version, unit, conditions, margin, words)
