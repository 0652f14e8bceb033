"""How a text table is written: its delimiter, by counting cells line by line, and a list's decimal mark."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Sequence

from stillroom.errors import BadInput, Contradiction
from stillroom.readers.grids.splitting import BLANKS, blank_cells

CANDIDATES = ("\t", ";", ",", "|", BLANKS)

LOOKED_AT = 200
"""Lines that are looked at to tell the delimiter."""

_NUMBER = re.compile(
    r"[+\-−–]?(\d+([.,]\d*)?|[.,]\d+)([eE][+\-]?\d+)?([ \u00a0]?(?:[^\W\d_]|°)[^\s;,|]{0,7}|\s?%)?"
    r"|\d{1,5} (?:of|out of|von|aus|sur) \d{1,5}"
)
_BEGINS = frozenset("0123456789+-−–.,")
_COMMA_NUMBER = re.compile(r"[+\-−]?\d*,\d+([eE][+\-]?\d+)?")
_POINT_NUMBER = re.compile(r"[+\-−]?(\d+\.\d*|\.\d+)([eE][+\-]?\d+)?")
_PERHAPS_THOUSANDS = re.compile(r"[+\-−]?[1-9]\d{0,2}(,\d{3})+")


def delimiter_of(lines: Sequence[str]) -> str:
    """The delimiter of a text table, from its first lines that aren't blank or comments."""
    some = lines[:LOOKED_AT]
    text = "".join(some)
    present = [each for each in CANDIDATES if each in text]
    return max(present, key=lambda each: _score(some, each), default=",")


def cells_of(lines: Sequence[str], delimiter: str) -> list[list[str]]:
    """The cells of lines; where quotation marks aren't in pairs, parted without regard to them."""
    if delimiter == BLANKS:
        return [blank_cells(line) for line in lines]
    if '"' not in "".join(lines):
        return [line.rstrip("\r\n").split(delimiter) for line in lines]
    try:
        return [cells for cells in csv.reader(lines, delimiter=delimiter) if cells]
    except csv.Error:
        return [line.split(delimiter) for line in lines]


def _score(lines: Sequence[str], delimiter: str) -> tuple[float, float, int]:
    """How well a delimiter fits.

    First, how many lines of one length hold at least two numbers, and mostly numbers, times the share of
    their cells that are numbers: lines before a table don't count. Where there are none (a list of names),
    the lines of one length, times the share of numbers.
    """
    rows = [[cell.strip() for cell in row] for row in cells_of(lines, delimiter)]
    shapes = [
        (len(row), sum(1 for cell in row if cell[:1] in _BEGINS and _NUMBER.fullmatch(cell)))
        for row in rows
        if len(row) > 1
    ]
    if not shapes:
        return (0.0, 0.0, 0)
    readings = Counter(width for width, numbers in shapes if numbers >= max(2, width / 2))
    width, often = max(readings.items(), key=_most, default=(0, 0))
    cells = often * width
    numbers = sum(n for w, n in shapes if w == width and n >= max(2, w / 2))
    usual, times = max(Counter(width for width, _ in shapes).items(), key=_most)
    share = sum(n for w, n in shapes if w == usual) / (usual * times)
    even = times / len(rows) * (0.1 + share) * (0.5 if delimiter == BLANKS else 1.0)
    return (often * numbers / cells if cells else 0.0, even, usual)


def _most(item: tuple[int, int]) -> tuple[int, int]:
    return item[1], item[0]


def list_decimal(lines: Sequence[str], delimiter: str, name: str) -> str:
    """The decimal mark of a lab's list: the comma where it stands in numbers and no point does.

    Raises
    ------
    BadInput : numbers such as 1,234 leave open whether the comma is a decimal mark.
    Contradiction : both marks occur as decimal marks.
    """
    if delimiter == ",":
        return "."
    cells = [cell.strip() for row in cells_of(lines, delimiter) for cell in row]
    commas = [cell for cell in cells if _COMMA_NUMBER.fullmatch(cell)]
    points = [cell for cell in cells if _POINT_NUMBER.fullmatch(cell)]
    if commas and points:
        raise Contradiction(
            "decimal mark",
            place=name,
            found=f"both {commas[0]!r} and {points[0]!r}",
            expected="one decimal mark in a file, or --as decimal=, (or decimal=.)",
        )
    if commas and all(_PERHAPS_THOUSANDS.fullmatch(cell) for cell in commas):
        either, other = commas[0].replace(",", "."), commas[0].replace(",", "")
        raise BadInput(
            "decimal mark",
            place=name,
            found=f"{commas[0]!r}, which can mean {either} or {other}",
            expected="--as decimal=, where the comma is the decimal mark",
        )
    return "," if commas else "."
