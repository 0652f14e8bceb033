"""A table of words that goes into a page and into a file."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass

from stillroom import wording
from stillroom.charts import marks
from stillroom.charts.fonts import clean

_TO_FILE = str.maketrans(
    {wording.MINUS: "-", wording.COMMA: None, wording.NARROW: None, wording.NO_BREAK: " "}
)


@dataclass(frozen=True)
class Table:
    """Columns and rows of words; `numeric` names the columns that hold numbers."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numeric: frozenset[int]

    def as_csv(self) -> str:
        """Comma-separated, UTF-8, numbers with a plain minus and no groups."""
        made = io.StringIO()
        writer = csv.writer(made, lineterminator="\n")
        writer.writerow(self.columns)
        for row in self.rows:
            writer.writerow(
                cell.translate(_TO_FILE) if index in self.numeric else clean(cell)
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
