"""How a text table is written: its delimiter and its decimal mark, by counting fields line by line."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from stillroom.errors import BadInput, Contradiction

CANDIDATES = ("\t", ";", ",", "|")

_NUMBER = re.compile(r"[+\-−]?(\d+([.,]\d*)?|[.,]\d+)([eE][+\-]?\d+)?")
_COMMA_NUMBER = re.compile(r"[+\-−]?\d*,\d+([eE][+\-]?\d+)?")
_POINT_NUMBER = re.compile(r"[+\-−]?(\d+\.\d*|\.\d+)([eE][+\-]?\d+)?")
_PERHAPS_THOUSANDS = re.compile(r"[+\-−]?[1-9]\d{0,2}(,\d{3})+")


@dataclass(frozen=True)
class Sniffed:
    """The delimiter and the decimal mark of a text table."""

    delimiter: str
    decimal: str


def sniff(lines: Sequence[str], delimiter: str, decimal: str, name: str) -> Sniffed:
    """The way a text is written, from its first lines.

    Parameters
    ----------
    lines : the first lines that aren't blank or comments.
    delimiter, decimal : what was said by hand; empty where it is to be recognised.
    name : the file's name, for messages.

    Raises
    ------
    BadInput : numbers such as 1,234 leave open whether the comma is a decimal mark.
    Contradiction : both marks occur as decimal marks.
    """
    chosen = delimiter or max(CANDIDATES, key=lambda each: _score(lines, each))
    return Sniffed(chosen, decimal or _decimal(lines, chosen, name))


def _fields(lines: Sequence[str], delimiter: str) -> list[list[str]]:
    try:
        return [cells for cells in csv.reader(lines, delimiter=delimiter) if cells]
    except csv.Error:
        return [line.split(delimiter) for line in lines]


def _score(lines: Sequence[str], delimiter: str) -> tuple[float, int]:
    """How well a delimiter fits: lines of one length, times the share of cells that are numbers."""
    rows = _fields(lines, delimiter)
    counts = Counter(len(cells) for cells in rows if len(cells) > 1)
    if not counts:
        return (0.0, 0)
    width, often = max(counts.items(), key=lambda item: (item[1], item[0]))
    cells = [cell.strip() for row in rows if len(row) == width for cell in row]
    numbers = sum(1 for cell in cells if _number_for(delimiter, cell))
    return (often / len(rows) * (0.1 + numbers / len(cells)), width)


def _number_for(delimiter: str, cell: str) -> bool:
    return bool(_NUMBER.fullmatch(cell)) and not (delimiter == "," and "," in cell)


def _decimal(lines: Sequence[str], delimiter: str, name: str) -> str:
    if delimiter == ",":
        return "."
    cells = [cell.strip() for row in _fields(lines, delimiter) for cell in row]
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
