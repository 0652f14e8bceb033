"""A line of text as cells: by a delimiter with quotation marks, or by runs of blanks."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Iterator

BLANKS = " "
"""The delimiter of tables whose columns are parted by runs of blanks."""

_RUN = re.compile(r"[ \t\u00a0]{2,}|\t")
_TOKEN = re.compile(r"\S+(?:[ \u00a0]+(?:\[[^\]]*\]|\([^)]*\)))?")
_NUMBER = re.compile(r"[+\-−–]?[\d.,]*\d[\d.,]*(?:[eE][+\-]?\d+)?")


def blank_cells(line: str) -> list[str]:
    """The cells of a line whose columns are parted by blanks.

    Two or more blanks always part. A single blank parts numbers ("36.5 12.3"), but no words ("Static
    pressure"): where every part between wide gaps is one word, or several that aren't all numbers, it stays.
    A unit in brackets stays with the word before it. A line without wide gaps is parted at each blank.
    """
    bare = line.strip()
    parts = _RUN.split(bare) if bare else []
    if len(parts) < 2:
        return _TOKEN.findall(bare)
    cells: list[str] = []
    for part in parts:
        words = part.split()
        if len(words) > 1 and all(_NUMBER.fullmatch(word) for word in words):
            cells += words
        else:
            cells.append(part)
    return cells


class Splitter:
    """Parts lines into cells and knows the line of each row, from 1.

    Parameters
    ----------
    lines : the lines with their ends.
    delimiter : one character; a blank for runs of blanks.
    skipped : lines that came before the first of these.

    Raises (while it is iterated)
    ------
    csv.Error : quotation marks aren't in pairs.
    """

    def __init__(self, lines: Iterable[str], delimiter: str, skipped: int = 0) -> None:
        self.line = skipped + 1
        self._skipped = skipped
        self._lines = lines
        self._delimiter = delimiter

    def __iter__(self) -> Iterator[tuple[int, list[str]]]:
        """(line, cells) of each row; a quoted cell may span several lines."""
        if self._delimiter == BLANKS:
            for line in self._lines:
                yield self.line, blank_cells(line)
                self.line += 1
            return
        reader = csv.reader(self._lines, delimiter=self._delimiter, strict=True)
        for cells in reader:
            yield self.line, cells
            self.line = self._skipped + reader.line_num + 1
