"""Numbers as files write them: strict, with one decimal mark, never NaN or infinite."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from stillroom.readers.words.marks import APOSTROPHES, BLANK_MARKS

Array = NDArray[np.float64]

_BLANKS = "  \t\u00a0\u202f\ufeff"
_MINUS = str.maketrans({"−": "-", "–": "-"})
_GROUPS = {"": "", ",": ",", ".": ".", "'": APOSTROPHES, " ": BLANK_MARKS}

_WITH_UNIT = re.compile(
    rf"(?P<number>[+\-−–]?[\d.,{APOSTROPHES}{BLANK_MARKS}]{{0,40}}\d[.,]?(?:[eE][+\-]?\d{{1,4}})?)"
    rf"[{BLANK_MARKS}]*(?P<unit>[^\d.,+\-−\s].{{0,20}})"
)


@lru_cache(maxsize=16)
def _pattern(decimal: str, thousands: str) -> re.Pattern[str]:
    mark = re.escape(decimal)
    whole = r"\d+"
    if groups := _GROUPS[thousands]:
        whole = rf"(?:\d{{1,3}}(?P<group>[{re.escape(groups)}])\d{{3}}(?:(?P=group)\d{{3}})*|\d+)"
    return re.compile(rf"[+-]?({whole}(?:{mark}\d*)?|{mark}\d+)([eE][+-]?\d{{1,4}})?", re.ASCII)


def parse_number(text: str, decimal: str = ".", thousands: str = "") -> float:
    """The number that a cell holds.

    Parameters
    ----------
    text : the raw cell; blanks around it and a typographic minus are admitted.
    decimal : the decimal mark, "." or ",".
    thousands : the mark that may stand between groups of three digits ("" for none, " " for any blank).

    Raises
    ------
    ValueError : the text isn't a finite number in this notation.
    """
    bare = text.strip(_BLANKS).translate(_MINUS)
    if not _pattern(decimal, thousands).fullmatch(bare):
        raise ValueError(text)
    for mark in _GROUPS[thousands]:
        bare = bare.replace(mark, "")
    value = float(bare.replace(",", "."))
    if not math.isfinite(value):
        raise ValueError(text)
    return value


def parse_numbers(cells: Sequence[str], decimal: str = ".", thousands: str = "") -> tuple[Array, int]:
    """The numbers of a column of cells.

    Returns
    -------
    the numbers up to the first cell that is none, and that cell's index (or -1 when all are numbers).
    """
    joined = "".join(cells)
    if joined.isascii() and "_" not in joined and not (decimal == "," and "." in joined):
        plain = [cell.replace(",", ".") for cell in cells] if decimal == "," else cells
        try:
            fast = np.fromiter(map(float, plain), dtype=np.float64, count=len(cells))
        except ValueError:
            pass  # the slow way below reads groups of digits, or names the cell
        else:
            if bool(np.isfinite(fast).all()):
                return fast, -1
    values: list[float] = []
    for index, cell in enumerate(cells):
        try:
            values.append(parse_number(cell, decimal, thousands))
        except ValueError:
            return np.array(values, dtype=np.float64), index
    return np.array(values, dtype=np.float64), -1


def part_unit(cell: str) -> tuple[str, str]:
    """A cell such as "12.3 Pa" as its number's text and its unit's words; no words where it has none."""
    hit = _WITH_UNIT.fullmatch(cell.strip(_BLANKS))
    return (hit["number"], hit["unit"].strip()) if hit else (cell, "")
