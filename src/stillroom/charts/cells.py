"""A table of words that goes into a page and into a file.

A spreadsheet takes a cell that begins with one of `= + - @` for a formula, and some take what follows a semicolon, a
tab or a line break inside a cell for a cell of its own. Such a text gets an apostrophe before it, at each such place;
so does one that has an apostrophe there itself, which makes it possible to undo: one is taken away.
Source: the advice on CSV injection of the Open Worldwide Application Security Project (from memory); that it can be
undone is our own.
"""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass

from stillroom import wording
from stillroom.charts import marks
from stillroom.charts.fonts import clean

_TO_FILE = str.maketrans(
    {wording.MINUS: "-", wording.COMMA: None, wording.NARROW: None, wording.NO_BREAK: " "}
)

_STARTS = re.compile(r"(^(?=[\t\r\n])|(?:^|[;\t\r\n])(?=\s*[=+\-@'＝＋－＠]))")


def safe_text(text: str) -> str:
    """A text as it stands in a CSV file: no spreadsheet takes it, or a part of it, for a formula."""
    return _STARTS.sub(r"\1'", text)


@dataclass(frozen=True)
class Table:
    """Columns and rows of words; `numeric` names the columns that hold numbers."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numeric: frozenset[int]

    def as_csv(self) -> str:
        """Comma-separated, UTF-8, numbers with a plain minus and no groups, words by `safe_text`."""
        made = io.StringIO()
        writer = csv.writer(made, lineterminator="\n")
        writer.writerow(map(safe_text, self.columns))
        for row in self.rows:
            writer.writerow(
                cell.translate(_TO_FILE) if index in self.numeric else safe_text(clean(cell))
                for index, cell in enumerate(row)
            )
        return made.getvalue()

    def as_html(self, caption: str) -> str:
        """A table element with its caption and column headers."""
        head = "".join(f'<th scope="col">{marks.escaped(each)}</th>' for each in self.columns)
        body = "".join(f"<tr>{''.join(map(self._cell, range(len(row)), row))}</tr>" for row in self.rows)
        return (
            f"<table><caption>{marks.escaped(caption)}</caption><thead><tr>{head}</tr></thead>"
            f"<tbody>{body}</tbody></table>"
        )

    def _cell(self, index: int, words: str) -> str:
        if index == 0:
            return f'<th scope="row" dir="auto">{marks.escaped(words)}</th>'
        kind = ' class="number"' if index in self.numeric else ' dir="auto"'
        return f"<td{kind}>{marks.escaped(words)}</td>"
